/** Rails of two sticks change places, each stick as long as it is: what fits is listed, and what looks best is tried. */
import type { HeldRails } from '../sawing.js';
import { type DivisionState, type Loads, SPLIT, VISIT } from './state.js';

/** Share of exchanges taken at random among those that fit. */
const ANY = 0.2;
/** Exchanges that fit, collected before one is chosen. */
const ENOUGH = 24;
/** Sticks of another run looked at for one exchange. */
const PARTNERS = 12;

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

export class Exchanges {
  readonly #state: DivisionState;
  readonly #random: () => number;
  /** Sticks whose rails may change places. */
  readonly #loose: readonly number[];
  readonly #fits = new Int32Array(3 * ENOUGH);
  #found = 0;

  constructor(state: DivisionState, random: () => number) {
    this.#state = state;
    this.#random = random;
    this.#loose = [...state.capacity.keys()].filter((stick) => state.capacity[stick]! >= 0);
  }

  #pick(count: number): number {
    return Math.floor(this.#random() * count);
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

  /** Exchanges rails with a stick of a run that sets one of their stops, too, unless what follows may not stand. */
  exchange(stands: (before: number, runs: readonly number[]) => boolean): void {
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
    if (stands(before, runs)) return;
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
}
