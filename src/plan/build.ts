/** An engine's answer becomes a moulding's part. */

import { moneyFromCents } from '../documents/money.js';
import type { PlannedPurchase, PlanProof, Shortfall } from '../documents/plan/types.js';
import { PairstopError } from '../errors.js';
import { layOut } from '../layout/layout.js';
import { tidy } from '../layout/tidy.js';
import { mmFromUm } from '../lengths/units.js';
import type { Notice } from '../notices.js';
import { type Division, divide } from '../runs/divide.js';
import type { Pattern, Proof } from '../solve/problem.js';
import type { Order } from '../stock/lines.js';
import { demandsOf } from '../stock/problem.js';
import { type Bought, purchase } from '../stock/purchase.js';
import type { Copies, MouldingTask } from '../stock/task.js';
import { gaugesByLength, stopsOf } from '../stops/stops.js';
import type { Batch } from '../terms.js';
import { handlingOf, NO_HANDLING } from './handling.js';
import { plannedStick, plannedStop, stickCuts, totalsOf } from './measure.js';
import { benchNotice, orderNotices, searchEnded, spareNotice } from './notices.js';
import type { MouldingPart } from './part.js';
import { type PricedAnswer, pricedAtLeast, pricedFigures, pricedValue } from './priced.js';
import { runsOf, seconds, stopsSetOf } from './sawing/hours.js';

/** Patterns for these frames, items numbered as in the task, with the engine's proofs goal by goal. */
export interface Answer {
  readonly copies: Copies;
  readonly patterns: readonly Pattern[];
  readonly proofs: readonly Proof[];
  /** The patterns have been tidied already, or need not be. */
  readonly tidied?: true;
  /** Its runs, where they have been searched for; of just these patterns. */
  readonly division?: Division;
  /** Set where time has a price: the proofs are then of the engine's units of money. */
  readonly priced?: PricedAnswer;
}

/** What cannot be made; `proven` when no plan makes more. */
export interface Missing {
  readonly shortfall: Shortfall;
  readonly proven: boolean;
}

export function proofOf(task: MouldingTask, proofs: readonly Proof[]): PlanProof {
  const proof = proofs[task.proofGoal];
  if (proof === undefined) throw new RangeError('the engine proved fewer goals than it was given');
  const cost = task.goals[task.proofGoal] === 'cost';
  const scale = cost ? moneyFromCents : mmFromUm;
  return {
    status: proof.status,
    measure: cost ? 'cost' : 'length',
    value: scale(proof.value),
    bound: scale(Math.max(0, proof.bound)),
  };
}

/** The proof with a bound that is known from elsewhere. */
export function withBound(proof: PlanProof, known: number): PlanProof {
  const bound = Math.min(proof.value, known);
  return { ...proof, bound, status: bound === proof.value ? 'optimal' : 'within' };
}

/** Of the wood alone, where more than wood was made least. */
function woodProof(cost: number, { leastWood }: PricedAnswer): PlanProof {
  const bound = Math.min(cost, leastWood);
  const status = bound === cost ? 'optimal' : bound > 0 ? 'within' : 'unproven';
  return { status, measure: 'cost', value: moneyFromCents(cost), bound: moneyFromCents(bound) };
}

interface Purchases {
  readonly buy: readonly PlannedPurchase[];
  readonly cost: number;
  readonly notices: readonly Notice[];
}

function purchasesOf(batch: Batch, task: MouldingTask, used: ReadonlyMap<string, number>): Purchases {
  const buy: PlannedPurchase[] = [];
  const notices: Notice[] = [];
  let cost = 0;
  for (const offer of task.offers) {
    const count = used.get(offer.id) ?? 0;
    if (count === 0) continue;
    const bought: Bought = purchase(offer, count);
    buy.push({
      moulding: task.moulding.id,
      offer: offer.id,
      count: bought.count,
      cost: moneyFromCents(bought.cost),
    });
    cost += bought.cost;
    const spare =
      bought.count > count ? spareNotice(offer, batch.offers.indexOf(offer), count, bought) : null;
    if (spare !== null) notices.push(spare);
  }
  return { buy, cost, notices };
}

const NOTHING_SET = { value: 0, bound: 0 };

