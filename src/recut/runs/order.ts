/**
 * In which order the stops of one run of a recut are set: longest first, or so that few sticks lie begun at once. A stick
 * that lies begun already counts until its last rail is off, whatever comes first.
 */
import { begunMost, type Span } from '../../runs/begun.js';
import { bestOfEveryOrder, type StopsOfRun } from '../../runs/every-order.js';
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

/** The stop next that leaves fewest begun; of equals the one that finishes most, then the longest. */
function greedy({ count, sticks, begun }: Required<Omit<StopsOfRun, 'tight'>>): readonly number[] {
  const open = new Set(Array.from({ length: count }, (_, stop) => stop));
  const lying = new Set(begun);
  const order: number[] = [];
  while (open.size > 0) {
    let next = -1;
    let least = [Number.POSITIVE_INFINITY, 0] as [number, number];
    for (const stop of open) {
      const cut = [...sticks.keys()].filter((stick) => sticks[stick]!.includes(stop));
      const begins = cut.filter((stick) => !lying.has(stick)).length;
      const ends = cut.filter((stick) =>
        sticks[stick]!.every((one) => one === stop || !open.has(one)),
      ).length;
      if (begins < least[0] || (begins === least[0] && ends > least[1]))
        [next, least] = [stop, [begins, ends]];
    }
    open.delete(next);
    order.push(next);
    for (const [stick, stops] of sticks.entries()) {
      if (!stops.includes(next)) continue;
      if (stops.some((stop) => open.has(stop))) lying.add(stick);
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
  const cut = [...stops];
  const task = {
    count: keys.length,
    sticks: cut.map(([, own]) => [...own]),
    begun: new Set([...cut.keys()].filter((at) => begun(cut[at]![0]))),
  };
  const found =
    task.count <= EVERY_SET
      ? [bestOfEveryOrder(task)]
      : [greedy(task), fewestBegun(task.sticks, EFFORT).order];
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
