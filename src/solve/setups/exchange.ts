/**
 * A search from plan to better plan where set-ups cost: at each step all rails of two pieces are shared out between two
 * pieces anew (`two-pieces.ts`), colder and colder, so that wood and set-ups are weighed against each other by their costs.
 */
import { type Cutting, columnOf } from '../columns/columns.js';
import type { SearchGoal } from '../instance/goal.js';
import type { Instance } from '../instance/instance.js';
import type { Watch } from '../instance/watch.js';
import { TwoPieces } from '../two-pieces.js';

/** Temperatures in set-ups: the first and the last of a cooling. */
const HOT = 0.7;
const COLD = 0.04;
/** Steps between two looks at the clock; units of work that a step takes, and nodes of its search in a unit. */
const STRIDE = 32;
const WAYS_A_UNIT = 90;
const STEP_UNITS = 1.2;
/** Tries for a partner that holds one of a piece's items too, and how often any will do. */
const PARTNERS = 6;
const STRANGERS = 0.2;

/** One piece with its rails, heaviest item first. */
interface LaidPiece {
  readonly items: readonly number[];
  readonly counts: readonly number[];
  /** −1 for none: nothing lies on it. */
  readonly group: number;
  /** With its set-ups. */
  readonly cost: number;
}

const NOTHING: LaidPiece = { items: [], counts: [], group: -1, cost: 0 };

/** Whether the search serves: whole sticks of one kind of item, one goal. */
export function exchanges({ kinds, groups, apart }: Instance, { rows, unmade, setup }: SearchGoal): boolean {
  const whole = groups.every(({ segments }) => segments.length === 1);
  return kinds === null && apart === null && whole && rows.length === 0 && unmade === null && setup != null;
}

export class Exchanging {
  readonly #instance: Instance;
  readonly #setup: Float64Array;
  readonly #cost: readonly number[];
  readonly #random: () => number;
  readonly #used: Float64Array;
  #pieces: LaidPiece[] = [];
  #value = 0;
  #best: readonly LaidPiece[] = [];
  #least = Number.POSITIVE_INFINITY;
  #unit: number;

  #heat = 0;
  readonly #both: TwoPieces;
  readonly #free: (group: number, other: number) => boolean;

  constructor(instance: Instance, goal: SearchGoal, random: () => number) {
    this.#instance = instance;
    this.#setup = goal.setup!;
    this.#cost = goal.cost;
    this.#random = random;
    const { groups } = instance;
    const capacity = groups.map(({ segments }) => segments[0]!);
    this.#both = new TwoPieces({ weight: instance.weight, capacity, cost: goal.cost }, random);
    const supply = groups.map((group) => group.supply);
    this.#free = (group, other) => this.#used[group]! + Number(group === other) < supply[group]!;
    this.#used = new Float64Array(groups.length);
    const charges = goal.setup!.filter((charge) => charge > 0);
    this.#unit = Math.max(1, charges.reduce((sum, charge) => sum + charge, 0) / Math.max(1, charges.length));
  }

  get value(): number {
    return this.#least;
  }

