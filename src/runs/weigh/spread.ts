/**
 * What sticks of one setting cost in a run while the search is on. A stop is set once however many sticks have it, so
 * that nothing draws the few sticks of a setting that a second run sets to the many of the first. On the way a further
 * stick costs a little, too, the less the more there are.
 */
import type { DivisionState } from '../anneal/state.js';

/** What all further sticks cost at most at first, in stops, and the share of it that each leaves. */
const MOST_MORE = 0.6;
const LEFT = 0.7;
/** Sticks from which on it is all but nothing. */
const STICKS = 32;

export class Spread {
  /** By number of sticks. */
  readonly #costs = new Float64Array(STICKS + 1);

  /** `share`: how much of what it is at first a further stick costs; at last nothing. */
  weigh(share: number): void {
    for (let held = 1; held <= STICKS; held++)
      this.#costs[held] = 1 + MOST_MORE * share * (1 - LEFT ** (held - 1));
  }

  /** What so many sticks of one setting cost in a run, in stops. */
  of(held: number): number {
    return this.#costs[Math.min(held, STICKS)]!;
  }

  /** What the settings of these sticks cost in a run beyond the stops set for them; `b` −1: of one stick alone. */
  beyond(state: DivisionState, run: number, a: number, b: number): number {
    const { turns, items } = state;
    let sum = 0;
    for (const stick of b >= 0 ? [a, b] : [a]) {
      let last = -1;
      for (const item of items[stick]!) {
        const stop = state.stopOf(item);
        if (stop === last || (stick === b && items[a]!.some((one) => state.stopOf(one) === stop))) continue;
        last = stop;
        const held = state.sticksAt(run, stop);
        if (held > 0) sum += turns.weight[stop]! * (this.of(held) - 1);
      }
    }
    return sum;
  }
}
