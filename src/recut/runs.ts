/**
 * In which run each stick of a recut is cut: that of the plan; but where rails of one frame that belong at one stop lie
 * on sticks of two runs now, both become one. A stick that is new goes where the bench has room for it.
 */
import { begunMost } from '../runs/begun.js';
import { byCuttingOrder } from '../stock/items.js';
import type { CutItem } from '../stock/task.js';
import type { ShopStick } from './state.js';
import type { RailUnit } from './units.js';

/** The run of a stick that may be cut in any. */
export const ANY_RUN = 0;

export interface UnitPlace {
  readonly stick: number;
  readonly lane: number;
  readonly unit: RailUnit;
  readonly item: CutItem;
}

/** Rails of one frame at one stop are cut one after the other: single ones are put together again. */
export function bundled(targets: readonly UnitPlace[]): readonly (readonly UnitPlace[])[] {
  const groups = new Map<string, UnitPlace[]>();
  for (const target of targets) {
    const whole = target.unit.rails.length > 1;
    const { id, frame } = target.unit.rails[0]!;
    const key = whole ? id : `${frame}/`;
    const group = groups.get(key);
    if (group === undefined) groups.set(key, [target]);
    else group.push(target);
  }
  return [...groups.values()];
}

function sameTurn(a: CutItem, b: CutItem): boolean {
  return a.setting === b.setting && a.second === b.second && a.kind === b.kind;
}

/** Targets of one setting and angle, in the order they are cut. */
export function turnsOf(targets: readonly UnitPlace[]): readonly (readonly UnitPlace[])[] {
  const turns: UnitPlace[][] = [];
  for (const target of targets.toSorted((a, b) => byCuttingOrder(a.item, b.item))) {
    const last = turns.at(-1);
    if (last !== undefined && sameTurn(last[0]!.item, target.item)) last.push(target);
    else turns.push([target]);
  }
  return turns;
}

/** Sticks tied together by rails of one frame that belong at one stop: for each stick the least of its group. */
function tiesOf(sticks: readonly ShopStick[], targets: readonly UnitPlace[]): readonly number[] {
  const into = [...sticks.keys()];
  const find = (stick: number): number => {
    let at = stick;
    while (into[at] !== at) at = into[at]!;
    return at;
  };
  const byRun = new Map<number, number>();
  const tie = (one: number, other: number): void => {
    const [a, b] = [find(one), find(other)];
    into[Math.max(a, b)] = Math.min(a, b);
  };
  // What the plan cuts in one run stays together.
  for (const [stick, { run }] of sticks.entries()) {
    if (run === ANY_RUN) continue;
    tie(stick, byRun.get(run) ?? stick);
    byRun.set(run, byRun.get(run) ?? stick);
  }
  for (const turn of turnsOf(targets)) {
    for (const bundle of bundled(turn)) for (const { stick } of bundle) tie(bundle[0]!.stick, stick);
  }
  return into.map((_, stick) => find(stick));
}

/** Most sticks begun at once when a run cuts these; one that lies begun already counts from the first turn. */
function begunWith(
  sticks: readonly ShopStick[],
  targets: readonly UnitPlace[],
  own: ReadonlySet<number>,
): number {
  const turns = turnsOf(targets.filter(({ stick }) => own.has(stick)));
  const spans = new Map<number, { first: number; last: number }>();
  turns.forEach((turn, at) => {
    for (const { stick } of turn) {
      const first = spans.get(stick)?.first ?? (sticks[stick]!.whole ? at : 0);
      spans.set(stick, { first, last: at });
    }
  });
  return begunMost(spans.values(), turns.length);
}

/** By stick. The bench is overfull only where the plan's own runs are, or such as became one. */
export function runOfStick(
  sticks: readonly ShopStick[],
  targets: readonly UnitPlace[],
  bench: number,
): readonly number[] {
  const ties = tiesOf(sticks, targets);
  const found = new Map<number, number>();
  for (const [stick, { run }] of sticks.entries()) {
    if (run !== ANY_RUN) found.set(ties[stick]!, Math.min(run, found.get(ties[stick]!) ?? run));
  }
  const going = new Set(targets.map(({ stick }) => ties[stick]!));
  const members = (group: number): number[] => [...ties.keys()].filter((stick) => ties[stick] === group);
  const runs = new Map<number, Set<number>>();
  for (const [group, run] of found) if (going.has(group)) runs.set(run, new Set(members(group)));
  let last = Math.max(0, ...sticks.map(({ run }) => run));
  for (const group of [...going].filter((one) => !found.has(one))) {
    const own = members(group);
    // What replaces lost rails is cut as soon as may be.
    let run = [...runs.keys()]
      .sort((a, b) => a - b)
      .find((one) => begunWith(sticks, targets, new Set([...runs.get(one)!, ...own])) <= bench);
    if (run === undefined) {
      last += 1;
      run = last;
    }
    found.set(group, run);
    runs.set(run, new Set([...(runs.get(run) ?? []), ...own]));
  }
  return ties.map((group) => found.get(group) ?? 1);
}
