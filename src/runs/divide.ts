/**
 * Divides the sticks of a moulding into runs that the bench holds: pairs and rings in one run, stops set as seldom as was
 * found. Rails may change sticks where that costs nothing; which sticks are cut stays.
 */

import { copiesByLine } from '../layout/names.js';
import { StickHandling } from '../layout/stick-handling.js';
import { inOneRun, type RunPatterns } from '../layout/sticks.js';
import type { Pattern } from '../solve/problem.js';
import type { Copies, MouldingTask } from '../stock/task.js';
import type { Saw } from '../terms.js';
import { Annealing, type Divided } from './anneal.js';
import { begunMost, type Span, spanOf } from './begun.js';
import { stopsBound } from './bound.js';
import { inFewestOrder } from './fewest.js';
import { initialRuns } from './initial.js';
import { stickOf, type Turns, turnsOf } from './sawing.js';
import { DivisionState, type LooseStick } from './state.js';

/** Steps of the search for each stick and in all, some 3 µs each. */
const STEPS_A_STICK = 1_500;
const STEPS = 400_000;
/** Beyond, the tables of runs by settings grow too large, and sticks are mostly alike: they stay as first divided. */
const STICKS = 6_000;

export interface Division {
  readonly runs: readonly RunPatterns[];
  /** However the same pieces are cut and divided, stops are set no less often. */
  readonly bound: number;
}

export interface DivisionSearch {
  readonly seed: number;
  /** Share of the time that has passed; from 1 on it is up. */
  readonly elapsed: () => number;
}

/** One pattern a stick. */
function singly(patterns: readonly Pattern[]): readonly Pattern[] {
  return patterns.flatMap((pattern) =>
    Array.from({ length: pattern.count }, () => ({ ...pattern, count: 1 })),
  );
}

/** Like patterns together again. */
function gathered(patterns: readonly Pattern[]): readonly Pattern[] {
  const found = new Map<string, Pattern>();
  for (const pattern of patterns) {
    const key = `${pattern.stock} ${JSON.stringify(pattern.segments)}`;
    found.set(key, { ...pattern, count: pattern.count + (found.get(key)?.count ?? 0) });
  }
  return [...found.values()];
}

type BenchRule = Pick<Saw, 'bench' | 'order'>;

class Dividing {
  readonly #task: MouldingTask;
  readonly #turns: Turns;
  readonly #bench: number;
  readonly #fewest: boolean;
  readonly #patterns: readonly Pattern[];

  constructor(task: MouldingTask, turns: Turns, patterns: readonly Pattern[], saw: BenchRule) {
    this.#task = task;
    this.#turns = turns;
    this.#bench = saw.bench ?? Number.POSITIVE_INFINITY;
    this.#fewest = saw.order === 'fewest';
    this.#patterns = singly(patterns);
  }

