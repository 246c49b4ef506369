import type { PlanProof } from '../documents/plan/types.js';
import type { Batch } from '../terms.js';

/**
 * How the time of a batch is shared among its mouldings. Solving time counts, not waiting time, so a batch that
 * shares the workers with others still gets what it was promised.
 */

/** Milliseconds a rail for laying out, adding up and checking at the end; measured, see DEVELOPERS.md. */
const END_MS = 0.05;
/** But at most this share of the limit. */
const END_SHARE = 0.12;
const RAILS = 4;

/** Milliseconds of a batch's time limit that may go to solving, so that the plan is there when the limit is over. */
export function solvingTime({ options, frames }: Pick<Batch, 'options' | 'frames'>): number {
  const limit = 1000 * options.timeLimit;
  const rails = frames.reduce((sum, { quantity }) => sum + RAILS * quantity, 0);
  return limit - Math.min(END_SHARE * limit, END_MS * rails);
}

export interface TimeShare {
  /** Milliseconds of solving for the whole batch. */
  readonly limit: number;
  /** Milliseconds of solving so far, summed over the mouldings, those being solved now included. */
  readonly spent: number;
  /** Mouldings not yet begun, the one that asks included. */
  readonly waiting: number;
  /** Mouldings that can be solved at once. */
  readonly slots: number;
}

/**
 * Milliseconds for the next moulding. With all slots busy, `spent / slots` is the time passed; what is left is
 * divided by the rounds still to come, so the last round ends at the limit.
 */
export function nextShare({ limit, spent, waiting, slots }: TimeShare): number {
  const together = Math.max(1, slots);
  const left = Math.max(0, limit - spent / together);
  return left / Math.max(1, Math.ceil(waiting / together));
}

/** What turns took beyond their share comes off the next ones, down to this part of an even share. */
const OWN_SHARE = 0.3;
/**
 * From so many rounds on, wood comes first: up to these parts of the time go to it alone, in the first round and with those
 * for what that leaves open; the rest goes to runs and to what is open still.
 */
const MANY_ROUNDS = 3;
const WOOD_SHARES = { first: 0.8, open: 0.7 } as const;
/** Of what is left, for the runs of all; the rest is for those that stay overfull. */
const RUNS_FIRST = 0.75;
/** But only where an even share is shorter than this. */
const SHORT_TURN_MS = 2_000;
/**
 * A turn may take so many even shares to prove its wood, as long as each that waits has left what turns took on average and
 * half as much again, at most such a part of an even share. At first so many turns count as if they had taken an even share.
 */
const LONG_TURN = 6;
const KEPT_SHARE = 0.75;
const KEPT_OF_USUAL = 1.5;
const SUPPOSED = 5;

function isMany(mouldings: number, slots: number): boolean {
  return mouldings >= MANY_ROUNDS * slots;
}

/** Whether the wood of a batch may be searched for before how it is cut: neither has a say in the other's cost. */
export function woodMayComeFirst({ labour, options }: Pick<Batch, 'labour' | 'options'>): boolean {
  return labour.rate === null && !options.mergeStops;
}

/**
 * What the turns of a batch are for: `all` of a plan, its `wood` alone, or, once that has been searched for, its `runs` and
 * what is open still.
 */
export const PHASES = ['all', 'wood', 'runs'] as const;
export type Phase = (typeof PHASES)[number];

/** A round of turns, of so many milliseconds of solving by the clock. */
export interface Round {
  readonly phase: Phase;
  readonly limit: number;
}

/**
 * The first round of a batch, of so many milliseconds in all. Wood comes first only where time is short for each moulding,
 * since a plan that no clock cuts short is to be the same with any number of processes.
 */
export function firstRound(all: number, mouldings: number, slots: number, woodFirst: boolean): Round {
  const short = isMany(mouldings, slots) && (all * slots) / mouldings < SHORT_TURN_MS;
  return woodFirst && short
    ? { phase: 'wood', limit: WOOD_SHARES.first * all }
    : { phase: 'all', limit: all };
}

/** The rounds of a batch so far. */
export interface RoundsSoFar {
  /** Milliseconds in all, and by the clock since the first turn. */
  readonly all: number;
  readonly passed: number;
  /** Further rounds there were. */
  readonly rounds: number;
  /** Mouldings not proven, and those with a run that the bench does not hold. */
  readonly open: number;
  readonly overfull: number;
}

/**
 * The round after that. A first one for runs is for all mouldings, another for those overfull, and one for wood for those
 * still open. Null: the plan is put together.
 */
export function nextRound(phase: Phase, { all, passed, rounds, open, overfull }: RoundsSoFar): Round | null {
  if (phase === 'runs') {
    const limit = overfull === 0 ? 0 : leftOf(all, passed, rounds);
    return limit > 0 ? { phase, limit } : null;
  }
  const limit = open === 0 ? 0 : leftOf((phase === 'wood' ? WOOD_SHARES.open : 1) * all, passed, rounds);
  if (limit > 0) return { phase, limit };
  return phase === 'wood' ? { phase: 'runs', limit: RUNS_FIRST * Math.max(0, all - passed) } : null;
}

/** Milliseconds of an even share of a round, where the mouldings are many and only their wood is searched for; else 0. */
export function evenShare({ phase, limit }: Round, mouldings: number, slots: number): number {
  return phase === 'wood' && isMany(mouldings, slots) ? (limit * slots) / mouldings : 0;
}

