/**
 * Where rails stand along a lane, and the same rule as weights for the engine. The two must agree to the micrometre:
 * a lane that the engine fills to its capacity ends exactly at the lane's end.
 *
 * Profiled stock, and reversible stock where the angle changes: long points one k' (the larger) plus the recut apart.
 * Reversible stock within one angle: the next rail is flipped and starts F·tan θ before the last one's end, plus k'.
 * A weight holds the joint before its rail, so the first rail's is given back through `start` and `spare`.
 */
import type { Kinds } from '../solve/problem.js';
import type { Um } from '../terms.js';
import type { CutItem, MouldingTask, Spacing } from './task.js';

export interface RailPlace {
  readonly start: Um;
  readonly flipped: boolean;
}

function mitreOf(spacing: Spacing, kind: number) {
  const mitre = spacing.mitres[kind];
  if (mitre === undefined) throw new RangeError(`no mitre of kind ${kind}`);
  return mitre;
}

/** Distance between the long points of neighbours that do not nest. */
function gap(spacing: Spacing, left: number, right: number): Um {
  return Math.max(mitreOf(spacing, left).blade, mitreOf(spacing, right).blade) + spacing.recut;
}

/** Length on the stick of one rail within a row of its like, its joint included. */
export function railWeight(spacing: Spacing, kind: number, length: Um): number {
  const mitre = mitreOf(spacing, kind);
  return spacing.reversible ? length - mitre.nest + mitre.blade : length + mitre.blade + spacing.recut;
}

/** The part of its weight that the first rail of a lane does not use; negative: what it uses beyond it. */
function unused(spacing: Spacing, kind: number): number {
  const mitre = mitreOf(spacing, kind);
  return spacing.reversible ? mitre.blade - mitre.nest : mitre.blade + spacing.recut;
}

/** What is added to a lane's length to get the engine's capacity. */
export function spare(spacing: Spacing): number {
  return Math.max(...spacing.mitres.map((_, kind) => unused(spacing, kind)));
}

/** null where all rails share one angle. */
export function kindsOf(spacing: Spacing): Kinds | null {
  if (spacing.mitres.length <= 1) return null;
  const most = spare(spacing);
  return {
    start: spacing.mitres.map((_, kind) => most - unused(spacing, kind)),
    joint: spacing.mitres.map((_, left) =>
      spacing.mitres.map((_, right) => {
        if (left === right) return 0;
        return gap(spacing, left, right) - unused(spacing, right);
      }),
    ),
  };
}

/** Clear length that rails standing alone in this order need. */
export function runLength(spacing: Spacing, kind: number, lengths: readonly Um[]): Um {
  return lengths.reduce((sum, length) => sum + railWeight(spacing, kind, length), -unused(spacing, kind));
}

/** Part of a clear run: so many of an item one after the other. */
export interface ItemRow {
  readonly item: CutItem;
  readonly count: number;
}

/** A stick that would hold all of these, in this order, in one clear run between the trims. */
export function oneStickLength(
  { spacing, moulding }: Pick<MouldingTask, 'spacing' | 'moulding'>,
  rows: readonly ItemRow[],
): Um {
  const kinds = kindsOf(spacing);
  let [length, last] = [2 * moulding.endTrim, -1];
  for (const { item, count } of rows) {
    if (count === 0) continue;
    const { kind, weight, settings } = item;
    length += last < 0 ? runLength(spacing, kind, settings) : weight + (kinds?.joint[last]?.[kind] ?? 0);
    length += (count - 1) * weight;
    last = kind;
  }
  return length;
}

export interface OnLane {
  readonly kind: number;
  readonly length: Um;
}

/** Where each rail of a lane starts, from the stick's left end. */
export function standings(spacing: Spacing, from: Um, rails: readonly OnLane[]): readonly RailPlace[] {
  const out: RailPlace[] = [];
  // Where the last rail ends, its kind, and which way up it lies.
  let [end, last, flipped] = [from, -1, false];
  for (const { kind, length } of rails) {
    let start: Um;
    if (last < 0) start = from;
    else if (spacing.reversible && last === kind) {
      const { nest, blade } = mitreOf(spacing, kind);
      start = end - nest + blade;
      flipped = !flipped;
    } else start = end + gap(spacing, last, kind);
    out.push({ start, flipped });
    [end, last] = [start + length, kind];
  }
  return out;
}

/** Saw cuts for a lane's rails: on profiled stock two a rail; on reversible stock one a rail and one more for each nested row. */
export function cutsOf(spacing: Spacing, kinds: readonly number[]): number {
  if (!spacing.reversible) return 2 * kinds.length;
  const rows = kinds.filter((kind, i) => i === 0 || kind !== kinds[i - 1]).length;
  return kinds.length + rows;
}

/** The rails of a lane that share a cut with a neighbour. */
export function nested(spacing: Spacing, kinds: readonly number[]): readonly number[] {
  if (!spacing.reversible) return [];
  return kinds.filter((kind, i) => kind === kinds[i - 1] || kind === kinds[i + 1]);
}
