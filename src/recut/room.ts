/** Where rails stand on a stick that has been begun, and the room that is left behind them. */
import { type OnLane, type RailPlace, spare, standings } from '../stock/spacing.js';
import type { CutItem, Spacing } from '../stock/task.js';
import type { FrameLine, Um } from '../terms.js';

export interface ShopRail {
  readonly id: string;
  /** `frame id/copy`, the order line and the side. */
  readonly frame: string;
  readonly line: FrameLine;
  readonly side: string;
  readonly length: Um;
  readonly kind: number;
  readonly start: Um;
  readonly flipped: boolean;
  /** The stop it is cut at: the longer one where there are two. */
  readonly setting: Um;
  readonly second: Um | null;
  /** Lost now or before: its wood is gone, and it is not to be cut from there any more. */
  readonly dead: boolean;
}

/** Rails of one clear span: those cut, from the left, then those still to be cut. */
export interface CutLane {
  readonly from: Um;
  readonly to: Um;
  readonly gone: readonly ShopRail[];
  readonly open: readonly ShopRail[];
}

/** Places of rails that follow close behind those already standing. */
export function following(
  spacing: Spacing,
  lane: CutLane,
  head: readonly ShopRail[],
  rails: readonly OnLane[],
): readonly RailPlace[] {
  const last = head.at(-1);
  if (last === undefined) return standings(spacing, lane.from, rails);
  const [, ...rest] = standings(spacing, last.start, [last, ...rails]);
  return rest.map((place) => ({ ...place, flipped: place.flipped !== last.flipped }));
}

export function onLane(item: CutItem): readonly OnLane[] {
  return item.settings.map((length) => ({ kind: item.kind, length }));
}

/** End of the last rail, or where the lane begins. */
export function endOf(
  spacing: Spacing,
  lane: CutLane,
  head: readonly ShopRail[],
  rails: readonly OnLane[],
): { readonly at: Um; readonly kind: number } {
  const last = rails.at(-1);
  if (last !== undefined) {
    const place = following(spacing, lane, head, rails).at(-1)!;
    return { at: place.start + last.length, kind: last.kind };
  }
  const stands = head.at(-1);
  return stands === undefined
    ? { at: lane.from, kind: -1 }
    : { at: stands.start + stands.length, kind: stands.kind };
}

/**
 * The engine's capacity of the free length behind `end`. Where a rail stands before it and frames of unlike angle share
 * the moulding, the widest joint is set aside, since the engine does not know which angle comes next. That is too little
 * room by at most the difference of two blades' widths, or by a nested joint.
 */
export function capacityBehind(
  spacing: Spacing,
  lane: CutLane,
  end: { readonly at: Um; readonly kind: number },
): number {
  if (end.kind < 0) return Math.max(0, lane.to - lane.from + spare(spacing));
  if (spacing.mitres.length === 1) return Math.max(0, lane.to - end.at);
  const joint = Math.max(...spacing.mitres.map((mitre) => mitre.blade)) + spacing.recut;
  return Math.max(0, lane.to - end.at - joint + spare(spacing));
}
