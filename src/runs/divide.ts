/**
 * Divides the sticks of a moulding into runs that the bench holds: pairs and rings in one run, stops set as seldom as was
 * found. Rails may change sticks where that costs nothing; which sticks are cut stays.
 */

import { copiesByLine } from '../layout/names.js';
import { StickHandling } from '../layout/stick-handling.js';
import { asLaidOut, inOneRun, type RunPatterns } from '../layout/sticks.js';
import type { Pattern } from '../solve/problem.js';
import { randomOf } from '../solve/random.js';
import type { Copies, MouldingTask } from '../stock/task.js';
import type { Saw } from '../terms.js';
import { type Annealed, annealed, looseStick } from './anneal/annealed.js';
import { begunMost, spanOf } from './begun.js';
import { stopsBound } from './bound.js';
import { inFewestOrder, isTight } from './fewest.js';
import { initialRuns } from './initial.js';
import { type PackedLot, piecesIn, stopsIn } from './lots/lot.js';
import { PlanLots } from './lots/plan-lots.js';
import { type ShareSearch, Sharing } from './lots/share.js';
import { parted } from './parted.js';
import { stickOf, type Turns, turnsOf } from './sawing.js';

/** Beyond so many sticks they are mostly alike, and tables of runs by settings grow too large: as first divided. */
const STICKS = 6_000;
/** Units of work for sharing all rails out among runs, and as many for bettering that: for each stick, at least and at most. */
const SHARE_A_STICK = 10_000;
const SHARE_LEAST = 400_000;
const SHARE_MOST = 1_500_000;
/** And for mending runs that are overfull: for each stick, and at most (some 2 s). */
const MEND_A_STICK = 5_000;
const MEND_MOST = 1_000_000;
/** So much of it whatever the clock says; the rest until this share of the time, since more would be that of others. */
const MEND_LATE = 50_000;
const MEND_UNTIL = 1.3;
/** Up to so many sticks annealing is tried as well, while stops are set so much oftener than once, as a share. */
const FEW = 80;
const NEAR = 0.1;
/** Shares of the time at which each step ends at the latest; the last makes runs easier to cut. */
const SHARE_UNTIL = 0.25;
const REST_UNTIL = 0.32;
const ANNEAL_UNTIL = 0.75;
const BETTER_UNTIL = 0.88;

export interface Division {
  readonly runs: readonly RunPatterns[];
  /** However the same pieces are cut and divided, stops are set no less often. */
  readonly bound: number;
}

type CutRun = readonly Pattern[];

export interface DivisionSearch {
  readonly seed: number;
  /** Share of the time that has passed; from 1 on it is up. */
  readonly elapsed: () => number;
  /** Rails only change places where that saves a stop or a visit: settings are not shared out anew. */
  readonly gently?: boolean;
  /** The same pieces and rails as a run that is easier to cut. */
  readonly easier: (run: CutRun, stopped: () => boolean) => CutRun;
}

/** The same search with only so large a share of the time. */
function until({ elapsed, ...search }: DivisionSearch, share: number): DivisionSearch {
  return { ...search, elapsed: () => elapsed() / share };
}

