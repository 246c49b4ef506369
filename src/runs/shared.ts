/**
 * Rails of one angle shared out among runs. First setting by setting (`lots/share.ts`); where that is not found soon, the
 * sticks two by two (`lots/doubled.ts`), whose runs are never too full; last the sticks as they are, by annealing. Then a few
 * runs at a time are shared out anew, as long as there is work and time.
 */
import type { StickHandling } from '../layout/stick-handling.js';
import type { Pattern, Problem } from '../solve/problem.js';
import { randomOf } from '../solve/random.js';
import type { MouldingTask } from '../stock/task.js';
import { type Annealed, annealed } from './anneal/annealed.js';
import { initialRuns } from './initial.js';
import { asCut, type DoubledStick, halvedTurns, packHalf } from './lots/doubled.js';
import { type PackedLot, piecesIn, stopsIn } from './lots/lot.js';
import type { Thorough } from './lots/pack.js';
import { PlanLots } from './lots/plan-lots.js';
import { type ShareSearch, Sharing } from './lots/share.js';
import { type TwoByTwo, twoByTwo } from './lots/two-by-two.js';
import { stickOf, type Turns } from './sawing.js';

/** Units of work for sharing all rails out among runs, and as many for bettering that: for each stick, at least and at most. */
const SHARE_A_STICK = 10_000;
const SHARE_LEAST = 400_000;
const SHARE_MOST = 1_500_000;
/** Of more than `FEW` sticks and no more than `MANY`, for each item and run: two by two they are divided sooner. */
const QUICK_AN_ITEM = 70;
/** Of more sticks than this annealing has not the steps for all of them: what is shared out stays so. */
const MANY = 266;
/** How sticks are packed two by two, and units of work that may take. */
const DOUBLED = { attempts: 1, repairs: 4, refilled: 10 } as const;
const DOUBLED_MOST = 60_000;
/** Looks at the clock, 256 steps each, that dividing them has in any case: taken as they come they set stops twice as often. */
const DOUBLED_LOOKS = 25;
/** And for mending runs that are overfull: for each stick, and at most (some 2 s). */
const MEND_A_STICK = 5_000;
const MEND_MOST = 1_000_000;
/** So much of it whatever the clock says; the rest until this share of the time, since more would be that of others. */
const MEND_LATE = 50_000;
const MEND_UNTIL = 1.3;
/** Share of the time at which the engine's search for half of such a run ends. */
const THOROUGH_UNTIL = 1.2;
/** Up to so many sticks annealing is tried as well, while stops are set so much oftener than once, as a share. */
const FEW = 80;
const NEAR = 0.1;
/** Shares of the time at which each step ends at the latest; the last makes runs easier to cut. */
const SHARE_UNTIL = 0.25;
const REST_UNTIL = 0.32;
const ANNEAL_UNTIL = 0.75;
const BETTER_UNTIL = 0.88;

export type CutRun = readonly Pattern[];

export interface DivisionSearch {
  readonly seed: number;
  /** Share of the time that has passed; from 1 on it is up. */
  readonly elapsed: () => number;
  /** Rails only change places where that saves a stop or a visit: settings are not shared out anew. */
  readonly gently?: boolean;
  /** The same pieces and rails as a run that is easier to cut. */
  readonly easier: (run: CutRun, stopped: () => boolean) => CutRun;
  /** For half of the sticks where packing fails, until this share of the time; without it runs may stay overfull. */
  readonly thorough?: (problem: Problem, until: number) => readonly Pattern[] | null;
}

/** The same search with only so large a share of the time. */
function until({ elapsed, ...search }: DivisionSearch, share: number): DivisionSearch {
  return { ...search, elapsed: () => elapsed() / share };
}

/** One pattern a stick. */
export function singly(patterns: CutRun): CutRun {
  return patterns.flatMap((pattern) =>
    Array.from({ length: pattern.count }, () => ({ ...pattern, count: 1 })),
  );
}

function sticksIn(lots: readonly PackedLot[]): CutRun {
  return lots.flatMap(({ patterns }) => singly(patterns));
}

