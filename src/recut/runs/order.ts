/**
 * In which order the stops of one run of a recut are set: longest first, or so that few sticks lie begun at once. A stick
 * that lies begun already counts until its last rail is off, whatever comes first.
 */
import { begunMost, type Span } from '../../runs/begun.js';
import { fewestBegun } from '../../runs/stacks.js';
import type { CutItem } from '../../stock/task.js';
import type { SettingOrder } from '../../terms.js';

/** Stops of which every order is looked at. */
const EVERY_SET = 12;
/** States looked at where there are more. */
const EFFORT = 20_000;

export function stopKey({ setting, second }: Pick<CutItem, 'setting' | 'second'>): string {
  return `${setting} ${second ?? ''}`;
}

/** What is cut at one setting and angle. */
interface CutTurn {
  readonly stick: number;
  readonly item: CutItem;
}

type SameCut<T extends CutTurn> = readonly T[];

/** Most sticks begun at once; `begun`: sticks that lie begun before the first turn. */
export function begunInTurns(
  turns: readonly (readonly number[])[],
  begun: (stick: number) => boolean,
): number {
  const spans = new Map<number, Span>();
  turns.forEach((turn, at) => {
    for (const stick of turn) {
      const first = spans.get(stick)?.first ?? (begun(stick) ? 0 : at);
      spans.set(stick, { first, last: at });
    }
  });
  return begunMost(spans.values(), turns.length);
}

/** Stops by number, of each stick those that cut it. */
interface StopsToOrder {
  readonly count: number;
  readonly sticks: readonly { readonly stops: readonly number[]; readonly begun: boolean }[];
}

function bestOfAll({ count, sticks }: StopsToOrder): readonly number[] {
  const masks = sticks.map(({ stops, begun }) => ({
    begun,
    mask: stops.reduce((mask, stop) => mask | (1 << stop), 0),
  }));
  const size = 1 << count;
  const best = new Int32Array(size).fill(0x7fffffff);
  const last = new Int8Array(size).fill(-1);
  best[0] = 0;
  for (let done = 0; done < size; done++) {
    for (let stop = 0; stop < count; stop++) {
      const next = done | (1 << stop);
      if (next === done) continue;
      let lying = 0;
      for (const { mask, begun } of masks)
        lying += Number((begun || (mask & next) !== 0) && (mask & ~done) !== 0);
      const most = Math.max(best[done]!, lying);
      if (most < best[next]!) [best[next], last[next]] = [most, stop];
    }
  }
  const order: number[] = [];
  for (let at = size - 1; at !== 0; at &= ~(1 << last[at]!)) order.push(last[at]!);
  return order.reverse();
}

/** The stop next that leaves fewest begun; of equals the one that finishes most, then the longest. */
function greedy({ count, sticks }: StopsToOrder): readonly number[] {
  const open = new Set(Array.from({ length: count }, (_, stop) => stop));
  const lying = new Set(sticks.filter(({ begun }) => begun));
  const order: number[] = [];
  while (open.size > 0) {
    let next = -1;
    let least = [Number.POSITIVE_INFINITY, 0] as [number, number];
    for (const stop of open) {
      const cut = sticks.filter(({ stops }) => stops.includes(stop));
      const begins = cut.filter((stick) => !lying.has(stick)).length;
      const ends = cut.filter(({ stops }) => stops.every((one) => one === stop || !open.has(one))).length;
      if (begins < least[0] || (begins === least[0] && ends > least[1]))
        [next, least] = [stop, [begins, ends]];
    }
    open.delete(next);
    order.push(next);
    for (const stick of sticks) {
      if (!stick.stops.includes(next)) continue;
      if (stick.stops.some((stop) => open.has(stop))) lying.add(stick);
      else lying.delete(stick);
    }
  }
  return order;
}

/** Turns of one run, longest first, in the order of work. `wanted` as in the batch's saw. */
export function inOrder<T extends CutTurn>(
  turns: readonly SameCut<T>[],
  begun: (stick: number) => boolean,
  wanted: SettingOrder,
): readonly SameCut<T>[] {
  if (wanted === 'longest' || turns.length < 2) return turns;
  const keys = [...new Set(turns.map(([first]) => stopKey(first!.item)))];
  const stopOf = new Map(keys.map((key, stop) => [key, stop]));
  const stops = new Map<number, Set<number>>();
  for (const turn of turns)
    for (const { stick, item } of turn) {
      const own = stops.get(stick) ?? new Set();
      stops.set(stick, own.add(stopOf.get(stopKey(item))!));
    }
  const task: StopsToOrder = {
    count: keys.length,
    sticks: [...stops].map(([stick, own]) => ({ stops: [...own], begun: begun(stick) })),
  };
  const found =
    task.count <= EVERY_SET
      ? [bestOfAll(task)]
      : [
          greedy(task),
          fewestBegun(
            task.sticks.map((stick) => stick.stops),
            EFFORT,
          ).order,
        ];
  const most = (order: readonly SameCut<T>[]): number =>
    begunInTurns(
      order.map((turn) => turn.map(({ stick }) => stick)),
      begun,
    );
  let best: readonly SameCut<T>[] = turns;
  for (const order of found) {
    const all = [...order, ...keys.keys()];
    const place = new Map(all.toReversed().map((stop, back) => [stop, all.length - back]));
    const at = ([first]: SameCut<T>): number => place.get(stopOf.get(stopKey(first!.item))!)!;
    const tried = turns.toSorted((a, b) => at(a) - at(b));
    if (most(tried) < most(best)) best = tried;
  }
  return best;
}
