/**
 * Which stick is cut in which run, so that stops are set as seldom as can be: simulated annealing (Kirkpatrick, Gelatt,
 * Vecchi 1983) over three kinds of steps: a stick goes to another run, two sticks change runs, rails of two sticks change
 * places. Every stick stays as long as it is and every rail is cut, so nothing changes that is paid for. Runs too full
 * and pairs parted are allowed on the way, at a price that rises. Effort is counted.
 */
import { randomOf } from '../../solve/random.js';
import type { HeldRails } from '../sawing.js';
import { type DivisionState, type Loads, SPLIT, VISIT } from './state.js';

/** Few sticks are stirred more than many, for which there is not the time to settle again. */
const HOT_FEW = 1.2;
const HOT_MANY = 0.2;
const FEW = 30;
const COLD = 0.04;
const PRICE = [1, 3] as const;
const LAST_PRICE = 8;
/** Steps, some 10 µs each, that are made late where otherwise a run would be overfull. */
const LATE = 150_000;
/** Shares of the steps; the rest exchange rails. */
const RELOCATED = 0.2;
const SWAPPED = 0.2;
/** Share of exchanges taken at random among those that fit. */
const ANY = 0.2;
/** Exchanges that fit, collected before one is chosen. */
const ENOUGH = 24;
/** Sticks of another run looked at for one exchange. */
const PARTNERS = 12;
/** Steps between looks at the clock. */
const LOOK = 256;

/** Sticks as they are cut, and in which runs. */
export interface Divided {
  readonly moves: number;
  readonly energy: number;
  readonly run: Int32Array;
  readonly items: readonly (readonly number[])[];
  readonly counts: readonly (readonly number[])[];
}

/** The items of a stick, `away` taken from them and `here` of another added. */
function changed(
  items: readonly number[],
  counts: readonly number[],
  away: Uint16Array,
  others: readonly number[],
  here: Uint16Array,
): HeldRails {
  const [allItems, allCounts]: [number[], number[]] = [[], []];
  let [i, j] = [0, 0];
  while (i < items.length || j < others.length) {
    const a = i < items.length ? items[i]! : Number.POSITIVE_INFINITY;
    const b = j < others.length ? others[j]! : Number.POSITIVE_INFINITY;
    let count = 0;
    if (a <= b) count += counts[i]! - away[i]!;
    if (b <= a) count += here[j]!;
    if (count > 0) {
      allItems.push(Math.min(a, b));
      allCounts.push(count);
    }
    if (a <= b) i += 1;
    if (b <= a) j += 1;
  }
  return { items: allItems, counts: allCounts };
}

function partOf({ taken }: Loads, part: number, width: number): Uint16Array {
  return taken.subarray(part * width, (part + 1) * width);
}

export class Annealing {
  readonly #state: DivisionState;
  readonly #random: () => number;
  readonly #loose: readonly number[];
  readonly #fits = new Int32Array(3 * ENOUGH);
  #found = 0;
  #heat = HOT_MANY;
  #threshold = 0;
  best: Divided | null = null;

  constructor(state: DivisionState, seed: number) {
    this.#state = state;
    this.#random = randomOf(seed);
    this.#loose = [...state.capacity.keys()].filter((stick) => state.capacity[stick]! >= 0);
    this.#keep();
  }

  /** As the search left it, sound or not. */
  get last(): Divided {
    const { moves, energy, run, items, counts } = this.#state;
    return { moves, energy, run, items, counts };
  }

  #pick(count: number): number {
    return Math.floor(this.#random() * count);
  }

  #keep(): void {
    const state = this.#state;
    if (!state.sound) return;
    const { moves, energy } = state;
    if (
      this.best !== null &&
      (moves > this.best.moves || (moves === this.best.moves && energy >= this.best.energy))
    )
      return;
    this.best = { moves, energy, run: state.run.slice(), items: [...state.items], counts: [...state.counts] };
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
      const begin = this.#pick(runs);
      for (let i = 0; i < runs; i++) {
        const run = (begin + i) % runs;
        if (run !== state.run[stick] && state.sticksAt(run, stop) > 0) return run;
      }
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

