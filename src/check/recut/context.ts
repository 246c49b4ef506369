/** What the parts of a recut's check need at hand. */
import type { PlacedRail } from '../../documents/plan/types.js';
import type { Recut, RecutMoulding, RecutStick } from '../../documents/recut/types.js';
import { umFromMm } from '../../lengths/units.js';
import type { Moulding } from '../../terms.js';
import type { CheckBase } from '../context.js';

export interface OnRecut extends CheckBase {
  readonly recut: Recut;
}

/** What the sticks of one moulding were found to hold. */
export interface CheckedRecutPart {
  readonly path: string;
  readonly part: RecutMoulding;
  readonly moulding: Moulding;
  /** Saw cuts still to be made, for each stick. */
  readonly cuts: readonly number[];
  /** Cents spent on it now. */
  readonly cost: number;
}

/** Something of it has been cut. */
export function isBegun({ cut, lost }: RecutStick): boolean {
  return cut.length + lost.length > 0;
}

/** Flaws of a stick, those of the batch and those found, in micrometres: sorted, and where they meet as one. */
export function together(
  known: readonly (readonly [number, number])[],
  found: readonly (readonly [number, number])[],
): readonly (readonly [number, number])[] {
  const all = [...known, ...found.map(([from, to]) => [umFromMm(from), umFromMm(to)] as const)];
  const merged: [number, number][] = [];
  for (const [from, to] of all.sort((a, b) => a[0] - b[0])) {
    const last = merged.at(-1);
    if (last !== undefined && from <= last[1]) last[1] = Math.max(last[1], to);
    else merged.push([from, to]);
  }
  return merged;
}

/** Every rail still to be cut, with the stick it is on. */
export function railsToCut({ mouldings }: Recut) {
  return mouldings.flatMap(({ sticks }) =>
    sticks.flatMap((stick) => stick.rails.map((rail) => ({ stick, rail }))),
  );
}

export function lostWood({ mouldings }: Recut): readonly PlacedRail[] {
  return mouldings.flatMap(({ sticks }) => sticks.flatMap(({ lost }) => lost));
}
