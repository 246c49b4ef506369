/** What lies on the lanes of sticks whose rails may change places, and which parts of it may be taken. */
import type { HeldRails } from '../sawing.js';

/** A lane as the search moves its rails about: items in cutting order, with how many of each. */
export interface LooseLane extends HeldRails {
  /** What its rails may take, where they may change places with another lane's; −1 where they may not. */
  readonly capacity: number;
  /** Where angles are unlike: an offcut to keep is left, so `capacity` is for rails and the blade behind them. */
  readonly kept: boolean;
}

/** One physical stick; what it holds is what its lanes hold. */
export interface LooseStick extends HeldRails {
  readonly lanes: readonly LooseLane[];
}

/** Parts of a lane's rails, lightest first: how many of each of its items, part after part. */
export interface Loads {
  readonly weights: Float64Array;
  readonly taken: Uint16Array;
}

/** Parts of one lane listed at most. */
const LOADS = 128;
/** Lanes whose parts are remembered, by what they hold: some 3 kB each. */
const LOADS_KNOWN = 8_192;

function loadsOf(items: readonly number[], counts: readonly number[], weights: readonly number[]): Loads {
  const width = items.length;
  let size = 1;
  for (const count of counts) size = Math.min(LOADS, size * (count + 1));
  const all = new Uint16Array(size * width);
  // A part's weight and its place in one number, so that they are sorted together.
  const keys = new Float64Array(size);
  let weight = 0;
  for (let k = 1; k < size; k++) {
    const [at, before] = [k * width, (k - 1) * width];
    for (let i = 0; i < width; i++) all[at + i] = all[before + i]!;
    let i = 0;
    while (all[at + i] === counts[i]) {
      weight -= weights[items[i]!]! * counts[i]!;
      all[at + i] = 0;
      i += 1;
    }
    all[at + i]! += 1;
    weight += weights[items[i]!]!;
    keys[k] = weight * LOADS + k;
  }
  keys.sort();
  const taken = new Uint16Array(size * width);
  for (let k = 0; k < size; k++) {
    const from = keys[k]! % LOADS;
    keys[k] = (keys[k]! - from) / LOADS;
    for (let i = 0; i < width; i++) taken[k * width + i] = all[from * width + i]!;
  }
  return { weights: keys, taken };
}

/** What rails take of a lane where weights alone do not say it, in cutting order; `kept`: with the blade behind them. */
export type Measure = (items: readonly number[], counts: readonly number[], kept: boolean) => number;

export class Lanes {
  readonly #weights: readonly number[];
  readonly #measure: Measure | null;
  /** By lane. */
  readonly stick: readonly number[];
  readonly items: (readonly number[])[];
  readonly counts: (readonly number[])[];
  readonly #capacity: readonly number[];
  readonly #kept: readonly boolean[];
  readonly #room: number[];
  readonly #loads: (Loads | null)[];
  readonly #known = new Map<string, Loads>();
  /** By stick: its lanes. */
  readonly ofStick: readonly (readonly number[])[];
  /** Lanes whose rails may change places. */
  readonly loose: readonly number[];

  /** `measure`: null where weights say what fits. */
  constructor(sticks: readonly LooseStick[], weights: readonly number[], measure: Measure | null) {
    this.#weights = weights;
    this.#measure = measure;
    const all = sticks.flatMap(({ lanes }, stick) => lanes.map((lane) => ({ stick, ...lane })));
    this.stick = all.map(({ stick }) => stick);
    this.items = all.map(({ items }) => items);
    this.counts = all.map(({ counts }) => counts);
    this.#capacity = all.map(({ capacity }) => capacity);
    this.#kept = all.map(({ kept }) => kept);
    this.#room = all.map(({ items, counts }, lane) => this.#left(lane, items, counts));
    this.#loads = all.map(() => null);
    const ofStick = sticks.map((): number[] => []);
    for (const [lane, { stick }] of all.entries()) ofStick[stick]!.push(lane);
    this.ofStick = ofStick;
    this.loose = [...all.keys()].filter((lane) => this.isLoose(lane));
  }

  /** Where weights alone do not say what fits. */
  get unlike(): boolean {
    return this.#measure !== null;
  }

  get held(): readonly HeldRails[] {
    return this.items.map((items, lane) => ({ items, counts: this.counts[lane]! }));
  }

  isLoose(lane: number): boolean {
    return this.#capacity[lane]! >= 0;
  }

  #left(lane: number, items: readonly number[], counts: readonly number[]): number {
    const kept = this.#kept[lane]!;
    if (this.#measure !== null) return this.#capacity[lane]! - this.#measure(items, counts, kept);
    let left = this.#capacity[lane]!;
    for (let i = 0; i < items.length; i++) left -= this.#weights[items[i]!]! * counts[i]!;
    return left;
  }

  /** What more may lie on it. */
  room(lane: number): number {
    return this.#room[lane]!;
  }

  holds(lane: number, items: readonly number[], counts: readonly number[]): boolean {
    return this.#left(lane, items, counts) >= 0;
  }

  refill(lane: number, { items, counts }: HeldRails): void {
    this.items[lane] = items;
    this.counts[lane] = counts;
    this.#room[lane] = this.#left(lane, items, counts);
    this.#loads[lane] = null;
  }

  /** Every part of what a lane holds, by weight. */
  loads(lane: number): Loads {
    const known = this.#loads[lane];
    if (known != null) return known;
    const [items, counts] = [this.items[lane]!, this.counts[lane]!];
    let key = '';
    for (let i = 0; i < items.length; i++) key += `${items[i]!}x${counts[i]!} `;
    let found = this.#known.get(key);
    if (found === undefined) {
      found = loadsOf(items, counts, this.#weights);
      if (this.#known.size >= LOADS_KNOWN) this.#known.clear();
      this.#known.set(key, found);
    }
    this.#loads[lane] = found;
    return found;
  }
}
