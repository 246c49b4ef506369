/** The least wood that some of a moulding's frames need, without laying them out: what planning them alone comes to. */
import { centsFromMoney } from '../documents/money.js';
import { umFromMm } from '../lengths/units.js';
import { planMoulding } from '../plan/moulding.js';
import type { MouldingAlone } from '../plan/part.js';
import { framesIn } from '../plan/solving.js';
import type { Engine } from '../solve/engine.js';
import { allCopies, problemOf } from '../stock/problem.js';
import { purchase } from '../stock/purchase.js';
import { ResolvedBatch } from '../stock/resolved.js';
import type { Batch } from '../terms.js';

/** By the clock of `PlanOptions`. */
export interface WoodClock {
  readonly now: () => number;
  readonly deadline: number;
  readonly seed: number;
}

export interface LeastWood extends MouldingAlone {
  /** Pieces of the rack it cuts, and pieces it buys, by the id of the entry or the offer. */
  readonly taken: ReadonlyMap<string, number>;
  readonly bought: ReadonlyMap<string, number>;
}

/** Most effort, in the engine's units of some two microseconds: small orders are proven long before. */
const WORK_MOST = 400_000;

/** The least effort, with a time that only a process at a standstill takes. */
const QUICK_WORK = 20_000;
const QUICK_MS = 5_000;

function counted(ids: Iterable<string>): ReadonlyMap<string, number> {
  const counts = new Map<string, number>();
  for (const id of ids) counts.set(id, (counts.get(id) ?? 0) + 1);
  return counts;
}

/** As it would be planned; for frames that are short of stock, and where more than wood is made least. */
function asPlanned(batch: Batch, moulding: string, engine: Engine, clock: WoodClock): LeastWood {
  const { plan, buy, totals, copies } = planMoulding(new ResolvedBatch(batch), moulding, engine, clock);
  const { measure, bound } = plan.proof;
  return {
    ordered: ordered(batch, moulding),
    made: framesIn(copies),
    cost: totals.cost,
    bound: measure === 'cost' ? Math.ceil(centsFromMoney(bound)) : 0,
    sticks: plan.sticks.length,
    length: plan.sticks.reduce((sum, { length }) => sum + umFromMm(length), 0),
    taken: counted(plan.sticks.flatMap(({ source, ref }) => (source === 'rack' ? [ref] : []))),
    bought: new Map(buy.map(({ offer, count }) => [offer, count])),
  };
}

function ordered(batch: Batch, moulding: string): number {
  return batch.frames.reduce((sum, line) => sum + (line.moulding === moulding ? line.quantity : 0), 0);
}

/** Null where nothing was found before the time was over. */
export function leastWood(
  batch: Batch,
  moulding: string,
  engine: Engine,
  clock: WoodClock,
): LeastWood | null {
  const resolved = new ResolvedBatch(batch);
  const task = resolved.task(resolved.order(moulding));
  if (task === null || batch.labour.rate !== null || batch.options.mergeStops || batch.options.skipImpossible)
    return asPlanned(batch, moulding, engine, clock);
  const copies = allCopies(batch, task);
  const { problem } = problemOf(task, copies);
  const searched = engine.solve(problem, { ...clock, work: WORK_MOST });
  // The time was over, or the machine busy: a plan and a bound that are found at once are worth it still.
  const quick = { ...clock, deadline: clock.now() + QUICK_MS, work: QUICK_WORK };
  const outcome = searched.kind === 'none' && !searched.proven ? engine.solve(problem, quick) : searched;
  if (outcome.kind === 'none') return outcome.proven ? asPlanned(batch, moulding, engine, clock) : null;
  const uses = task.piles.map(() => 0);
  for (const { stock, count, segments } of outcome.patterns) {
    if (segments.some((segment) => segment.length > 0)) uses[stock]! += count;
  }
  const taken = new Map<string, number>();
  const bought = new Map<string, number>();
  let [sticks, length, cost] = [0, 0, 0];
  for (const [i, { sources, offer }] of task.piles.entries()) {
    let left = uses[i]!;
    sticks += left;
    if (offer !== null && left > 0) {
      const { count, cost: paid } = purchase(offer, left);
      bought.set(offer.id, count);
      cost += paid;
    }
    for (const source of sources) {
      const count = Math.min(left, source.copies ?? left);
      left -= count;
      length += count * source.length;
      if (source.source === 'rack' && count > 0) taken.set(source.ref, count);
    }
  }
  const proof = outcome.proofs[0]!;
  const bound = task.goals[0] === 'cost' ? Math.max(0, Math.min(cost, proof.bound)) : 0;
  const all = framesIn(copies);
  return { ordered: all, made: all, cost, bound, sticks, length, taken, bought };
}