/** One pattern a stick. */
function singly(patterns: CutRun): CutRun {
  return patterns.flatMap((pattern) =>
    Array.from({ length: pattern.count }, () => ({ ...pattern, count: 1 })),
  );
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

/** The sticks of each run, from the run of each stick. */
function grouped(run: readonly number[]): readonly (readonly number[])[] {
  const byRun: number[][] = [];
  for (const [stick, own] of run.entries()) {
    const known = byRun[own] ?? [];
    byRun[own] = known;
    known.push(stick);
  }
  return byRun.filter((own) => own.length > 0);
}

/** `search` null: the clock does not end it, but once it is `late` `MEND_LATE` is enough. */
function limited(
  work: number,
  random: () => number,
  search: DivisionSearch | null,
  late: () => boolean = () => false,
): ShareSearch {
  let spent = 0;
  return {
    random,
    work: {
      spend: (units) => {
        spent += units;
      },
    },
    over: () => spent >= work || (spent >= MEND_LATE && late()) || (search !== null && search.elapsed() >= 1),
  };
}

type BenchRule = Pick<Saw, 'bench' | 'order'>;

class Dividing {
  readonly #task: MouldingTask;
  readonly #turns: Turns;
  readonly #bench: number;
  readonly #fewest: boolean;
  readonly #patterns: CutRun;
  readonly #handling: StickHandling;

  constructor(task: MouldingTask, turns: Turns, patterns: CutRun, saw: BenchRule) {
    this.#task = task;
    this.#turns = turns;
    this.#bench = saw.bench ?? Number.POSITIVE_INFINITY;
    this.#fewest = saw.order === 'fewest';
    this.#patterns = singly(patterns);
    this.#handling = new StickHandling(task);
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

  /** The sticks as they are, all that are tied together in one run. */
  #tied(patterns: CutRun, chosen: boolean): readonly number[] {
    const sticks = patterns.map((pattern) => stickOf(this.#turns, pattern));
    return initialRuns(this.#turns, sticks, this.#bench, { tied: true, chosen });
  }

  #annealed(patterns: CutRun, search: DivisionSearch): Annealed {
    const task = { task: this.#task, turns: this.#turns, handling: this.#handling, bench: this.#bench };
    return annealed(task, patterns, this.#tied(patterns, true), search);
  }

  /** Rails shared out among runs anew, setting by setting. */
  #shared(least: number, search: DivisionSearch): readonly CutRun[] {
    const plan = new PlanLots(this.#task, this.#turns, this.#handling, this.#patterns, this.#bench);
    const all = plan.lotOf(plan.sticks);
    const random = randomOf(search.seed);
    const sharing = (work: number, share: number): Sharing =>
      new Sharing(plan.task, limited(work, random, until(search, share)));
    const sound = (lots: readonly PackedLot[]): boolean => lots.every(({ patterns }) => this.holds(patterns));
    const annealedLots = (patterns: CutRun): readonly PackedLot[] => {
      const sticks = singly(patterns);
      const found = this.#annealed(plan.outward(sticks), until(search, ANNEAL_UNTIL));
      return grouped(found.run).map((own) =>
        plan.lotOf(own.map((k) => ({ ...found.sticks[k]!, stock: sticks[k]!.stock }))),
      );
    };
    const work = Math.max(SHARE_LEAST, Math.min(SHARE_MOST, SHARE_A_STICK * plan.sticks.length));
    const begun = sharing(work, SHARE_UNTIL);
    const shared = begun.share(all, Math.ceil(plan.sticks.length / this.#bench));
    let lots: readonly PackedLot[] | null = shared.left === null ? shared.lots : null;
    // What is left over is packed as it is, and divided by annealing.
    const packed = sharing(work, REST_UNTIL).packRest(shared);
    if (packed !== null) lots = [...packed.lots, ...annealedLots(packed.rest.patterns)];
    if (lots !== null && !sound(lots)) lots = null;
    const few = plan.sticks.length <= FEW && lots !== null && stopsIn(lots) > (1 + NEAR) * least;
    if (lots === null || few) {
      const found = annealedLots(plan.sticks);
      if (lots === null || (stopsIn(found) < stopsIn(lots) && sound(found))) lots = found;
    }
    // Runs overfull because pairs tie their sticks together are shared out too, even when time is up.
    const mend = Math.min(MEND_MOST, MEND_A_STICK * plan.sticks.length);
    const mending = new Sharing(
      plan.task,
      limited(mend, random, null, () => search.elapsed() >= MEND_UNTIL),
    );
    // Late, those that can be parted as they are stay for that, which takes no time.
    const late = search.elapsed() >= ANNEAL_UNTIL;
    const parts = (lot: PackedLot): boolean =>
      this.#parted([plan.outward(lot.patterns)]).every((run) => this.holds(run));
    const held = lots.flatMap((lot) => {
      if (this.holds(lot.patterns) || (late && parts(lot))) return [lot];
      const mended = mending.share(lot, Math.ceil(piecesIn(lot) / this.#bench));
      return mended.left === null ? mended.lots : [lot];
    });
    return sharing(work, BETTER_UNTIL)
      .better(held, least)
      .map(({ patterns }) => {
        const run = plan.outward(patterns);
        const easier = search.easier(run, () => search.elapsed() >= 1);
        return this.holds(easier) ? easier : run;
      });
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
      const tied = grouped(this.#tied(patterns, search !== null));
      return tied.map((own) => own.map((stick) => patterns[stick]!));
    }
    if (this.#handling.oneKind && search.gently !== true) return this.#shared(least, search);
    const { run, sticks } = this.#annealed(patterns, search);
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
