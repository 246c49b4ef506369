/**
 * In which run each stick of a recut is cut: that of the plan; but where rails of one frame that belong at one stop lie
 * on sticks of two runs now, both become one, if the bench holds it. A stick that is new goes where there is room for it.
 * Where a run would be overfull, sticks that are not begun go to a later one.
 */

import { groupedBy } from '../../stock/grouped.js';
import { byCuttingOrder } from '../../stock/items.js';
import type { CutItem } from '../../stock/task.js';
import type { SettingOrder } from '../../terms.js';
import type { ShopRail } from '../room.js';
import type { ShopStick } from '../state.js';
import type { RailUnit, SortedUnits } from '../units.js';
import { begunInTurns, inOrder, stopKey } from './order.js';

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

/** What ends pairs and rings that were begun, on one lane of a stick. */
export interface Ending {
  readonly stick: number;
  readonly rails: readonly ShopRail[];
}

/** In the order they are cut: before all else, longest first. */
export function endingsOf(pinned: SortedUnits['pinned']): readonly Ending[] {
  const rank = ({ second }: ShopRail): number => -(second ?? 0);
  return pinned
    .flatMap((lanes, stick) => lanes.map((rails): Ending => ({ stick, rails })))
    .filter(({ rails }) => rails.length > 0)
    .sort(
      ({ rails: [a] }, { rails: [b] }) => b!.setting - a!.setting || rank(a!) - rank(b!) || a!.kind - b!.kind,
    );
}

/** What a recut leaves to be cut. */
export interface LeftToCut {
  readonly sticks: readonly ShopStick[];
  readonly targets: readonly UnitPlace[];
  readonly endings: readonly Ending[];
  /** Most sticks that may lie begun at once. */
  readonly bench: number;
  readonly order: SettingOrder;
}

/** By stick: it lies begun once what was begun has been ended. */
export function begunSticks({ sticks, endings }: LeftToCut): readonly boolean[] {
  const ends = new Set(endings.map(({ stick }) => stick));
  return sticks.map(({ whole }, stick) => !whole || ends.has(stick));
}

class Groups {
  readonly #into: number[];

  constructor(size: number) {
    this.#into = Array.from({ length: size }, (_, one) => one);
  }

  /** The least of its group. */
  of(one: number): number {
    let at = one;
    while (this.#into[at] !== at) at = this.#into[at]!;
    return at;
  }

  tie(one: number, other: number): void {
    const [a, b] = [this.of(one), this.of(other)];
    this.#into[Math.max(a, b)] = Math.min(a, b);
  }
}

/** Sticks that share a run, since rails of one frame at one stop lie on them. */
interface TiedSticks {
  readonly sticks: readonly number[];
  /** Null: any. */
  readonly run: number | null;
  /** One of them lies begun, so it is not put off. */
  readonly begun: boolean;
  readonly stops: ReadonlySet<string>;
}

class Benched {
  readonly #left: LeftToCut;
  readonly #targets: ReadonlyMap<number, readonly UnitPlace[]>;
  /** By turn before all else: the sticks it cuts. */
  readonly #endings: readonly (readonly number[])[];
  readonly #begun: readonly boolean[];
  readonly tied: readonly TiedSticks[];

  constructor(left: LeftToCut) {
    this.#left = left;
    const { targets, endings } = left;
    this.#targets = groupedBy(targets, ({ stick }) => stick);
    this.#begun = begunSticks(left);
    const turns = groupedBy(endings, ({ rails: [rail] }) => `${stopKey(rail!)} ${rail!.kind}`);
    this.#endings = [...turns.values()].map((turn) => turn.map(({ stick }) => stick));
    this.tied = this.#tie();
  }

