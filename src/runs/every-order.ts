/** The best of all orders in which the stops of a run can be set, where there are few. */

/** Stops by number; of each stick those that cut it. */
export interface StopsOfRun {
  readonly count: number;
  readonly sticks: readonly (readonly number[])[];
  /** Indices of sticks that lie begun before the first stop: they count until their last rail is off. */
  readonly begun?: ReadonlySet<number>;
  /** Of these sticks each stop has to come after the one before it. */
  readonly tight?: readonly (readonly number[])[];
}

/**
 * An order of all stops with fewest sticks begun at once, by a table over the sets of stops already cut (2^count entries,
 * so up to some 14 stops). A stick counts from its first stop to its last, one that a single stop cuts at that stop.
 */
export function bestOfEveryOrder({ count, sticks, begun, tight = [] }: StopsOfRun): readonly number[] {
  const masks = sticks.map((own, stick) => ({
    stops: own.reduce((mask, stop) => mask | (1 << stop), 0),
    lies: begun?.has(stick) === true,
  }));
  const before = new Int32Array(count);
  for (const own of tight)
    for (const [i, stop] of own.entries()) if (i > 0) before[stop]! |= 1 << own[i - 1]!;
  const size = 1 << count;
  const best = new Int32Array(size).fill(0x7fffffff);
  const last = new Int8Array(size).fill(-1);
  best[0] = 0;
  for (let done = 0; done < size; done++) {
    if (best[done] === 0x7fffffff) continue;
    for (let stop = 0; stop < count; stop++) {
      const next = done | (1 << stop);
      if (next === done || (before[stop]! & ~done) !== 0) continue;
      let lying = 0;
      for (const { stops, lies } of masks)
        lying += Number((lies || (stops & next) !== 0) && (stops & ~done) !== 0);
      const most = Math.max(best[done]!, lying);
      if (most < best[next]!) [best[next], last[next]] = [most, stop];
    }
  }
  const order: number[] = [];
  for (let at = size - 1; at !== 0; at &= ~(1 << last[at]!)) order.push(last[at]!);
  return order.reverse();
}
