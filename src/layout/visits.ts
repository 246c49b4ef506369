/**
 * The order in which the units of one setting are cut: stick after stick, and where a unit is split, on to the stick
 * that has its other rails, so that both are cut one after the other and no stick is fetched twice.
 */
import type { Shared } from './shares.js';

interface AtStick {
  readonly whole: number[];
  readonly split: number[];
}

/** Indices of `units` in cutting order; `sticks` is how many there are. */
export function visitOrder(units: readonly Shared[]): readonly number[] {
  const at = new Map<number, AtStick>();
  units.forEach((shares, unit) => {
    for (const stick of new Set(shares.map((share) => share.stick))) {
      const there = at.get(stick) ?? { whole: [], split: [] };
      at.set(stick, there);
      (shares.every((share) => share.stick === stick) ? there.whole : there.split).push(unit);
    }
  });
  const order: number[] = [];
  const cut = new Set<number>();
  const waiting = new Set([...at.keys()].sort((a, b) => a - b));
  const visit = (stick: number): number | undefined => {
    waiting.delete(stick);
    const { whole, split } = at.get(stick)!;
    order.push(...whole);
    let next: number | undefined;
    for (const unit of split) {
      if (cut.has(unit)) continue;
      cut.add(unit);
      order.push(unit);
      next = units[unit]!.find((share) => waiting.has(share.stick))?.stick ?? next;
    }
    return next;
  };
  for (const stick of waiting) {
    for (let next: number | undefined = stick; next !== undefined; ) next = visit(next);
  }
  return order;
}
