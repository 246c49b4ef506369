/** Rails of two sticks change places, each lane as long as it is: what fits is listed, and what looks best is tried. */
import type { HeldRails } from '../sawing.js';
import type { Lanes, Loads } from './lanes.js';
import { type DivisionState, SPLIT, VISIT } from './state.js';

/** Share of exchanges taken at random among those that fit. */
const ANY = 0.2;
/** Exchanges that fit, collected before one is chosen. */
const ENOUGH = 6;
/** Sticks of another run looked at for one exchange. */
const PARTNERS = 6;

/** The items of a lane, `away` taken from them and `here` of another added. */
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

/** All that lies on some lanes. */
function gathered(lanes: readonly HeldRails[]): HeldRails {
  const found = new Map<number, number>();
  for (const { items, counts } of lanes)
    for (let i = 0; i < items.length; i++) found.set(items[i]!, (found.get(items[i]!) ?? 0) + counts[i]!);
  const items = [...found.keys()].sort((a, b) => a - b);
  return { items, counts: items.map((item) => found.get(item)!) };
}

export class Exchanges {
  readonly #state: DivisionState;
  readonly #lanes: Lanes;
  readonly #random: () => number;
  /** The other lane and both parts. */
  readonly #fits = new Int32Array(3 * ENOUGH);
  #found = 0;

  constructor(state: DivisionState, lanes: Lanes, random: () => number) {
    this.#state = state;
    this.#lanes = lanes;
    this.#random = random;
  }

  #pick(count: number): number {
    return Math.floor(this.#random() * count);
  }