/** A round so far, wherever its turns are noted. All in milliseconds. */
export interface RoundSoFar extends TimeShare {
  /** What turns took beyond their shares, and how many have ended. */
  readonly beyond: number;
  readonly ended: number;
  /** What the turns now taken have left of their shares. */
  readonly promised: number;
  /** See `evenShare`. */
  readonly even: number;
}

/** Milliseconds for the next turn: as long as most need less than their share, one that needs more has it. */
export function turnShare(round: RoundSoFar): number {
  const { limit, spent, waiting, slots, beyond, ended, promised, even } = round;
  const fair = nextShare(round);
  // Else the first would have their whole share and more, and the last none.
  const own = Math.max(OWN_SHARE * fair, fair - beyond / Math.max(1, ended));
  const left = Math.max(0, limit - spent / slots);
  const usual = (spent + SUPPOSED * even) / (ended + SUPPOSED);
  const kept = Math.min(KEPT_SHARE * even, KEPT_OF_USUAL * usual) * Math.max(0, waiting - 1);
  return Math.max(own, Math.min(left, LONG_TURN * even, left * slots - promised - kept));
}

/** One moulding's turn: milliseconds of solving it has, and what it took once it has ended. */
export interface SolvingTurn {
  readonly share: number;
  /** Only the wood is searched for: how it is cut has its turn later. */
  readonly woodOnly: boolean;
  /** What came before was reading the batch, which takes none of the time. */
  readonly restart: () => void;
  readonly end: () => number;
}

export interface SharedTimeOptions extends Omit<TimeShare, 'spent'> {
  /** In milliseconds. */
  readonly now: () => number;
  /** By default `all`. */
  readonly phase?: Phase;
  /** What passes counts, from the first turn on, also while nothing is solved: somebody waits. */
  readonly passing?: boolean;
}

/** The time that mouldings share, of one batch or of several that are planned side by side. */
export class SharedTime {
  readonly #of: SharedTimeOptions;
  readonly #running = new Set<{ begun: number; share: number }>();
  #first: number | null = null;
  #spent = 0;
  #waiting: number;
  /** Milliseconds beyond their shares that the turns so far took, and how many there were. */
  #beyond = 0;
  #ended = 0;
  /** An even share of all the time; 0 where the mouldings are few. */
  readonly #even: number;

  constructor(of: SharedTimeOptions) {
    this.#of = of;
    this.#waiting = of.waiting;
    const { limit, slots, waiting, phase = 'all' } = of;
    this.#even = evenShare({ phase, limit }, waiting, slots);
  }

  /** Milliseconds, summed over the mouldings. */
  #spentBy(at: number): number {
    const { passing = false, slots } = this.#of;
    if (passing) return slots * (at - (this.#first ?? at));
    return [...this.#running].reduce((sum, { begun }) => sum + at - begun, this.#spent);
  }

  /** Milliseconds that are left to all together. */
  get left(): number {
    const { limit, slots, now } = this.#of;
    return nextShare({ limit, spent: this.#spentBy(now()), waiting: 1, slots });
  }

  begin(): SolvingTurn {
    const { limit, slots, now } = this.#of;
    const start = now();
    this.#first ??= start;
    let promised = 0;
    for (const { begun, share } of this.#running) promised += Math.max(0, share - (start - begun));
    const share = turnShare({
      limit,
      slots,
      spent: this.#spentBy(start),
      waiting: this.#waiting,
      beyond: this.#beyond,
      ended: this.#ended,
      promised,
      even: this.#even,
    });
    const turn = { begun: start, share };
    this.#running.add(turn);
    this.#waiting -= 1;
    const restart = (): void => {
      turn.begun = now();
    };
    const end = (): number => {
      const used = now() - turn.begun;
      if (!this.#running.delete(turn)) return used;
      this.#spent += used;
      this.#beyond += Math.max(0, used - share);
      this.#ended += 1;
      return used;
    };
    return { share, woodOnly: this.#even > 0, restart, end };
  }

  /** One whose process died, or that is worth another, has a further turn. */
  again(): void {
    this.#waiting += 1;
  }
}

/** Most rounds of a batch. Each gives the time left to fewer mouldings, so more are not worth it. */
const ROUNDS_MOST = 4;
/** A round shorter than this share of the limit is not worth starting. */
const LEAST_SHARE = 0.05;
const LEAST_MS = 300;
/** The same for a turn where somebody waits. */
export const LEAST_TURN_MS = 100;
/** A search that ended well before its time has nothing more to try. */
const USED_SHARE = 0.9;

/** Milliseconds for another round of those not yet proven; 0: none. `passed` is wall clock since solving began. */
export function leftOf(limit: number, passed: number, rounds: number): number {
  const left = limit - passed;
  return rounds >= ROUNDS_MOST || left < Math.max(LEAST_MS, limit * LEAST_SHARE) ? 0 : left;
}

/** The same for mouldings of several batches in one time. */
export function leftBeside(time: SharedTime, rounds: number): number {
  const { left } = time;
  return rounds >= ROUNDS_MOST || left < LEAST_TURN_MS ? 0 : left;
}

/** Whether a moulding was cut short by its share of the time, in milliseconds. */
export function worthAnother(proof: PlanProof, allotted: number, used: number): boolean {
  return proof.status !== 'optimal' && allotted > 0 && used >= allotted * USED_SHARE;
}