  #tie(): readonly TiedSticks[] {
    const { sticks, targets, endings } = this.#left;
    const groups = new Groups(sticks.length);
    for (const turn of turnsOf(targets))
      for (const bundle of bundled(turn)) for (const { stick } of bundle) groups.tie(bundle[0]!.stick, stick);
    // What one stop ends is told in one run.
    for (const own of groupedBy(endings, ({ rails }) => stopKey(rails[0]!)).values())
      for (const { stick } of own) groups.tie(own[0]!.stick, stick);
    const open = new Set([...this.#targets.keys(), ...this.#endings.flat()]);
    const members = groupedBy(open, (stick) => groups.of(stick));
    return [...members.values()].map((own): TiedSticks => {
      const runs = own.map((stick) => sticks[stick]!.run).filter((run) => run !== ANY_RUN);
      const at = own.flatMap((stick) => this.#targets.get(stick) ?? []);
      return {
        sticks: own,
        run: runs.length === 0 ? null : Math.min(...runs),
        begun: own.some((stick) => this.#begun[stick]),
        stops: new Set(at.map(({ item }) => stopKey(item))),
      };
    });
  }

  /** Most sticks begun at once when a run cuts these, in the order that the batch wants; one that lies begun already counts from the first turn. */
  begunIn(tied: readonly TiedSticks[]): number {
    const own = new Set(tied.flatMap(({ sticks }) => sticks));
    const targets = [...own].flatMap((stick) => this.#targets.get(stick) ?? []);
    const { sticks, order } = this.#left;
    const ends = this.#endings.map((turn) => turn.filter((stick) => own.has(stick)));
    const most = (turns: readonly (readonly UnitPlace[])[]): number =>
      begunInTurns(
        [...ends, ...turns.map((turn) => turn.map(({ stick }) => stick))].filter((turn) => turn.length > 0),
        (stick) => !sticks[stick]!.whole,
      );
    const longest = turnsOf(targets);
    const begun = most(longest);
    if (order === 'longest' || begun <= this.#left.bench) return begun;
    return most(inOrder(longest, (stick) => this.#begun[stick]!, order));
  }

  holds(tied: readonly TiedSticks[]): boolean {
    return this.begunIn(tied) <= this.#left.bench;
  }
}

/** Of these runs the one with room that sets most of the stops already; undefined: none has room. */
function runWithRoom(
  on: Benched,
  runs: ReadonlyMap<number, readonly TiedSticks[]>,
  later: readonly number[],
  one: TiedSticks,
): number | undefined {
  const anew = (run: number): number => {
    const set = new Set(runs.get(run)!.flatMap(({ stops }) => [...stops]));
    return [...one.stops].filter((stop) => !set.has(stop)).length;
  };
  return later
    .map((run) => ({ run, anew: anew(run) }))
    .sort((a, b) => a.anew - b.anew || a.run - b.run)
    .find(({ run }) => on.holds([...runs.get(run)!, one]))?.run;
}

/** What of a run stays, so that it is overfull only by what lies begun: what is begun, then what sets fewest stops anew. */
function staying(on: Benched, own: readonly TiedSticks[], bench: number): readonly TiedSticks[] {
  const stay = own.filter(({ begun }) => begun);
  const open = new Set(own.filter(({ begun }) => !begun));
  const most = Math.max(bench, on.begunIn(stay));
  const set = new Set(stay.flatMap(({ stops }) => [...stops]));
  while (open.size > 0) {
    const anew = ({ stops }: TiedSticks): number => [...stops].filter((stop) => !set.has(stop)).length;
    const next = [...open].reduce((best, one) => (anew(one) < anew(best) ? one : best));
    open.delete(next);
    if (on.begunIn([...stay, next]) > most) continue;
    stay.push(next);
    for (const stop of next.stops) set.add(stop);
  }
  return stay;
}

/** Runs of the plan that tied sticks join. */
function joinedRuns(sticks: readonly ShopStick[], tied: readonly TiedSticks[]): Groups {
  const joined = new Groups(Math.max(0, ...sticks.map(({ run }) => run)) + 1);
  for (const { sticks: own, run } of tied)
    for (const stick of own)
      if (run !== null && sticks[stick]!.run !== ANY_RUN) joined.tie(run, sticks[stick]!.run);
  return joined;
}

/**
 * By stick. The bench is overfull only by sticks that lie begun and such as are tied to them, or by sticks that are tied
 * together and do not fit on it by themselves.
 */
export function runOfStick(left: LeftToCut): readonly number[] {
  const { sticks, bench } = left;
  const on = new Benched(left);
  const joined = joinedRuns(sticks, on.tied);
  const given = groupedBy(on.tied, ({ run }) => (run === null ? ANY_RUN : joined.of(run)));
  const runs = new Map<number, readonly TiedSticks[]>();
  for (const [run, own] of given) {
    if (run === ANY_RUN) continue;
    if (on.holds(own)) runs.set(run, own);
    // Together they are too many: each in the first run that one of its sticks is of.
    else for (const [apart, some] of groupedBy(own, (one) => one.run!)) runs.set(apart, some);
  }
  const putOff: TiedSticks[] = [];
  for (const [run, own] of runs) {
    if (on.holds(own)) continue;
    const stay = staying(on, own, bench);
    putOff.push(...own.filter((one) => !stay.includes(one)));
    if (stay.length > 0) runs.set(run, stay);
    else runs.delete(run);
  }
  let last = Math.max(0, ...sticks.map(({ run }) => run));
  const place = (one: TiedSticks, run: number | undefined): void => {
    const to = run ?? ++last;
    runs.set(to, [...(runs.get(to) ?? []), one]);
  };
  const numbers = (): number[] => [...runs.keys()].sort((a, b) => a - b);
  for (const one of putOff.sort((a, b) => a.run! - b.run!)) {
    const later = numbers().filter((run) => run > one.run!);
    place(one, runWithRoom(on, runs, later, one));
  }
  // What replaces lost rails is cut as soon as may be.
  for (const one of given.get(ANY_RUN) ?? [])
    place(
      one,
      numbers().find((run) => on.holds([...runs.get(run)!, one])),
    );
  const runOf = sticks.map(({ run }) => (run === ANY_RUN ? 1 : run));
  for (const [run, tied] of runs) for (const stick of tied.flatMap((one) => one.sticks)) runOf[stick] = run;
  return runOf;
}
