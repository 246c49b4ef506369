/**
 * Wood bought plus time at the batch's rate, of a plan and of every plan. The engine's bound knows wood, visits and first
 * mitres; what all plans take alike, and one stop for each setting, are added to it. Stops that several runs set again
 * are beyond it: they count in the value, not in the bound, for other pieces may need none of them.
 */
import { moneyFromCents } from '../documents/money.js';
import type { PricedFigures } from '../documents/plan/types.js';
import { groupsOf } from '../layout/groups.js';
import type { Division } from '../runs/divide.js';
import type { Pattern } from '../solve/problem.js';
import { MS_PER_HOUR } from '../stock/charge.js';
import { purchase } from '../stock/purchase.js';
import type { MouldingTask } from '../stock/task.js';
import type { Batch, Cents, Ms } from '../terms.js';
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

/** What every plan of these rails takes alike. */
function timeAlike({ labour }: Batch, { moulding: { reversible } }: MouldingTask, rails: number): Ms {
  const { label, cut, swing } = labour;
  return rails * (label + (reversible ? 1 : 2) * cut + (reversible ? 0 : SWINGS_A_RAIL * swing));
}

/** The quicker way to set a stop. */
function quickestStop({ gauges, labour }: Batch): Ms {
  return gauges.length > 0 ? Math.min(labour.setStop, labour.setGauge) : labour.setStop;
}

/** In cents: what an answer comes to at least once it is laid out, by its patterns and runs alone. */
export function pricedAtLeast(
  batch: Batch,
  task: MouldingTask,
  { patterns, division }: { readonly patterns: readonly Pattern[]; readonly division?: Division | undefined },
): number {
  const { labour } = batch;
  const groupOf = task.items.map(() => 0);
  groupsOf(task.items).forEach((group, at) => {
    for (const item of group) groupOf[item] = at;
  });
  const money = task.goals.indexOf('cost');
  const used = new Map<number, number>();
  let [visits, rails] = [0, 0];
  for (const { stock, count, segments } of patterns) {
    const entries = segments.flat();
    used.set(stock, (used.get(stock) ?? 0) + count);
    visits += count * new Set(entries.map(({ item }) => groupOf[item])).size;
    rails +=
      count * entries.reduce((sum, entry) => sum + entry.count * task.items[entry.item]!.settings.length, 0);
  }
  const stopsIn = (run: readonly Pattern[]): number => {
    const set = new Map<string, number>();
    for (const { item } of run.flatMap(({ segments }) => segments.flat())) {
      const { setting, second } = task.items[item]!;
      set.set(`${setting}/${second}`, second === null ? 1 : 2);
    }
    return [...set.values()].reduce((sum, stops) => sum + stops, 0);
  };
  let [cost, sticks] = [0, 0];
  for (const [stock, count] of used) {
    const { offer, costs } = task.piles[stock]!;
    sticks += count;
    if (money >= 0) cost += offer === null ? count * costs[money]! : purchase(offer, count).cost;
  }
  const runs = division?.runs.map((run) => run.patterns) ?? [patterns];
  const stops = runs.reduce((sum, run) => sum + stopsIn(run), 0);
  const time =
    timeAlike(batch, task, rails) +
    sticks * labour.firstMitre +
    visits * labour.takeStick +
    stops * quickestStop(batch);
  return cost + (time * (labour.rate ?? 0)) / MS_PER_HOUR;
}

export function pricedFigures(
  batch: Batch,
  task: MouldingTask,
  totals: Omit<PartTotals, 'unmerged'>,
  rails: number,
  { bound }: PricedAnswer,
): PricedFigures {
  const alike = timeAlike(batch, task, rails) + totals.stopSettings * quickestStop(batch);
  const least = bound / (task.charge?.scale ?? 1) + (alike * (batch.labour.rate ?? 0)) / MS_PER_HOUR;
  const value = Math.round(pricedValue(batch, totals));
  // To the cent, rounded down; a hair is given back for the division's rounding.
  const proven = Math.min(value, Math.max(0, Math.floor(least + 1e-6)));
  return {
    status: proven === value ? 'optimal' : proven > 0 ? 'within' : 'unproven',
    value: moneyFromCents(value),
    bound: moneyFromCents(proven),
  };
}