  /** Sticks of one lane may exchange rails, unless they leave an offcut to keep. */
  #sticks(): readonly LooseStick[] {
    const task = this.#task;
    const handling = new StickHandling(task);
    return this.#patterns.map((pattern) => {
      const { items, counts } = stickOf(this.#turns, pattern);
      const { stock, segments } = pattern;
      const loose =
        handling.oneKind &&
        task.piles[stock]!.segments.length === 1 &&
        handling.of(stock, segments).kept === 0;
      return { items, counts, capacity: loose ? task.piles[stock]!.segments[0]! : -1 };
    });
  }

  #runsOf(run: readonly number[], segments: (stick: number) => Pattern['segments']): readonly RunPatterns[] {
    const byRun: number[][] = [];
    for (const [stick, own] of run.entries()) {
      const known = byRun[own] ?? [];
      byRun[own] = known;
      known.push(stick);
    }
    const runs = byRun.filter((own) => own.length > 0);
    const patterns = this.#patterns.map(({ stock }, stick) => ({
      stock,
      count: 1,
      segments: segments(stick),
    }));
    const of = (own: readonly number[]) => gathered(own.map((stick) => patterns[stick]!));
    // Where angles differ, the order of the rails along a stick decides whether they fit.
    if (!this.#fewest || this.#task.spacing.mitres.length > 1)
      return runs.map((own) => ({ patterns: of(own), order: null }));
    const sticks = patterns.map((pattern) => stickOf(this.#turns, pattern));
    return inFewestOrder(sticks, runs, this.#bench).map((one) => ({
      patterns: of(one.sticks),
      order: one.order,
    }));
  }

  /** All in one run, in the order the batch asks for. */
  together(): readonly RunPatterns[] {
    return this.#runsOf(
      this.#patterns.map(() => 0),
      (stick) => this.#patterns[stick]!.segments,
    );
  }

  #overfull(sticks: readonly LooseStick[], run: readonly number[]): boolean {
    const { turnOf, stopOf } = this.#turns;
    const spans = new Map<number, Span[]>();
    sticks.forEach(({ items }, stick) => {
      const own = spans.get(run[stick]!) ?? [];
      spans.set(run[stick]!, own);
      own.push({ first: turnOf[items[0]!]!, last: turnOf[items.at(-1)!]! });
    });
    return [...spans.values()].some((own) => begunMost(own, stopOf.length) > this.#bench);
  }

  #anneal(sticks: readonly LooseStick[], begin: readonly number[], search: DivisionSearch): Annealing {
    const weights = this.#task.items.map(({ weight }) => weight);
    const state = new DivisionState(this.#turns, weights, sticks, this.#bench);
    for (const [stick, run] of begin.entries()) {
      while (state.members.length <= run) state.open();
      state.add(stick, run);
    }
    state.open();
    for (const run of state.members.keys()) state.settle(run);
    const annealing = new Annealing(state, search.seed);
    annealing.run(Math.min(STEPS, STEPS_A_STICK * sticks.length), search.elapsed);
    return annealing;
  }

  divide(search: DivisionSearch | null): readonly RunPatterns[] {
    const given = this.#sticks();
    const first = (sticks: readonly LooseStick[], tied: boolean) =>
      initialRuns(this.#turns, sticks, this.#bench, { tied, chosen: search !== null });
    const own = (held: Pick<Divided, 'items' | 'counts'>) => (stick: number) => {
      const [items, counts] = [held.items[stick]!, held.counts[stick]!];
      if (items === given[stick]!.items) return this.#patterns[stick]!.segments;
      return [items.map((item, i) => ({ item, count: counts[i]! }))];
    };
    const asGiven = { items: given.map(({ items }) => items), counts: given.map(({ counts }) => counts) };
    const tied = first(given, true);
    if (search === null || given.length > STICKS) return this.#runsOf(tied, own(asGiven));
    // Where pairs and rings tie too many sticks together, the search begins with them parted.
    let { best, last } = this.#anneal(
      given,
      this.#overfull(given, tied) ? first(given, false) : tied,
      search,
    );
    if (best === null) {
      // Most are whole on a stick now, so that what is left ties few together.
      const now = given.map(({ capacity }, stick) => ({
        items: last.items[stick]!,
        counts: last.counts[stick]!,
        capacity,
      }));
      const again = first(now, true);
      if (this.#overfull(now, again)) return this.#runsOf(again, own(last));
      best = this.#anneal(now, again, search).best ?? { ...last, run: Int32Array.from(again) };
    }
    return this.#runsOf([...best.run], own(best));
  }
}

/** `search`: how long to look for better ones; null: divided as the sticks come. */
export function divide(
  task: MouldingTask,
  copies: Copies,
  patterns: readonly Pattern[],
  saw: BenchRule,
  search: DivisionSearch | null,
): Division {
  const turns = turnsOf(task, copiesByLine(task, copies));
  const bench = saw.bench ?? Number.POSITIVE_INFINITY;
  const bound = stopsBound(task, turns, patterns, bench);
  const spans = patterns.flatMap((pattern) => {
    const span = spanOf(stickOf(turns, pattern));
    return Array.from({ length: pattern.count }, () => span);
  });
  const held = spans.length <= bench || begunMost(spans, turns.stopOf.length) <= bench;
  if (held && saw.order === 'longest') return { runs: inOneRun(patterns), bound };
  if (held) return { runs: new Dividing(task, turns, patterns, saw).together(), bound };
  return { runs: new Dividing(task, turns, patterns, saw).divide(search), bound };
}