/** The part of a moulding nobody ordered anything in. */
export function emptyPart(batch: Batch, { moulding: { id: moulding }, offers }: Order): MouldingPart {
  const proof: PlanProof = {
    status: 'optimal',
    measure: offers.length > 0 ? 'cost' : 'length',
    value: 0,
    bound: 0,
  };
  const way = { stopSettings: 0, sticks: 0, stockLength: 0, cost: 0, bound: 0 };
  const merging = batch.options.mergeStops
    ? { merging: { unmerged: way, merged: way, leastSettings: 0, choices: 0 } }
    : {};
  return {
    moulding,
    plan: {
      moulding,
      status: 'complete',
      proof,
      sticks: [],
      stops: [],
      runs: [],
      seconds: 0,
      stopsSet: stopsSetOf(NOTHING_SET),
      handling: NO_HANDLING,
      ...merging,
    },
    buy: [],
    totals: {
      sticks: 0,
      stockLength: 0,
      railLength: 0,
      offcutLength: 0,
      cost: 0,
      stopSettings: 0,
      cuts: 0,
      stopsSet: NOTHING_SET,
      time: 0,
      handling: NO_HANDLING,
      unmerged: batch.options.mergeStops ? { stopSettings: 0, cost: 0 } : null,
    },
    shortfall: null,
    shortfallProven: true,
    notices: [],
    copies: [],
    patterns: [],
    merged: null,
  };
}

export function buildPart(
  batch: Batch,
  task: MouldingTask,
  answer: Answer,
  missing: Missing | null,
): MouldingPart {
  const { copies } = answer;
  const patterns = answer.tidied === true ? answer.patterns : tidy(task, answer.patterns);
  const division = answer.division ?? divide(task, copies, patterns, batch.saw, null);
  const layout = layOut(task, copies, division.runs);
  const stops = stopsOf(layout.groups, gaugesByLength(batch.gauges));
  const used = new Map<string, number>();
  for (const { source } of layout.sticks) {
    if (source.source === 'offer') used.set(source.ref, (used.get(source.ref) ?? 0) + 1);
  }
  const { buy, cost, notices } = purchasesOf(batch, task, used);
  const sticks = layout.sticks.map((stick) => plannedStick(batch, task, stick));
  const planned = stops.map((stop) => plannedStop(batch, task, stop));
  const handling = handlingOf(sticks, planned);
  const cuts = layout.sticks.map((stick) => stickCuts(task, stick));
  const { moulding } = task;
  const { runs, time } = runsOf({ moulding, labour: batch.labour, sticks, stops: planned, cuts });
  const full = benchNotice(batch, task, runs);
  const stopsSet = { value: runs.reduce((sum, { settings }) => sum + settings, 0), bound: division.bound };
  const totals = { ...totalsOf(task, layout, stops, cost), stopsSet, time, handling, unmerged: null };
  const proof = answer.priced ? woodProof(cost, answer.priced) : proofOf(task, answer.proofs);
  const value = proof.measure === 'cost' ? moneyFromCents(cost) : mmFromUm(totals.stockLength);
  if (value !== proof.value) {
    const message = `${task.moulding.id}: the engine counts ${proof.value} where the plan's ${proof.measure} is ${value}`;
    throw new PairstopError('PS_INTERNAL', message);
  }
  const rails = sticks.reduce((sum, stick) => sum + stick.rails.length, 0);
  return {
    moulding: task.moulding.id,
    plan: {
      moulding: task.moulding.id,
      status: missing === null ? 'complete' : 'short',
      proof,
      ...(answer.priced && { priced: pricedFigures(batch, task, totals, rails, answer.priced) }),
      sticks,
      stops: planned,
      runs,
      seconds: seconds(time),
      stopsSet: stopsSetOf(stopsSet),
      handling,
    },
    buy,
    totals,
    shortfall: missing?.shortfall ?? null,
    shortfallProven: missing?.proven ?? true,
    notices: [
      ...orderNotices(batch, task, demandsOf(task, copies)),
      ...notices,
      ...(full === null ? [] : [full]),
      ...(missing === null || missing.proven ? [] : [searchEnded(task)]),
    ],
    copies,
    patterns,
    merged: null,
  };
}

/** The part that comes to less by wood and time, stops of all runs counted; the first of equals. */
export function lesser(batch: Batch, a: MouldingPart, b: MouldingPart): MouldingPart {
  return pricedValue(batch, b.totals) < pricedValue(batch, a.totals) ? b : a;
}

/** Of the answer and its others, what comes to least once it is laid out; those that cannot be it are not laid out. */
export function buildLesser(
  batch: Batch,
  task: MouldingTask,
  answer: Answer & { readonly others?: readonly Answer[] },
  missing: Missing | null,
): MouldingPart {
  const { others = [] } = answer;
  if (others.length === 0) return buildPart(batch, task, answer, missing);
  const [first, ...rest] = [answer, ...others]
    .map((one) => ({ one, least: pricedAtLeast(batch, task, one) }))
    .sort((a, b) => a.least - b.least);
  let best = buildPart(batch, task, first!.one, missing);
  for (const { one, least } of rest) {
    if (least >= pricedValue(batch, best.totals)) break;
    best = lesser(batch, best, buildPart(batch, task, one, missing));
  }
  return best;
}
