import type { PlanProof } from '../documents/plan/types.js';
import type { Batch } from '../terms.js';

/**
 * How the time of a batch is shared among its mouldings. Solving time counts, not waiting time, so a batch that
 * shares the workers with others still gets what it was promised.
 */

/** Milliseconds a rail for laying out, adding up and checking at the end; measured, see DEVELOPERS.md. */
const END_MS = 0.05;
/** But at most this share of the limit. */
const END_SHARE = 0.1;
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
export const WOOD_SHARES = { first: 0.8, open: 0.5 } as const;
/** But only where an even share is shorter than this. */
export const SHORT_TURN_MS = 2_000;
/** A turn may take so many even shares to prove its wood, as long as such a part of one is left to each that waits. */
const LONG_TURN = 2;
const KEPT_SHARE = 0.75;

/** Whether so many mouldings have their wood proven first. */
export function isMany(mouldings: number, slots: number): boolean {
  return mouldings >= MANY_ROUNDS * slots;
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
  /** Many mouldings are all to have their wood proven, and nothing else, in this time. */
  readonly woodFirst?: boolean;
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
    const { limit, slots, waiting, woodFirst = false } = of;
    this.#even = woodFirst && isMany(waiting, slots) ? (limit * slots) / waiting : 0;
  }

  /** As long as most need less than their share, one that needs more has it. */
  #longTurn(spent: number, at: number): number {
    const { limit, slots } = this.#of;
    const left = Math.max(0, limit - spent / slots);
    const kept = KEPT_SHARE * this.#even * Math.max(0, this.#waiting - 1);
    let taken = 0;
    for (const { begun, share } of this.#running) taken += Math.max(0, share - (at - begun));
    return Math.min(left, LONG_TURN * this.#even, left * slots - taken - kept);
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
    const spent = this.#spentBy(start);
    const even = nextShare({ limit, spent, waiting: this.#waiting, slots });
    // Else the first would have their whole share and more, and the last none.
    const own = Math.max(OWN_SHARE * even, even - this.#beyond / Math.max(1, this.#ended));
    const share = Math.max(own, this.#longTurn(spent, start));
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
