/**
 * Wood bought plus time at the batch's rate, of a plan and of every plan. The engine's bound knows wood, visits and first
 * mitres; what all plans take alike, and one stop for each setting, are added to it. Stops that several runs set again
 * are beyond it: they count in the value, not in the bound, for other pieces may need none of them.
 */
import { moneyFromCents } from '../documents/money.js';
import type { PricedFigures } from '../documents/plan/types.js';
import { MS_PER_HOUR } from '../stock/charge.js';
import type { MouldingTask } from '../stock/task.js';
import type { Batch, Cents } from '../terms.js';
import type { PartTotals } from './part.js';
import { SWINGS_A_RAIL } from './sawing/hours.js';

/** What the search for least wood and time found beside the plan. */
export interface PricedAnswer {
  /** In the engine's units of money: no patterns come to less. */
  readonly bound: number;
  /** No plan buys wood for less. */
  readonly leastWood: Cents;
}

/** In cents, exact: wood bought and time at the rate. */
export function pricedValue(batch: Batch, { cost, time }: Pick<PartTotals, 'cost' | 'time'>): number {
  return cost + (time * (batch.labour.rate ?? 0)) / MS_PER_HOUR;
}

export function pricedFigures(
  batch: Batch,
  task: MouldingTask,
  totals: Omit<PartTotals, 'unmerged'>,
  rails: number,
  { bound }: PricedAnswer,
): PricedFigures {
  const { labour, gauges } = batch;
  const reversible = task.moulding.reversible;
  const stop = gauges.length > 0 ? Math.min(labour.setStop, labour.setGauge) : labour.setStop;
  const alike =
    rails *
      (labour.label + (reversible ? 1 : 2) * labour.cut + (reversible ? 0 : SWINGS_A_RAIL * labour.swing)) +
    totals.stopSettings * stop;
  const least = bound / (task.charge?.scale ?? 1) + (alike * (labour.rate ?? 0)) / MS_PER_HOUR;
  const value = Math.round(pricedValue(batch, totals));
  // To the cent, rounded down; a hair is given back for the division's rounding.
  const proven = Math.min(value, Math.max(0, Math.floor(least + 1e-6)));
  return {
    status: proven === value ? 'optimal' : proven > 0 ? 'within' : 'unproven',
    value: moneyFromCents(value),
    bound: moneyFromCents(proven),
  };
}
