/**
 * A division while it is searched: sticks with their rails, the run each is cut in, and what that costs. Counts are kept
 * up to date as sticks and rails move, so that a step costs as much as it touches.
 */
import type { HeldRails, Turns } from '../sawing.js';

/** What a run too full, and a pair or ring parted, weigh against a stop set. */
const OVERFULL = 2;
/** What a visit weighs: less than any stop set. */
export const VISIT = 0.3;
/** And a pair or ring on several sticks: handy where it is none, and what ties sticks together. */
export const SPLIT = 0.15;

export class DivisionState {
  readonly turns: Turns;
  readonly bench: number;
  /** By stick. */
  readonly items: (readonly number[])[];
  readonly counts: (readonly number[])[];
  readonly run: Int32Array;
  readonly #place: Int32Array;
  /** By run. */
  readonly members: number[][] = [];
  /** By run and stop: sticks. By run and item: how many, of items that belong together. */
  readonly #atStop: Int32Array[] = [];
  readonly #ofItem: Int32Array[] = [];
  readonly #peak: number[] = [];
  /** Runs with an odd number of the smaller bundle, of items that serve two sizes. */
  readonly #odd: Int32Array;
  readonly #change: Int32Array;
  readonly #whole: Uint8Array;
  moves = 0;
  visits = 0;
  parted = 0;
  over = 0;
  begun = 0;
  /** Items of which a stick holds an odd pair or ring: they tie it to others. */
  split = 0;
  /** What a pair or ring parted weighs against a stop set. */
  price = 1.5;
  /** And one more stick begun. */
  begunPrice = 0.005;

  constructor(turns: Turns, sticks: readonly HeldRails[], bench: number) {
    this.turns = turns;
    this.bench = bench;
    this.items = sticks.map(({ items }) => items);
    this.counts = sticks.map(({ counts }) => counts);
    this.run = new Int32Array(sticks.length).fill(-1);
    this.#place = new Int32Array(sticks.length);
    this.#odd = new Int32Array(turns.together.length);
    this.#change = new Int32Array(turns.stopOf.length + 1);
    this.#whole = new Uint8Array(turns.stopOf.length);
  }

  get energy(): number {
    return (
      this.moves +
      this.price * this.parted +
      OVERFULL * this.over +
      VISIT * this.visits +
      SPLIT * this.split +
      this.begunPrice * this.begun
    );
  }

  /** Whether every run keeps to the bench and holds whole pairs and rings. */
  get sound(): boolean {
    return this.parted === 0 && this.over === 0;
  }

  /** Gives the number of a new run. */
  open(): number {
    this.members.push([]);
    this.#atStop.push(new Int32Array(this.turns.weight.length));
    this.#ofItem.push(new Int32Array(this.turns.together.length));
    this.#peak.push(0);
    return this.members.length - 1;
  }

  sticksAt(run: number, stop: number): number {
    return this.#atStop[run]![stop]!;
  }

  /** A run, from `begin` on, that sets this stop and is not the stick's own; −1: none. */
  otherRunAt(stick: number, stop: number, begin: number): number {
    const runs = this.members.length;
    for (let i = 0; i < runs; i++) {
      const run = (begin + i) % runs;
      if (run !== this.run[stick] && this.sticksAt(run, stop) > 0) return run;
    }
    return -1;
  }

  ofItem(run: number, item: number): number {
    return this.#ofItem[run]![item]!;
  }

  stopOf(item: number): number {
    return this.turns.stopOf[this.turns.turnOf[item]!]!;
  }

  #count(run: number, stick: number, sign: 1 | -1): void {
    const { together, loose, weight, turnOf, stopOf } = this.turns;
    const [items, counts] = [this.items[stick]!, this.counts[stick]!];
    const [atStop, ofItem] = [this.#atStop[run]!, this.#ofItem[run]!];
    let last = -1;
    let lastTurn = -1;
    for (let i = 0; i < items.length; i++) {
      const item = items[i]!;
      const turn = turnOf[item]!;
      const stop = stopOf[turn]!;
      if (turn !== lastTurn) this.visits += sign;
      lastTurn = turn;
      if (stop !== last) {
        last = stop;
        const before = atStop[stop]!;
        atStop[stop] = before + sign;
        if (before === 0) this.moves += weight[stop]!;
        else if (before + sign === 0) this.moves -= weight[stop]!;
      }
      const bundle = together[item]!;
      if (bundle === 1 && loose[item]! < 0) continue;
      if (counts[i]! % bundle !== 0) this.split += sign;
      const before = ofItem[item]!;
      const after = before + sign * counts[i]!;
      ofItem[item] = after;
      this.parted += Number(after % bundle !== 0) - Number(before % bundle !== 0);
      if (loose[item]! < 0) continue;
      const odd = this.#odd[item]!;
      const now =
        odd + Number(Math.floor(after / bundle) % 2 === 1) - Number(Math.floor(before / bundle) % 2 === 1);
      this.#odd[item] = now;
      this.parted += Math.max(0, now - loose[item]!) - Math.max(0, odd - loose[item]!);
    }
  }

  add(stick: number, run: number): void {
    this.run[stick] = run;
    this.#place[stick] = this.members[run]!.push(stick) - 1;
    this.#count(run, stick, 1);
  }

  remove(stick: number): void {
    const run = this.run[stick]!;
    const members = this.members[run]!;
    const last = members.pop()!;
    if (last !== stick) {
      members[this.#place[stick]!] = last;
      this.#place[last] = this.#place[stick]!;
    }
    this.run[stick] = -1;
    this.#count(run, stick, -1);
  }

  /** Only while the stick is in no run. */
  refill(stick: number, items: readonly number[], counts: readonly number[]): void {
    this.items[stick] = items;
    this.counts[stick] = counts;
  }

  countOn(stick: number, item: number): number {
    const at = this.items[stick]!.indexOf(item);
    return at < 0 ? 0 : this.counts[stick]![at]!;
  }

  /** Counts a run's sticks begun at once anew; gives what it was before. */
  settle(run: number): number {
    const before = this.#peak[run]!;
    this.resettle(run, this.#begunIn(run));
    return before;
  }

  resettle(run: number, peak: number): void {
    const before = this.#peak[run]!;
    this.#peak[run] = peak;
    this.begun += peak - before;
    this.over += Math.max(0, peak - this.bench) - Math.max(0, before - this.bench);
  }

  /** As `begunMost`, without allocation. */
  #begunIn(run: number): number {
    const [change, whole] = [this.#change, this.#whole];
    const { turnOf } = this.turns;
    const places = whole.length;
    let [low, high] = [places, -1];
    for (const stick of this.members[run]!) {
      const items = this.items[stick]!;
      if (items.length === 0) continue;
      const [first, last] = [turnOf[items[0]!]!, turnOf[items[items.length - 1]!]!];
      if (first < low) low = first;
      if (last > high) high = last;
      if (first === last) whole[first] = 1;
      else {
        change[first]! += 1;
        change[last + 1]! -= 1;
      }
    }
    let [open, most] = [0, 0];
    for (let turn = low; turn <= high; turn++) {
      open += change[turn]!;
      const here = open + whole[turn]!;
      if (here > most) most = here;
      change[turn] = 0;
      whole[turn] = 0;
    }
    if (high >= 0) change[high + 1] = 0;
    return most;
  }
}
