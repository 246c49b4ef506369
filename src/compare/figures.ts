/** The figures of one plan: what becomes of its sticks, and of the money paid for them. */

import type { ScenarioFigures } from '../documents/comparison/types.js';
import { moneyFromCents } from '../documents/money.js';
import type { HandlingFigures, PlannedStick } from '../documents/plan/types.js';
import { toNumber } from '../lengths/exact.js';
import { mmFromUm } from '../lengths/units.js';
import type { totalsOf } from '../plan/measure.js';
import { mitreTan } from '../rails/mitre.js';
import { purchase } from '../stock/purchase.js';
import { nested } from '../stock/spacing.js';
import type { MouldingTask } from '../stock/task.js';
import type { Cents, Offer } from '../terms.js';

const YIELD_DECIMALS = 4;

/** Lowest price of a micrometre, in cents, at the price of a single piece. Free offers do not count. */
export function lowestRate(offers: readonly Offer[]): number {
  const rates = offers.filter(({ price }) => price > 0).map(({ price, length }) => price / length);
  return rates.length === 0 ? 0 : Math.min(...rates);
}

/** Millimetres of a bought stick's rails: nested ones along their middle line, as in the plan's totals. */
function railsOf(task: MouldingTask, { rails }: PlannedStick): number {
  const face = toNumber(task.moulding.face) / 1000;
  const kinds = rails.map(({ angle }) => task.spacing.mitres.findIndex((mitre) => mitre.angle === angle));
  const sum = rails.reduce((total, { length }) => total + length, 0);
  return nested(task.spacing, kinds).reduce(
    (total, kind) => total - face * mitreTan(task.spacing.mitres[kind]!.sides),
    sum,
  );
}

function keptOf({ left }: PlannedStick): number {
  return left.reduce((sum, { from, to, use }) => sum + (use === 'offcut' ? to - from : 0), 0);
}

/** Rounded shares of `cost` that add up to it; the last share takes the rounding error. */
function shared(cost: Cents, rail: number, offcut: number): ScenarioFigures['split'] {
  const [a, b] = [Math.round(rail), Math.round(offcut)];
  const kept = Math.min(b, cost - Math.min(a, cost));
  return {
    rail: moneyFromCents(Math.min(a, cost)),
    waste: moneyFromCents(cost - Math.min(a, cost) - kept),
    offcut: moneyFromCents(kept),
  };
}

function splitOf(task: MouldingTask, sticks: readonly PlannedStick[]): ScenarioFigures['split'] {
  let [cost, rail, offcut] = [0, 0, 0];
  for (const offer of task.offers) {
    const cut = sticks.filter((stick) => stick.source === 'offer' && stick.ref === offer.id);
    if (cut.length === 0) continue;
    const bought = purchase(offer, cut.length);
    const each = bought.cost / bought.count;
    cost += bought.cost;
    offcut += (bought.count - cut.length) * each;
    for (const stick of cut) {
      rail += (each * railsOf(task, stick)) / stick.length;
      offcut += (each * keptOf(stick)) / stick.length;
    }
  }
  return shared(cost, rail, offcut);
}

/** `rate`: what a micrometre of an offcut is worth, in cents. */
export function figuresOf(
  task: MouldingTask,
  planned: readonly PlannedStick[],
  totals: ReturnType<typeof totalsOf>,
  handling: HandlingFigures,
  rate: number,
): ScenarioFigures {
  const { sticks, stockLength, railLength, offcutLength, stopSettings } = totals;
  return {
    sticks,
    stockLength: mmFromUm(stockLength),
    railLength: mmFromUm(railLength),
    wasteLength: mmFromUm(stockLength - railLength - offcutLength),
    yield: stockLength === 0 ? 0 : Number((railLength / stockLength).toFixed(YIELD_DECIMALS)),
    offcuts: {
      count: handling.offcuts,
      length: mmFromUm(offcutLength),
      worth: moneyFromCents(Math.round(offcutLength * rate)),
    },
    stopSettings,
    split: splitOf(task, planned),
  };
}