  /**
   * What may leave `a` for `b` and come from there so that both keep to their lengths; `a` gives all of its item `at`, or
   * an odd number of it. Adds to the exchanges collected: the other stick and both parts.
   */
  #collect(a: number, b: number, at: number, all: boolean): void {
    const state = this.#state;
    const [from, to] = [state.loads(a), state.loads(b)];
    const [fromWeights, toWeights, taken] = [from.weights, to.weights, from.taken];
    const roomA = state.capacity[a]! - state.load[a]!;
    const roomB = state.capacity[b]! - state.load[b]!;
    const held = state.counts[a]![at]!;
    const width = state.items[a]!.length;
    const fits = this.#fits;
    let begin = 0;
    for (let k = 0; k < fromWeights.length; k++) {
      const gives = taken[k * width + at]!;
      if (all ? gives !== held : gives % 2 === 0) continue;
      const weight = fromWeights[k]!;
      while (begin < toWeights.length && toWeights[begin]! < weight - roomB) begin += 1;
      for (let l = begin; l < toWeights.length && toWeights[l]! <= weight + roomA; l++) {
        if (this.#found >= ENOUGH) return;
        fits[3 * this.#found] = b;
        fits[3 * this.#found + 1] = k;
        fits[3 * this.#found + 2] = l;
        this.#found += 1;
      }
    }
  }

  /** The exchange that looks best, by the stops each run has to set for it and the pairs it parts; now and then any. */
  #choice(a: number): number {
    const [fits, found] = [this.#fits, this.#found];
    const begin = this.#pick(found);
    if (this.#random() < ANY) return begin;
    let [best, least] = [begin, Number.POSITIVE_INFINITY];
    for (let k = 0; k < found; k++) {
      const at = (begin + k) % found;
      const other = fits[3 * at]!;
      const cost = this.#goes(a, other, fits[3 * at + 1]!) + this.#goes(other, a, fits[3 * at + 2]!);
      if (cost < least) [best, least] = [at, cost];
    }
    return best;
  }

  /** Roughly what it costs that a part of a stick goes to another, each item at a stop of its own. */
  #goes(stick: number, to: number, part: number): number {
    const state = this.#state;
    const { together, weight } = state.turns;
    const [items, counts] = [state.items[stick]!, state.counts[stick]!];
    const [from, into] = [state.run[stick]!, state.run[to]!];
    const there = state.items[to]!;
    const { taken } = state.loads(stick);
    let cost = 0;
    for (let i = 0; i < items.length; i++) {
      const count = taken[part * items.length + i]!;
      if (count === 0) continue;
      const item = items[i]!;
      const stop = state.stopOf(item);
      const has = there.includes(item);
      if (!has) cost += VISIT;
      if (count === counts[i]) cost -= VISIT;
      const bundle = together[item]!;
      if (bundle > 1) {
        const held = has ? state.counts[to]![there.indexOf(item)]! : 0;
        const odd = Number((counts[i]! - count) % bundle !== 0) + Number((held + count) % bundle !== 0);
        cost += SPLIT * (odd - Number(counts[i]! % bundle !== 0) - Number(held % bundle !== 0));
      }
      if (from === into) continue;
      if (count === counts[i] && state.sticksAt(from, stop) === 1) cost -= weight[stop]!;
      if (!has && state.sticksAt(into, stop) === 0) cost += weight[stop]!;
      if (bundle === 1) continue;
      const [a, b] = [state.ofItem(from, item), state.ofItem(into, item)];
      const before = Number(a % bundle !== 0) + Number(b % bundle !== 0);
      cost +=
        state.price * (Number((a - count) % bundle !== 0) + Number((b + count) % bundle !== 0) - before);
    }
    return cost;
  }

  /** A stick worth changing: of a few, one with a pair parted or a stop that its run sets for hardly another stick. */
  #stick(): number {
    let [best, least] = [-1, Number.POSITIVE_INFINITY];
    for (let tries = 0; tries < 3; tries++) {
      const stick = this.#loose[this.#pick(this.#loose.length)]!;
      const worth = this.#alone(stick, this.#itemOf(stick));
      if (worth < least) [best, least] = [stick, worth];
    }
    return best;
  }

  /** Of a stick's items, now and then any, else the one that its run has least need to set a stop for. */
  #itemOf(stick: number): number {
    const items = this.#state.items[stick]!;
    const begin = this.#pick(items.length);
    if (this.#random() < ANY) return begin;
    let [best, least] = [begin, Number.POSITIVE_INFINITY];
    for (let k = 0; k < items.length; k++) {
      const at = (begin + k) % items.length;
      const worth = this.#alone(stick, at);
      if (worth < least) [best, least] = [at, worth];
    }
    return best;
  }

  /** How many sticks of the run share the stop of an item; less where the run parts a pair of it. */
  #alone(stick: number, at: number): number {
    const state = this.#state;
    const item = state.items[stick]![at]!;
    const run = state.run[stick]!;
    const bundle = state.turns.together[item]!;
    const parted = bundle > 1 && state.ofItem(run, item) % bundle !== 0;
    return state.sticksAt(run, state.stopOf(item)) - (parted ? 2 : 0);
  }

  /** Exchanges rails with a stick of a run that sets one of their stops, too. */
  #exchange(): void {
    const state = this.#state;
    if (this.#loose.length < 2) return;
    const a = this.#stick();
    const [itemsA, countsA] = [state.items[a]!, state.counts[a]!];
    const at = this.#itemOf(a);
    const odd = countsA[at]! % state.turns.together[itemsA[at]!]! !== 0;
    const [runA, runB] = [state.run[a]!, this.#runWith(a, itemsA[at]!)];
    const others = state.members[runB]!;
    if (others.length === 0) return;
    this.#found = 0;
    const first = this.#pick(others.length);
    for (let k = 0; k < Math.min(PARTNERS, others.length) && this.#found < ENOUGH; k++) {
      const b = others[(first + k) % others.length]!;
      if (b !== a && state.capacity[b]! >= 0) this.#collect(a, b, at, !odd);
    }
    if (this.#found === 0) return;
    const runs = runA === runB ? [runA] : [runA, runB];
    const before = state.energy;
    const chosen = 3 * this.#choice(a);
    const other = this.#fits[chosen]!;
    const [itemsB, countsB] = [state.items[other]!, state.counts[other]!];
    const away = partOf(state.loads(a), this.#fits[chosen + 1]!, itemsA.length);
    const here = partOf(state.loads(other), this.#fits[chosen + 2]!, itemsB.length);
    const newA = changed(itemsA, countsA, away, itemsB, here);
    const newB = changed(itemsB, countsB, here, itemsA, away);
    // A stick without rails would not be used any more, and which are used is part of what was proven.
    if (newA.items.length === 0 || newB.items.length === 0) return;
    const [loadsA, loadsB] = [state.loads(a), state.loads(other)];
    const refill = (one: HeldRails, two: HeldRails): void => {
      state.remove(a);
      state.remove(other);
      state.refill(a, one.items, one.counts);
      state.refill(other, two.items, two.counts);
      state.add(a, runA);
      state.add(other, runB);
    };
    refill(newA, newB);
    if (this.#stands(before, runs)) return;
    refill({ items: itemsA, counts: countsA }, { items: itemsB, counts: countsB });
    state.knownLoads(a, loadsA);
    state.knownLoads(other, loadsB);
  }

  /** Another run that sets the stop of this item; the stick's own where none does. */
  #runWith(stick: number, item: number): number {
    const state = this.#state;
    const runs = state.members.length;
    const stop = state.stopOf(item);
    const begin = this.#pick(runs);
    for (let i = 0; i < runs; i++) {
      const run = (begin + i) % runs;
      if (run !== state.run[stick] && state.sticksAt(run, stop) > 0) return run;
    }
    return state.run[stick]!;
  }

  #step(): void {
    this.#threshold = -this.#heat * Math.log(1 - this.#random());
    const kind = this.#random();
    if (kind < RELOCATED) this.#relocate();
    else if (kind < RELOCATED + SWAPPED) this.#swap();
    else this.#exchange();
    this.#keep();
  }

  /** So many steps, fewer where time is up; then as many again at most until every run is sound, a few of them even late. */
  run(steps: number, elapsed: () => number): void {
    const state = this.#state;
    const hot = state.run.length <= FEW ? HOT_FEW : HOT_MANY;
    let late = LATE;
    let share = 0;
    for (let step = 0; share < 1 || this.best === null; step++) {
      if (step % LOOK === 0) {
        const passed = elapsed();
        if (passed >= 1) late -= LOOK;
        if (step >= 2 * steps || late < 0) break;
        share = Math.min(1, Math.max(step / steps, passed));
        const isLate = passed >= 1;
        state.price = share < 1 ? PRICE[0] + (PRICE[1] - PRICE[0]) * share : isLate ? PRICE[1] : LAST_PRICE;
        // Late, what is not sound yet is stirred until it is.
        this.#heat = isLate ? HOT_MANY : hot * (COLD / hot) ** share;
      }
      this.#step();
    }
  }
}
