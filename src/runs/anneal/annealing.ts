/**
 * Which stick is cut in which run, so that stops are set as seldom as can be: simulated annealing (Kirkpatrick, Gelatt,
 * Vecchi 1983) over three kinds of steps: a stick goes to another run, two sticks change runs, rails of two sticks change
 * places. Every stick stays as long as it is and every rail is cut, so nothing changes that is paid for. Runs too full
 * and pairs parted are allowed on the way, at a price that rises. Effort is counted.
 */
import { randomOf } from '../../solve/random.js';
import type { HeldRails } from '../sawing.js';
import { Exchanges } from './exchanges.js';
import type { Lanes } from './lanes.js';
import type { DivisionState } from './state.js';

/** Few sticks are stirred more than many, for which there is not the time to settle again. */
const HOT_FEW = 1.2;
const HOT_MANY = 0.2;
const FEW = 30;
const COLD = 0.04;
/** Of more sticks than this, one more begun weighs so much of a stop: a bench with room takes sticks of other runs. */
const MANY = 50;
const BEGUN_OF_MANY = 0.1;
const PRICE = [1, 3] as const;
const LAST_PRICE = 8;
/** Steps, some 10 µs each, that are made late where otherwise a run would be overfull. */
const LATE = 5_000;
/** Shares of the steps; the rest exchange rails. */
const RELOCATED = 0.2;
const SWAPPED = 0.2;
/** Shares of the steps from hot to cold, one round after the other. */
const ROUNDS = [1 / 16, 3 / 16, 3 / 4] as const;
/** More rounds of all the steps, each from so far below hot, while stops are set so many times as often as there are settings. */
const MORE_ROUNDS = 2;
const WARM = 0.65;
const OFTEN = 1.5;
/** Steps between looks at the clock. */
const LOOK = 256;

/** Sticks as they are cut, and in which runs. */
export interface Divided {
  readonly moves: number;
  readonly energy: number;
  readonly run: Int32Array;
  readonly items: readonly (readonly number[])[];
  readonly counts: readonly (readonly number[])[];
  /** By lane. */
  readonly lanes: readonly HeldRails[];
}

export class Annealing {
  readonly #state: DivisionState;
  readonly #random: () => number;
  readonly #lanes: Lanes;
  readonly #exchanges: Exchanges;
  #heat = HOT_MANY;
  #threshold = 0;
  best: Divided | null = null;

  constructor(state: DivisionState, lanes: Lanes, seed: number) {
    this.#state = state;
    this.#lanes = lanes;
    this.#random = randomOf(seed);
    if (state.run.length > MANY) state.begunPrice = BEGUN_OF_MANY;
    this.#exchanges = new Exchanges(state, lanes, this.#random);
    this.#keep();
  }

  /** As the search left it, sound or not. */
  get last(): Divided {
    const { moves, energy, run, items, counts } = this.#state;
    return {
      moves,
      energy,
      run: run.slice(),
      items: [...items],
      counts: [...counts],
      lanes: this.#lanes.held,
    };
  }

  #pick(count: number): number {
    return Math.floor(this.#random() * count);
  }