/** Of each of those sticks. */
function runsIn(lots: readonly PackedLot[]): readonly number[] {
  return lots.flatMap((lot, run) => Array.from({ length: piecesIn(lot) }, () => run));
}

/** The sticks of each run, from the run of each stick. */
export function grouped(run: readonly number[]): readonly (readonly number[])[] {
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

function thoroughIn({ thorough }: DivisionSearch, until: number): Thorough | null {
  return thorough === undefined ? null : (problem) => thorough(problem, until);
}

export interface SharingOut {
  readonly task: MouldingTask;
  readonly turns: Turns;
  readonly handling: StickHandling;
  readonly bench: number;
  /** Whether the bench holds a run of these patterns. */
  readonly holds: (run: CutRun) => boolean;
  /** Runs that are overfull in others that are not, as far as pairs and rings let them. */
  readonly parted: (runs: readonly CutRun[]) => readonly CutRun[];
}

export class RunSharing {
  readonly #of: SharingOut;

  constructor(of: SharingOut) {
    this.#of = of;
  }

  /** The sticks as they are, all that are tied together in one run. */
  tied(patterns: CutRun, chosen: boolean): readonly number[] {
    const sticks = patterns.map((pattern) => stickOf(this.#of.turns, pattern));
    return initialRuns(this.#of.turns, sticks, this.#of.bench, { tied: true, chosen });
  }

  #allHeld(lots: readonly PackedLot[]): boolean {
    return lots.every(({ patterns }) => this.#of.holds(patterns));
  }

  /** Rails exchanged between sticks, by annealing from `begin`, the run of each stick. */
  annealed(patterns: CutRun, search: DivisionSearch, begin = this.tied(patterns, true)): Annealed {
    const { task, turns, handling, bench } = this.#of;
    return annealed({ task, turns, handling, bench }, patterns, begin, search);
  }

  /** Rails shared out among runs anew, setting by setting. */
  share(patterns: CutRun, least: number, search: DivisionSearch): readonly CutRun[] {
    const plan = new PlanLots(this.#of.task, this.#of.turns, this.#of.handling, patterns, this.#of.bench);
    const all = plan.lotOf(plan.sticks);
    const random = randomOf(search.seed);
    const sharing = (work: number, share: number): Sharing =>
      new Sharing(plan.task, limited(work, random, until(search, share)));
    const annealedLots = (patterns: CutRun, begin?: readonly number[]): readonly PackedLot[] => {
      const sticks = singly(patterns);
      const found = this.annealed(plan.outward(sticks), until(search, ANNEAL_UNTIL), begin);
      return grouped(found.run).map((own) =>
        plan.lotOf(own.map((k) => ({ ...found.sticks[k]!, stock: sticks[k]!.stock }))),
      );
    };
    const work = Math.max(SHARE_LEAST, Math.min(SHARE_MOST, SHARE_A_STICK * plan.sticks.length));
    const runs = Math.ceil(plan.sticks.length / this.#of.bench);
    const [isFew, isMany] = [plan.sticks.length <= FEW, plan.sticks.length > MANY];
    const quick = Math.min(work, QUICK_AN_ITEM * all.rails.length * runs);
    const shared = sharing(isFew || isMany ? work : quick, SHARE_UNTIL).share(all, runs);
    let lots: readonly PackedLot[] | null = shared.left === null ? shared.lots : null;
    if (lots === null) {
      const doubling = limited(DOUBLED_MOST, random, null);
      const packing = { seed: search.seed, ...DOUBLED, stopped: doubling.over, work: doubling.work };
      const open = isMany ? shared : { lots: [], left: all };
      const found = twoByTwo(plan, open, all, packing, isFew ? null : thoroughIn(search, 1));
      lots = found && this.#divideTwoByTwo(plan, found, search, annealedLots);
    }
    if (lots === null) {
      // What is left over is packed as it is, and divided by annealing.
      const packed = sharing(work, REST_UNTIL).packRest(shared);
      if (packed !== null) lots = [...packed.lots, ...annealedLots(packed.rest.patterns)];
      if (lots !== null && !this.#allHeld(lots)) lots = null;
    }
    const few = isFew && lots !== null && stopsIn(lots) > (1 + NEAR) * least;
    if (lots === null || few) {
      const found = annealedLots(plan.sticks);
      if (lots === null || (stopsIn(found) < stopsIn(lots) && this.#allHeld(found))) lots = found;
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
      this.#of.parted([plan.outward(lot.patterns)]).every((run) => this.#of.holds(run));
    const held = lots.flatMap((lot) => {
      if (this.#of.holds(lot.patterns) || (late && parts(lot))) return [lot];
      const mended = mending.share(lot, Math.ceil(piecesIn(lot) / this.#of.bench));
      return mended.left === null ? mended.lots : (this.#thoroughly(plan, lot, search) ?? [lot]);
    });
    return sharing(work, BETTER_UNTIL)
      .better(held, least)
      .map(({ patterns }) => {
        const run = plan.outward(patterns);
        const easier = search.easier(run, () => search.elapsed() >= 1);
        return this.#of.holds(easier) ? easier : run;
      });
  }

  /** A lot two by two where packing fails; null where that fails too, or the bench would not hold some run. */
  #thoroughly(plan: PlanLots, lot: PackedLot, search: DivisionSearch): readonly PackedLot[] | null {
    const { seed } = search;
    const thorough = thoroughIn(search, THOROUGH_UNTIL);
    if (thorough === null) return null;
    const { over, work } = limited(DOUBLED_MOST, randomOf(seed), null);
    const sticks = packHalf(plan.task, lot, { seed, ...DOUBLED, stopped: over, work, thorough });
    const found = sticks && this.#divideDoubled(plan, sticks, search);
    return found && this.#allHeld(found) ? found : null;
  }

  /** All of it in runs; null where the bench would not hold some. `annealedLots`: sticks in runs, bettered as they are cut. */
  #divideTwoByTwo(
    plan: PlanLots,
    { lots, sticks }: TwoByTwo,
    search: DivisionSearch,
    annealedLots: (patterns: CutRun, begin: readonly number[]) => readonly PackedLot[],
  ): readonly PackedLot[] | null {
    const doubled = this.#divideDoubled(plan, sticks, until(search, ANNEAL_UNTIL));
    if (!this.#allHeld(doubled)) return null;
    // What holds whole pairs need not be cut alike.
    const found =
      search.elapsed() < ANNEAL_UNTIL ? annealedLots(sticksIn(doubled), runsIn(doubled)) : doubled;
    return [...lots, ...(stopsIn(found) < stopsIn(doubled) && this.#allHeld(found) ? found : doubled)];
  }

  /** Sticks cut alike two by two, divided by annealing. */
  #divideDoubled(
    plan: PlanLots,
    doubled: readonly DoubledStick[],
    search: DivisionSearch,
  ): readonly PackedLot[] {
    const task = {
      task: this.#of.task,
      turns: halvedTurns(this.#of.turns),
      handling: this.#of.handling,
      bench: Math.max(1, Math.floor(this.#of.bench / 2)),
      shares: doubled.map(({ sticks }) => sticks / 2),
    };
    const patterns = plan.outward(doubled.map(({ pattern }) => pattern));
    const turns = patterns.map((pattern) => stickOf(task.turns, pattern));
    const tied = initialRuns(task.turns, turns, task.bench, { tied: true, chosen: true });
    let looks = 0;
    const elapsed = (): number => (looks++ < DOUBLED_LOOKS ? 0 : search.elapsed());
    const found = annealed(task, patterns, tied, { ...search, elapsed });
    return grouped(found.run).map((own) =>
      plan.lotOf(
        own.map((k) => {
          const { pattern, sticks } = doubled[k]!;
          return asCut({ sticks, pattern: { ...found.sticks[k]!, stock: pattern.stock } });
        }),
      ),
    );
  }
}
