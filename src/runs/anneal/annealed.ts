/** A plan's sticks as the annealing takes them, and as it leaves them. */
import type { StickHandling } from '../../layout/stick-handling.js';
import type { Pattern } from '../../solve/problem.js';
import type { MouldingTask } from '../../stock/task.js';
import { begunMost, type Span } from '../begun.js';
import { initialRuns } from '../initial.js';
import { parted } from '../parted.js';
import { type HeldRails, stickOf, type Turns } from '../sawing.js';
import { Annealing, type Divided } from './annealing.js';
import { Lanes, type LooseLane, type LooseStick, type Measure } from './lanes.js';
import { DivisionState } from './state.js';

/** Steps of the search for each stick and in all, some 3 µs each. */
const STEPS_A_STICK = 1_500;
const STEPS = 400_000;

export interface AnnealTask {
  readonly task: MouldingTask;
  readonly turns: Turns;
  readonly handling: StickHandling;
  readonly bench: number;
  /** Of each stick, the share of its lanes that there is to cut from; absent: all. */
  readonly shares?: readonly number[];
}

export interface AnnealSearch {
  readonly seed: number;
  /** Share of the time that has passed; from 1 on it is up. */
  readonly elapsed: () => number;
}

export interface Annealed {
  /** By stick. */
  readonly run: readonly number[];
  readonly sticks: readonly Pattern[];
}

/** Rails lie in cutting order along a lane; a lane that leaves an offcut to keep leaves it at least as long. */
export function looseStick(
  { task, turns, handling }: Pick<AnnealTask, 'task' | 'turns' | 'handling'>,
  pattern: Pattern,
  share = 1,
): LooseStick {
  const { items, counts } = stickOf(turns, pattern);
  const { stock, segments } = pattern;
  const lanes = task.piles[stock]!.segments.map((length, lane): LooseLane => {
    const own = (segments[lane] ?? []).filter(({ count }) => count > 0).toSorted((a, b) => a.item - b.item);
    const held = { items: own.map(({ item }) => item), counts: own.map(({ count }) => count) };
    if (!handling.keeps(stock, lane, own)) return { ...held, capacity: share * length, kept: false };
    // Of a lane left whole nothing is taken.
    if (own.length === 0) return { ...held, capacity: -1, kept: false };
    const kept = !handling.oneKind;
    return { ...held, capacity: handling.taken(held.items, held.counts, kept), kept };
  });
  return { items, counts, lanes };
}

function overfull(
  { turns, bench }: AnnealTask,
  sticks: readonly LooseStick[],
  run: readonly number[],
): boolean {
  const { turnOf, stopOf } = turns;
  const spans = new Map<number, Span[]>();
  sticks.forEach(({ items }, stick) => {
    const own = spans.get(run[stick]!) ?? [];
    spans.set(run[stick]!, own);
    own.push({ first: turnOf[items[0]!]!, last: turnOf[items.at(-1)!]! });
  });
  return [...spans.values()].some((own) => begunMost(own, stopOf.length) > bench);
}

function anneal(
  { task, turns, handling, bench }: AnnealTask,
  sticks: readonly LooseStick[],
  begin: readonly number[],
  search: AnnealSearch,
): Annealing {
  const weights = task.items.map(({ weight }) => weight);
  const measure: Measure = (items, counts, kept) => handling.taken(items, counts, kept);
  const state = new DivisionState(turns, sticks, bench);
  const lanes = new Lanes(sticks, weights, handling.oneKind ? null : measure);
  for (const [stick, run] of begin.entries()) {
    while (state.members.length <= run) state.open();
    state.add(stick, run);
  }
  state.open();
  for (const run of state.members.keys()) state.settle(run);
  const annealing = new Annealing(state, lanes, search.seed);
  annealing.run(Math.min(STEPS, STEPS_A_STICK * sticks.length), search.elapsed);
  return annealing;
}

/**
 * Sticks in runs, by annealing from `tied`, a division that keeps tied sticks together. A run is overfull only where
 * pairs and rings tie too many sticks together and no exchange of rails was found that parts them.
 */
export function annealed(
  task: AnnealTask,
  patterns: readonly Pattern[],
  tied: readonly number[],
  search: AnnealSearch,
): Annealed {
  const given = patterns.map((pattern, stick) => looseStick(task, pattern, task.shares?.[stick]));
  const heldOn = ({ lanes }: Divided): readonly (readonly HeldRails[])[] => {
    let end = 0;
    return given.map((stick) => {
      end += stick.lanes.length;
      return lanes.slice(end - stick.lanes.length, end);
    });
  };
  const sticksOf = (divided: Divided): readonly Pattern[] => {
    const held = heldOn(divided);
    return patterns.map((pattern, stick) => ({
      ...pattern,
      segments: held[stick]!.map(({ items, counts }) =>
        items.map((item, i) => ({ item, count: counts[i]! })),
      ),
    }));
  };
  const first = (sticks: readonly LooseStick[], keep: boolean): readonly number[] =>
    initialRuns(task.turns, sticks, task.bench, { tied: keep, chosen: true });
  // Where pairs and rings tie too many sticks together, the search begins with them parted.
  const whole = overfull(task, given, tied) ? parted(task.turns, given, task.bench) : tied;
  let { best, last } = anneal(
    task,
    given,
    overfull(task, given, whole) ? first(given, false) : whole,
    search,
  );
  if (best === null) {
    // Most are whole on a stick now, so that what is left ties few together.
    const held = heldOn(last);
    const now = given.map(({ lanes }, stick) => ({
      items: last.items[stick]!,
      counts: last.counts[stick]!,
      lanes: lanes.map((lane, l) => ({ ...lane, ...held[stick]![l]! })),
    }));
    const again = first(now, true);
    if (overfull(task, now, again)) return { run: again, sticks: sticksOf(last) };
    best = anneal(task, now, again, search).best ?? { ...last, run: Int32Array.from(again) };
  }
  return { run: [...best.run], sticks: sticksOf(best) };
}
