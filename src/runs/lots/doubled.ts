/**
 * A plan's sticks two by two: two sticks of one sort that are cut alike hold whole pairs, whatever lies on them. So half of
 * all rails is packed into half of the sticks, and each way to cut one counts twice; an odd stick of a sort is packed with
 * whole pairs, half of it with half of them. No pair ties such sticks together, so runs of them are never too full.
 */
import type { Pattern } from '../../solve/problem.js';
import type { Turns } from '../sawing.js';
import { type Lot, type LotTask, type PieceSort, piecesIn, spareIn } from './lot.js';
import { type LotPacking, packLot } from './pack.js';
import type { PlanLots } from './plan-lots.js';

export interface DoubledStick {
  /** Of a sort, with half of the rails that both sticks, or the one, hold. */
  readonly pattern: Pattern;
  readonly sticks: 1 | 2;
}

/** What a run must hold together, counted in halves. */
export function halvedTurns(turns: Turns): Turns {
  return { ...turns, together: turns.together.map((bundle) => (bundle % 2 === 0 ? bundle / 2 : bundle)) };
}

/** Shares of the sticks cut alike already that stay so: those that waste least, which leaves the others more to waste. */
const KEPT = [0, 0.5, 0.8, 1] as const;

/** Sticks, one a pattern, of which two are cut alike, and the others. */
function alikeIn(sticks: readonly Pattern[]): {
  readonly twice: readonly Pattern[];
  readonly others: readonly Pattern[];
} {
  const open = new Map<string, Pattern>();
  const twice: Pattern[] = [];
  for (const pattern of sticks) {
    const key = `${pattern.stock} ${JSON.stringify(pattern.segments)}`;
    if (open.delete(key)) twice.push(pattern);
    else open.set(key, pattern);
  }
  return { twice, others: [...open.values()] };
}

/** All of a lot. Null where it was not packed so, or some rails are of an odd number. */
export function packHalf(task: LotTask, lot: Lot, packing: LotPacking): readonly DoubledStick[] | null {
  if (lot.rails.some((count) => count % 2 === 1)) return null;
  // Every sort, and half a stick of it.
  const halves = task.sorts.map(
    (sort): PieceSort => ({ ...sort, segments: sort.segments.map((length) => length / 2) }),
  );
  const sorts = [...task.sorts, ...halves];
  const pieces = Int32Array.from(sorts, (_, sort) =>
    sort < task.sorts.length ? lot.pieces[sort]! >> 1 : lot.pieces[sort - task.sorts.length]! % 2,
  );
  const rails = lot.rails.map((count) => count / 2);
  const found = packLot({ ...task, sorts }, { rails, pieces }, packing);
  if (found === null) return null;
  return found.flatMap(({ count, stock, segments }) => {
    const whole = stock < task.sorts.length;
    const pattern = { stock: whole ? stock : stock - task.sorts.length, count: 1, segments };
    return Array.from({ length: count }, (): DoubledStick => ({ pattern, sticks: whole ? 2 : 1 }));
  });
}

/** All of a plan, whose `sticks` are one a pattern. Null where they were not packed so. */
export function packDoubled(
  plan: Pick<PlanLots, 'task' | 'sticks' | 'lotOf'>,
  packing: LotPacking,
): readonly DoubledStick[] | null {
  const { twice, others } = alikeIn(plan.sticks);
  const spare = (pattern: Pattern): number => spareIn(plan.task, plan.lotOf([pattern]));
  const byWaste = twice
    .map((pattern) => ({ pattern, waste: spare(pattern) }))
    .sort((a, b) => a.waste - b.waste);
  for (const [k, share] of KEPT.entries()) {
    const kept = Math.floor(share * byWaste.length);
    if (k > 0 && kept === 0) break;
    const again = byWaste.slice(kept).flatMap(({ pattern }) => [pattern, pattern]);
    const rest = plan.lotOf([...others, ...again]);
    const found = piecesIn(rest) === 0 ? [] : packHalf(plan.task, rest, packing);
    if (found !== null)
      return [
        ...byWaste.slice(0, kept).map(({ pattern }): DoubledStick => ({ pattern, sticks: 2 })),
        ...found,
      ];
    if (packing.stopped()) return null;
  }
  return null;
}

/** The sticks as they are cut. */
export function asCut({ pattern, sticks }: DoubledStick): Pattern {
  const times = 3 - sticks;
  const segments = pattern.segments.map((entries) =>
    entries.map(({ item, count }) => ({ item, count: times * count })),
  );
  return { ...pattern, count: sticks, segments };
}