  plan(): Cutting[] {
    return this.#best.map(({ items, counts, group }) => ({
      column: columnOf(this.#instance.n, group, [
        { items: Int32Array.from(items), counts: Int32Array.from(counts) },
      ]),
      times: 1,
    }));
  }

  /** Starts from a plan that makes just the demand. */
  begin(plan: readonly Cutting[]): void {
    this.#pieces = [];
    this.#used.fill(0);
    this.#value = 0;
    for (const { column, times } of plan) {
      const { group } = column;
      const items = [...column.items];
      const counts = [...column.counts];
      const piece = { items, counts, group, cost: this.#costOf(items, group) };
      for (let k = 0; k < times; k++) this.#pieces.push(piece);
      this.#used[group]! += times;
      this.#value += times * piece.cost;
    }
    this.#pieces.push(NOTHING);
    this.#keep();
  }

  #costOf(items: readonly number[], group: number): number {
    let cost = this.#cost[group]!;
    for (let k = 0; k < items.length; k++) cost += this.#setup[items[k]!]!;
    return cost;
  }

  #keep(): void {
    if (this.#value >= this.#least) return;
    this.#least = this.#value;
    this.#best = this.#pieces.filter(({ group }) => group >= 0);
  }

  /** Back to the best plan known. */
  restart(): void {
    this.#pieces = [...this.#best, NOTHING];
    this.#used.fill(0);
    for (const { group } of this.#best) this.#used[group]! += 1;
    this.#value = this.#least;
  }

  #pick(count: number): number {
    return Math.floor(this.#random() * count);
  }

  #partner(a: number): number {
    const pieces = this.#pieces;
    const own = pieces[a]!.items;
    for (let tries = 0; tries < PARTNERS; tries++) {
      const b = this.#pick(pieces.length);
      if (b === a) continue;
      if (tries === 0 && this.#random() < STRANGERS) return b;
      const { items } = pieces[b]!;
      for (const i of items) if (own.includes(i)) return b;
    }
    const b = this.#pick(pieces.length);
    return b === a ? -1 : b;
  }

  #step(): void {
    const pieces = this.#pieces;
    const a = this.#pick(pieces.length);
    const b = this.#partner(a);
    if (b < 0) return;
    const [one, two] = [pieces[a]!, pieces[b]!];
    if (one.group < 0 && two.group < 0) return;
    const [both, used] = [this.#both, this.#used];
    both.gather(one.items, one.counts, two.items, two.counts);
    this.#price();
    if (one.group >= 0) used[one.group]! -= 1;
    if (two.group >= 0) used[two.group]! -= 1;
    // As they are is one of the ways, with luck of its own.
    const drawn = both.draw(this.#heat, this.#free);
    const same = !drawn || (both.unchanged && both.groupA === one.group && both.groupB === two.group);
    if (!same) {
      this.#value -= one.cost + two.cost;
      pieces[a] = this.#drawn(true, both.groupA);
      pieces[b] = this.#drawn(false, both.groupB);
      this.#value += pieces[a].cost + pieces[b].cost;
    }
    const [groupA, groupB] = [pieces[a]!.group, pieces[b]!.group];
    if (groupA >= 0) used[groupA]! += 1;
    if (groupB >= 0) used[groupB]! += 1;
    if (same) return;
    if (one.group < 0 || two.group < 0) this.#tidy();
    this.#keep();
  }

  /** A set-up on each piece that holds the item. */
  #price(): void {
    const { size, items, all, begins, prices } = this.#both;
    for (let e = 0; e < size; e++) {
      const charge = this.#setup[items[e]!]!;
      const [begin, count] = [begins[e]!, all[e]!];
      prices.fill(2 * charge, begin, begin + count);
      prices[begin] = charge;
      prices[begin + count] = charge;
    }
  }

  #drawn(first: boolean, group: number): LaidPiece {
    if (group < 0) return NOTHING;
    const items: number[] = [];
    const counts: number[] = [];
    this.#both.drawn(first, items, counts);
    return { items, counts, group, cost: this.#costOf(items, group) };
  }

  /** Just one piece with nothing on it. */
  #tidy(): void {
    this.#pieces = this.#pieces.filter(({ group }) => group >= 0);
    this.#pieces.push(NOTHING);
  }

  /** Cools once over so many units of work; ends early where the clock or the budget says so. */
  cool(work: number, watch: Watch, done: () => boolean, heat = HOT): void {
    let spent = 0;
    for (let step = 0; spent < work; step++) {
      if (step % STRIDE === 0) {
        if (watch.over() || done()) return;
        this.#heat = this.#unit * heat * (COLD / heat) ** (spent / work);
      }
      this.#both.nodes = 0;
      this.#step();
      const units = STEP_UNITS + this.#both.nodes / WAYS_A_UNIT;
      spent += units;
      watch.spend(units);
    }
  }
}
