/**
 * Divides the sticks of a moulding into runs that the bench holds: pairs and rings in one run, stops set as seldom as was
 * found. Rails may change sticks where that costs nothing; which sticks are cut stays.
 */

import { copiesByLine } from '../layout/names.js';
import { StickHandling } from '../layout/stick-handling.js';
import { asLaidOut, inOneRun, type RunPatterns } from '../layout/sticks.js';
import type { Pattern } from '../solve/problem.js';
import type { Copies, MouldingTask } from '../stock/task.js';
import type { Saw } from '../terms.js';
import { looseStick } from './anneal/annealed.js';
import { begunMost, spanOf } from './begun.js';
import { stopsBound } from './bound.js';
import { inFewestOrder, isTight } from './fewest.js';
import { parted } from './parted.js';
import { stickOf, type Turns, turnsOf } from './sawing.js';
import { type CutRun, type DivisionSearch, grouped, RunSharing, singly } from './shared.js';

/** Beyond so many sticks they are mostly alike, and tables of runs by settings grow too large: as first divided. */
const STICKS = 6_000;
export interface Division {
  readonly runs: readonly RunPatterns[];
  /** However the same pieces are cut and divided, stops are set no less often. */
  readonly bound: number;
}

/** Like patterns together again. */
function gathered(patterns: CutRun): CutRun {
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
  readonly #patterns: CutRun;
  readonly #handling: StickHandling;
  readonly #sharing: RunSharing;

  constructor(task: MouldingTask, turns: Turns, patterns: CutRun, saw: BenchRule) {
    this.#task = task;
    this.#turns = turns;
    this.#bench = saw.bench ?? Number.POSITIVE_INFINITY;
    this.#fewest = saw.order === 'fewest';
    this.#patterns = singly(patterns);
    this.#handling = new StickHandling(task);
    this.#sharing = new RunSharing({
      task,
      turns,
      handling: this.#handling,
      bench: this.#bench,
      holds: (run) => this.holds(run),
      parted: (runs) => this.#parted(runs),
    });
  }

  #ordered(runs: readonly CutRun[]): readonly RunPatterns[] {
    if (!this.#fewest) return runs.map((own) => ({ patterns: gathered(own), order: null }));
    const patterns = runs.flatMap(singly);
    let next = 0;
    const sticks = runs.map((own) => own.flatMap(({ count }) => Array.from({ length: count }, () => next++)));
    const known = new Map<string, boolean>();
    const tight = patterns.map((pattern): boolean => {
      const key = `${pattern.stock} ${JSON.stringify(pattern.segments)}`;
      const found = known.get(key) ?? this.#isTight(pattern);
      known.set(key, found);
      return found;
    });
    const { stopOf } = this.#turns;
    const turns = patterns.map((pattern) => stickOf(this.#turns, pattern));
    return inFewestOrder({ stopOf, sticks: turns, tight, bench: this.#bench }, sticks).map((one) => ({
      patterns: gathered(one.sticks.map((stick) => patterns[stick]!)),
      order: one.order,
    }));
  }

  /** Where angles differ, the order of the rails along a stick decides whether they fit. */
  #isTight(pattern: Pattern): boolean {
    const [turns, handling] = [this.#turns, this.#handling];
    if (handling.oneKind) return false;
    const { lanes } = looseStick({ task: this.#task, turns, handling }, pattern);
    return isTight(stickOf(turns, pattern), turns.stopOf, (order) =>
      lanes.every(({ items, counts, capacity, kept }) => {
        const places = order.flatMap((turn) =>
          [...items.keys()].filter((i) => turns.turnOf[items[i]!] === turn),
        );
        const [own, many] = [places.map((i) => items[i]!), places.map((i) => counts[i]!)];
        return items.length === 0 || handling.taken(own, many, kept) <= capacity;
      }),
    );
  }

  /** Whether the bench holds a run of these patterns. */
  holds(patterns: CutRun): boolean {
    const spans = patterns.flatMap((pattern) => {
      const span = spanOf(stickOf(this.#turns, pattern));
      return Array.from({ length: pattern.count }, () => span);
    });
    return spans.length <= this.#bench || begunMost(spans, this.#turns.stopOf.length) <= this.#bench;
  }

  /** All in one run, in the order the batch asks for. */
  together(): readonly RunPatterns[] {
    return this.#ordered([this.#patterns]);
  }

  /** Runs that are overfull in others that are not, as far as pairs and rings let them. */
  #parted(runs: readonly CutRun[]): readonly CutRun[] {
    return runs.flatMap((own) => {
      if (this.holds(own)) return [own];
      // In the order in which they will be laid out, which decides what odd rails tie.
      const sticks = singly(asLaidOut(this.#task, gathered(own)));
      const turns = sticks.map((pattern) => stickOf(this.#turns, pattern));
      const run = parted(this.#turns, turns, this.#bench);
      return grouped(run).map((some) => some.map((stick) => sticks[stick]!));
    });
  }

  divide(search: DivisionSearch | null, least: number): readonly RunPatterns[] {
    return this.#ordered(this.#parted(this.#divided(search, least)));
  }

  #divided(search: DivisionSearch | null, least: number): readonly CutRun[] {
    const patterns = this.#patterns;
    if (search === null || patterns.length > STICKS) {
      const tied = grouped(this.#sharing.tied(patterns, search !== null));
      return tied.map((own) => own.map((stick) => patterns[stick]!));
    }
    if (this.#handling.oneKind && search.gently !== true)
      return this.#sharing.share(this.#patterns, least, search);
    const { run, sticks } = this.#sharing.annealed(patterns, search);
    return grouped(run).map((own) => own.map((stick) => sticks[stick]!));
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
  const boundOn = (bench: number): number => stopsBound(task, turns, patterns, bench);
  const bound = boundOn(saw.bench ?? Number.POSITIVE_INFINITY);
  const dividing = new Dividing(task, turns, patterns, saw);
  const held = dividing.holds(patterns);
  if (held && saw.order === 'longest') return { runs: inOneRun(patterns), bound };
  const runs = held ? dividing.together() : dividing.divide(search, bound);
  // A run that stays overfull may set stops less often than any that the bench holds.
  const sound = held || runs.every((run) => dividing.holds(run.patterns));
  return { runs, bound: sound ? bound : boundOn(Number.POSITIVE_INFINITY) };
}
