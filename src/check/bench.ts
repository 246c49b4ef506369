/** How many sticks lie begun at once, counted turn by turn through a run, and which sticks no division can part. */
import type { Context } from './context.js';
import type { CheckedPart } from './frames.js';
import { opposite } from './roster.js';

/** The rails cut at one stop at one angle, one after the other. */
export interface Turn {
  readonly stop: number;
  readonly angle: number;
  /** Indices of sticks, in the order of the cuts. */
  readonly sticks: readonly number[];
}

/**
 * Most begun at once. A stick counts at every turn from the first that cuts it to the last; sticks that one turn
 * cuts whole are taken one after the other and count as one.
 */
export function mostBegun(turns: readonly Turn[]): number {
  const [first, last] = [new Map<number, number>(), new Map<number, number>()];
  turns.forEach(({ sticks }, at) => {
    for (const stick of sticks) {
      if (!first.has(stick)) first.set(stick, at);
      last.set(stick, at);
    }
  });
  let most = 0;
  const begun = new Set<number>();
  turns.forEach(({ sticks }, at) => {
    let whole = 0;
    const here = new Set(sticks);
    for (const stick of here) {
      if (first.get(stick) === at && last.get(stick) === at) whole = 1;
      else begun.add(stick);
    }
    most = Math.max(most, begun.size + whole);
    for (const stick of here) if (last.get(stick) === at) begun.delete(stick);
  });
  return most;
}

/** Whether pairs and rings tie all these sticks together, so that no division could part them. */
export function allTied(
  { roster }: Context,
  { moulding }: CheckedPart,
  sticks: ReadonlySet<number>,
): boolean {
  const next = new Map<number, Set<number>>();
  const tie = (a: number, b: number): void => {
    if (a === b || !sticks.has(a) || !sticks.has(b)) return;
    next.set(a, (next.get(a) ?? new Set()).add(b));
    next.set(b, (next.get(b) ?? new Set()).add(a));
  };
  for (const { line, sides, moulding: own, firstRail } of roster.lines) {
    if (own.id !== moulding.id) continue;
    const whole = line.shape.kind === 'regular' || line.match === 'frame';
    for (let copy = 0; copy < line.quantity; copy++) {
      const at = firstRail + copy * sides.length;
      for (let side = 0; side < sides.length; side++) {
        const other = whole ? 0 : opposite(side, sides.length);
        tie(roster.stick[at + side]!, roster.stick[at + other]!);
      }
    }
  }
  const [begin] = sticks;
  if (begin === undefined) return true;
  const met = new Set([begin]);
  const open = [begin];
  for (let at = open.pop(); at !== undefined; at = open.pop()) {
    for (const stick of next.get(at) ?? []) {
      if (met.has(stick)) continue;
      met.add(stick);
      open.push(stick);
    }
  }
  return met.size === sticks.size;
}
