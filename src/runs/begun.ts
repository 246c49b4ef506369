/**
 * How many sticks lie begun at once. A stick counts at every turn from its first to its last; sticks that one turn cuts
 * whole are taken one after the other and count as one.
 */

/** First and last place of a stick's turns in the order of work. */
export interface Span {
  readonly first: number;
  readonly last: number;
}

/** Most spans at one place, of `places`; O(places + spans). */
export function begunMost(spans: Iterable<Span>, places: number): number {
  const change = new Int32Array(places + 1);
  const whole = new Uint8Array(places);
  for (const { first, last } of spans) {
    if (first === last) whole[first] = 1;
    else {
      change[first]! += 1;
      change[last + 1]! -= 1;
    }
  }
  let [open, most] = [0, 0];
  for (let place = 0; place < places; place++) {
    open += change[place]!;
    most = Math.max(most, open + whole[place]!);
  }
  return most;
}

/** Longest setting first: turns are cut in the order of their numbers. */
export function spanOf({ turns }: { readonly turns: readonly number[] }): Span {
  return { first: turns[0]!, last: turns.at(-1)! };
}