  #keep(): void {
    const state = this.#state;
    if (!state.sound) return;
    const { moves, energy } = state;
    const { best } = this;
    if (best === null || moves < best.moves || (moves === best.moves && energy < best.energy))
      this.best = this.last;
  }

  /** Whether a step that left this energy may stand; runs are counted anew only when the rest allows it. */
  #stands(before: number, runs: readonly number[]): boolean {
    const state = this.#state;
    // Runs that become less full can make up for more than that.
    const hope = state.over > 0 ? 2 * state.over + 1 : 1;
    if (state.energy - before > this.#threshold + hope) return false;
    const peaks = runs.map((run) => state.settle(run));
    if (state.energy - before <= this.#threshold) return true;
    for (const [i, run] of runs.entries()) state.resettle(run, peaks[i]!);
    return false;
  }

  /** A run that sets a stop of this stick too, if one is found at once; else any. */
  #runFor(stick: number): number {
    const state = this.#state;
    const runs = state.members.length;
    const items = state.items[stick]!;
    for (let tries = 0; tries < 6; tries++) {
      const stop = state.stopOf(items[this.#pick(items.length)]!);
      const run = state.otherRunAt(stick, stop, this.#pick(runs));
      if (run >= 0) return run;
    }
    return this.#pick(runs);
  }

  /** Another stick of its run that a parted pair or ring ties to this one; −1 where there is none. */
  #tiedTo(stick: number): number {
    const state = this.#state;
    const [items, counts] = [state.items[stick]!, state.counts[stick]!];
    const at = this.#pick(items.length);
    const bundle = state.turns.together[items[at]!]!;
    if (counts[at]! % bundle === 0) return -1;
    const members = state.members[state.run[stick]!]!;
    const begin = this.#pick(members.length);
    for (let k = 0; k < members.length; k++) {
      const other = members[(begin + k) % members.length]!;
      const place = other === stick ? -1 : state.items[other]!.indexOf(items[at]!);
      if (place >= 0 && state.counts[other]![place]! % bundle !== 0) return other;
    }
    return -1;
  }

  /** To another run, now and then with a stick that shares a pair with it. */
  #relocate(): void {
    const state = this.#state;
    const stick = this.#pick(state.run.length);
    const tied = this.#random() < 0.5 ? this.#tiedTo(stick) : -1;
    const moved = tied < 0 ? [stick] : [stick, tied];
    const from = state.run[stick]!;
    const to = this.#runFor(stick);
    if (to === from) return;
    const before = state.energy;
    const move = (run: number): void => {
      for (const one of moved) state.remove(one);
      for (const one of moved) state.add(one, run);
    };
    move(to);
    if (!this.#stands(before, [from, to])) move(from);
  }

  #swap(): void {
    const state = this.#state;
    const a = this.#pick(state.run.length);
    const from = state.run[a]!;
    const to = this.#runFor(a);
    const others = state.members[to]!;
    if (to === from || others.length === 0) return;
    const b = others[this.#pick(others.length)]!;
    const before = state.energy;
    state.remove(a);
    state.remove(b);
    state.add(a, to);
    state.add(b, from);
    if (this.#stands(before, [from, to])) return;
    state.remove(a);
    state.remove(b);
    state.add(a, from);
    state.add(b, to);
  }

  #step(): void {
    this.#threshold = -this.#heat * Math.log(1 - this.#random());
    const kind = this.#random();
    if (kind < RELOCATED) this.#relocate();
    else if (kind < RELOCATED + SWAPPED) this.#swap();
    else this.#exchanges.exchange((before, runs) => this.#stands(before, runs));
    this.#keep();
  }

  /** Cools once, over so many steps; false: the time is up. */
  #cool(steps: number, hot: number, elapsed: () => number): boolean {
    const state = this.#state;
    for (let step = 0; step < steps; step++) {
      if (step % LOOK === 0) {
        if (elapsed() >= 1) return false;
        const share = step / steps;
        state.price = PRICE[0] + (PRICE[1] - PRICE[0]) * share;
        this.#heat = hot * (COLD / hot) ** share;
      }
      this.#step();
    }
    return true;
  }

  /** At most so many steps, until every run is sound. */
  #mend(steps: number, elapsed: () => number): void {
    for (let step = 0; step < steps && this.best === null; step++) {
      if (step % LOOK === 0 && elapsed() >= 1) return;
      this.#step();
    }
  }

  /**
   * So many steps, fewer where time is up: the clock ends the search and has no other say in it. Cooled several times,
   * longer each time, so that a search cut short has been cold already. Then as many again at most until every run is
   * sound, a few of them even late.
   */
  run(steps: number, elapsed: () => number): void {
    const hot = this.#state.run.length <= FEW ? HOT_FEW : HOT_MANY;
    let inTime = true;
    for (const share of ROUNDS) inTime &&= this.#cool(Math.ceil(share * steps), hot, elapsed);
    const settings = new Set(this.#state.turns.stopOf).size;
    for (let more = MORE_ROUNDS; inTime && more > 0; more--)
      inTime =
        this.best !== null && this.best.moves > OFTEN * settings && this.#cool(steps, WARM * hot, elapsed);
    this.#state.price = LAST_PRICE;
    this.#heat = COLD;
    this.#mend(steps, elapsed);
    // What is not sound yet is stirred until it is.
    this.#state.price = PRICE[1];
    this.#heat = HOT_MANY;
    this.#mend(LATE, () => 0);
  }
}