  /** What lies on lane `a` once it has given and taken its part. */
  #after(a: number, gives: number, b: number, takes: number): HeldRails {
    const lanes = this.#lanes;
    const [items, others] = [lanes.items[a]!, lanes.items[b]!];
    return changed(
      items,
      lanes.counts[a]!,
      partOf(lanes.loads(a), gives, items.length),
      others,
      partOf(lanes.loads(b), takes, others.length),
    );
  }

  /** Whether both lanes hold what would lie on them; beyond what weights say where angles are unlike. */
  #bothHold(a: number, b: number, gives: number, takes: number): boolean {
    const lanes = this.#lanes;
    if (!lanes.unlike) return true;
    const [one, other] = [this.#after(a, gives, b, takes), this.#after(b, takes, a, gives)];
    return lanes.holds(a, one.items, one.counts) && lanes.holds(b, other.items, other.counts);
  }

  /**
   * What may leave lane `a` for `b` and come from there so that both hold the rest; `a` gives all of its item `at`, or
   * an odd number of it. Adds to the exchanges collected.
   */
  #collect(a: number, b: number, at: number, all: boolean): void {
    const lanes = this.#lanes;
    const [from, to] = [lanes.loads(a), lanes.loads(b)];
    const [fromWeights, toWeights, taken] = [from.weights, to.weights, from.taken];
    const [roomA, roomB] = [lanes.room(a), lanes.room(b)];
    const held = lanes.counts[a]![at]!;
    const width = lanes.items[a]!.length;
    const fits = this.#fits;
    let begin = 0;
    for (let k = 0; k < fromWeights.length; k++) {
      const gives = taken[k * width + at]!;
      if (all ? gives !== held : gives % 2 === 0) continue;
      const weight = fromWeights[k]!;
      while (begin < toWeights.length && toWeights[begin]! < weight - roomB) begin += 1;
      for (let l = begin; l < toWeights.length && toWeights[l]! <= weight + roomA; l++) {
        if (this.#found >= ENOUGH) return;
        if (!this.#bothHold(a, b, k, l)) continue;
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

  /** Of an item on a lane, how many its stick holds. */
  #onStick(lane: number, i: number): number {
    const stick = this.#lanes.stick[lane]!;
    const count = this.#lanes.counts[lane]![i]!;
    if (this.#lanes.ofStick[stick]!.length === 1) return count;
    return this.#state.countOn(stick, this.#lanes.items[lane]![i]!);
  }

  /** Roughly what it costs that a part of a lane goes to another, each item at a stop of its own. */
  #goes(lane: number, to: number, part: number): number {
    const [state, lanes] = [this.#state, this.#lanes];
    const { together, weight } = state.turns;
    const items = lanes.items[lane]!;
    const [stick, other] = [lanes.stick[lane]!, lanes.stick[to]!];
    const [from, into] = [state.run[stick]!, state.run[other]!];
    const there = state.items[other]!;
    const { taken } = lanes.loads(lane);
    let cost = 0;
    for (let i = 0; i < items.length; i++) {
      const count = taken[part * items.length + i]!;
      if (count === 0) continue;
      const item = items[i]!;
      const stop = state.stopOf(item);
      const own = this.#onStick(lane, i);
      const place = there.indexOf(item);
      if (place < 0) cost += VISIT;
      if (count === own) cost -= VISIT;
      const bundle = together[item]!;
      if (bundle > 1) {
        const held = place < 0 ? 0 : state.counts[other]![place]!;
        const odd = Number((own - count) % bundle !== 0) + Number((held + count) % bundle !== 0);
        cost += SPLIT * (odd - Number(own % bundle !== 0) - Number(held % bundle !== 0));
      }
      if (from === into) continue;
      if (count === own && state.sticksAt(from, stop) === 1) cost -= weight[stop]!;
      if (place < 0 && state.sticksAt(into, stop) === 0) cost += weight[stop]!;
      if (bundle === 1) continue;
      const [a, b] = [state.ofItem(from, item), state.ofItem(into, item)];
      const before = Number(a % bundle !== 0) + Number(b % bundle !== 0);
      cost +=
        state.price * (Number((a - count) % bundle !== 0) + Number((b + count) % bundle !== 0) - before);
    }
    return cost;
  }

  /** A lane worth changing: of a few, one with a pair parted or a stop that its run sets for hardly another stick. */
  #lane(): number {
    const { loose } = this.#lanes;
    let [best, least] = [-1, Number.POSITIVE_INFINITY];
    for (let tries = 0; tries < 3; tries++) {
      const lane = loose[this.#pick(loose.length)]!;
      const worth = this.#alone(lane, this.#itemOf(lane));
      if (worth < least) [best, least] = [lane, worth];
    }
    return best;
  }

  /** Of a lane's items, now and then any, else the one that its run has least need to set a stop for. */
  #itemOf(lane: number): number {
    const items = this.#lanes.items[lane]!;
    const begin = this.#pick(items.length);
    if (this.#random() < ANY) return begin;
    let [best, least] = [begin, Number.POSITIVE_INFINITY];
    for (let k = 0; k < items.length; k++) {
      const at = (begin + k) % items.length;
      const worth = this.#alone(lane, at);
      if (worth < least) [best, least] = [at, worth];
    }
    return best;
  }

  /** How many sticks of the run share the stop of an item; less where the run parts a pair of it. */
  #alone(lane: number, at: number): number {
    const state = this.#state;
    const item = this.#lanes.items[lane]![at];
    if (item === undefined) return Number.POSITIVE_INFINITY;
    const run = state.run[this.#lanes.stick[lane]!]!;
    const bundle = state.turns.together[item]!;
    const parted = bundle > 1 && state.ofItem(run, item) % bundle !== 0;
    return state.sticksAt(run, state.stopOf(item)) - (parted ? 2 : 0);
  }

  /** What a stick holds once a lane of it holds this. */
  #stickWith(lane: number, held: HeldRails): HeldRails {
    const lanes = this.#lanes;
    const own = lanes.ofStick[lanes.stick[lane]!]!;
    if (own.length === 1) return held;
    return gathered(
      own.map((one) => (one === lane ? held : { items: lanes.items[one]!, counts: lanes.counts[one]! })),
    );
  }

  /** Exchanges rails with a lane of a run that sets one of their stops, too, unless what follows may not stand. */
  exchange(stands: (before: number, runs: readonly number[]) => boolean): void {
    const [state, lanes] = [this.#state, this.#lanes];
    if (lanes.loose.length < 2) return;
    const a = this.#lane();
    if (a < 0) return;
    const stick = lanes.stick[a]!;
    const itemsA = lanes.items[a]!;
    const at = this.#itemOf(a);
    const odd = this.#onStick(a, at) % state.turns.together[itemsA[at]!]! !== 0;
    const [runA, runB] = [state.run[stick]!, this.#runWith(stick, itemsA[at]!)];
    const others = state.members[runB]!;
    if (others.length === 0) return;
    this.#found = 0;
    const first = this.#pick(others.length);
    for (let k = 0; k < Math.min(PARTNERS, others.length) && this.#found < ENOUGH; k++) {
      const partner = others[(first + k) % others.length]!;
      if (partner === stick) continue;
      for (const b of lanes.ofStick[partner]!) if (lanes.isLoose(b)) this.#collect(a, b, at, !odd);
    }
    if (this.#found === 0) return;
    const runs = runA === runB ? [runA] : [runA, runB];
    const before = state.energy;
    const chosen = 3 * this.#choice(a);
    const [b, gives, takes] = [this.#fits[chosen]!, this.#fits[chosen + 1]!, this.#fits[chosen + 2]!];
    const other = lanes.stick[b]!;
    const [newA, newB] = [this.#after(a, gives, b, takes), this.#after(b, takes, a, gives)];
    const [one, two] = [this.#stickWith(a, newA), this.#stickWith(b, newB)];
    // A stick without rails would not be used any more, and which are used is part of what was proven.
    if (one.items.length === 0 || two.items.length === 0) return;
    const wasOne = { items: state.items[stick]!, counts: state.counts[stick]! };
    const wasTwo = { items: state.items[other]!, counts: state.counts[other]! };
    const refill = (heldOne: HeldRails, heldTwo: HeldRails): void => {
      state.remove(stick);
      state.remove(other);
      state.refill(stick, heldOne.items, heldOne.counts);
      state.refill(other, heldTwo.items, heldTwo.counts);
      state.add(stick, runA);
      state.add(other, runB);
    };
    refill(one, two);
    if (stands(before, runs)) {
      lanes.refill(a, newA);
      lanes.refill(b, newB);
      return;
    }
    refill(wasOne, wasTwo);
  }

  /** Another run that sets the stop of this item; the stick's own where none does. */
  #runWith(stick: number, item: number): number {
    const state = this.#state;
    const run = state.otherRunAt(stick, state.stopOf(item), this.#pick(state.members.length));
    return run < 0 ? state.run[stick]! : run;
  }
}
