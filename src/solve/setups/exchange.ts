/**
 * A search from plan to better plan where set-ups cost: all rails of two pieces are shared out between two pieces anew, of
 * any stock, at each step. Of every way to do so one is drawn, cheaper ones likelier by far the colder it is (a heat
 * bath; Kirkpatrick, Gelatt and Vecchi 1983), so that wood and set-ups are weighed against each other by their costs.
 */
import { type Cutting, columnOf } from '../columns/columns.js';
import type { SearchGoal } from '../instance/goal.js';
import type { Instance } from '../instance/instance.js';
import type { Watch } from '../instance/watch.js';

/** Ways to share out two pieces' rails that are looked at; items beyond stay where they are. */
const MOST_WAYS = 3_000;
/** Temperatures in set-ups: the first and the last of a cooling. */
const HOT = 0.7;
const COLD = 0.04;
/** Steps between two looks at the clock; units of work that a step takes, and nodes of its search in a unit. */
const STRIDE = 32;
const WAYS_A_UNIT = 30;
const STEP_UNITS = 4;
/** Tries for a partner that holds one of a piece's items too, and how often any will do. */
const PARTNERS = 6;
const STRANGERS = 0.2;

/** One piece with its rails, heaviest item first. */
interface LaidPiece {
  readonly items: readonly number[];
  readonly counts: readonly number[];
  readonly load: number;
  /** −1 for none: nothing lies on it. */
  readonly group: number;
}

const NOTHING: LaidPiece = { items: [], counts: [], load: 0, group: -1 };

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
  /** Groups by capacity, and for each the cheapest that holds as much. */
  readonly #sorted: readonly number[];
  readonly #limited: boolean;
  readonly #used: Float64Array;
  #pieces: LaidPiece[] = [];
  #value = 0;
  #best: readonly LaidPiece[] = [];
  #least = Number.POSITIVE_INFINITY;
  #unit: number;

  // What the two pieces at hand hold together.
  readonly #pool: number[] = [];
  readonly #all: number[] = [];
  readonly #taken: number[] = [];
  readonly #chosen: number[] = [];
  #nodes = 0;
  #lowest = 0;
  #heat = 0;
  #groupA = -1;
  #groupB = -1;
  #moving = 0;

  constructor(instance: Instance, goal: SearchGoal, random: () => number) {
    this.#instance = instance;
    this.#setup = goal.setup!;
    this.#cost = goal.cost;
    this.#random = random;
    const { groups } = instance;
    this.#sorted = [...groups.keys()].sort((a, b) => goal.cost[a]! - goal.cost[b]!);
    this.#limited = groups.some(({ supply }) => supply !== Number.POSITIVE_INFINITY);
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
    const { weight } = this.#instance;
    this.#pieces = [];
    this.#used.fill(0);
    this.#value = 0;
    for (const { column, times } of plan) {
      const { group } = column;
      const items = [...column.items];
      const counts = [...column.counts];
      const load = items.reduce((sum, i, e) => sum + weight[i]! * counts[e]!, 0);
      const piece = { items, counts, load, group };
      for (let k = 0; k < times; k++) this.#pieces.push(piece);
      this.#used[group]! += times;
      this.#value += times * this.#costOf(piece);
    }
    this.#pieces.push(NOTHING);
    this.#keep();
  }

  #costOf({ items, group }: LaidPiece): number {
    if (group < 0) return 0;
    return items.reduce((sum, i) => sum + this.#setup[i]!, this.#cost[group]!);
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

  /** Cheapest group that holds so much, −1 where none does; `other` has been taken for the second piece already. */
  #groupFor(load: number, other: number): number {
    const { groups } = this.#instance;
    for (const s of this.#sorted) {
      if (groups[s]!.segments[0]! < load) continue;
      if (this.#limited && this.#used[s]! + (s === other ? 1 : 0) >= groups[s]!.supply) continue;
      return s;
    }
    return -1;
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

  /** Puts the items of both pieces into the pool; those that may move first, heaviest first. */
  #gather(a: LaidPiece, b: LaidPiece): void {
    const pool = this.#pool;
    const all = this.#all;
    pool.length = 0;
    all.length = 0;
    let [x, y] = [0, 0];
    while (x < a.items.length || y < b.items.length) {
      const i = a.items[x] ?? Number.POSITIVE_INFINITY;
      const j = b.items[y] ?? Number.POSITIVE_INFINITY;
      pool.push(Math.min(i, j));
      all.push((i <= j ? a.counts[x]! : 0) + (j <= i ? b.counts[y]! : 0));
      if (i <= j) x++;
      if (j <= i) y++;
    }
    let ways = 1;
    for (const count of all) ways *= count + 1;
    // Some stay as they are, so that the ways are not too many.
    this.#moving = pool.length;
    while (ways > MOST_WAYS && this.#moving > 1) {
      const at = this.#pick(this.#moving);
      const last = --this.#moving;
      ways /= all[at]! + 1;
      const [item, count] = [pool[at]!, all[at]!];
      pool.splice(at, 1);
      all.splice(at, 1);
      pool.splice(last, 0, item);
      all.splice(last, 0, count);
    }
  }

  /** Looks at every way to share out the pool from entry `at` on. */
  #share(at: number, loadA: number, loadB: number, charge: number): void {
    this.#nodes++;
    const { largest, weight } = this.#instance;
    if (loadA > largest || loadB > largest || charge >= this.#lowest) return;
    const taken = this.#taken;
    if (at === this.#moving) {
      const groupA = loadA === 0 ? -1 : this.#groupFor(loadA, -1);
      if (loadA > 0 && groupA < 0) return;
      const groupB = loadB === 0 ? -1 : this.#groupFor(loadB, groupA);
      if (loadB > 0 && groupB < 0) return;
      const cost = charge + (groupA < 0 ? 0 : this.#cost[groupA]!) + (groupB < 0 ? 0 : this.#cost[groupB]!);
      if (cost >= this.#lowest) return;
      const key = cost - this.#heat * Math.log(1 - this.#random());
      if (key >= this.#lowest) return;
      this.#lowest = key;
      this.#groupA = groupA;
      this.#groupB = groupB;
      const chosen = this.#chosen;
      for (let e = 0; e < this.#moving; e++) chosen[e] = taken[e]!;
      return;
    }
    const i = this.#pool[at]!;
    const count = this.#all[at]!;
    const w = weight[i]!;
    const f = this.#setup[i]!;
    for (let k = count; k >= 0; k--) {
      taken[at] = k;
      this.#share(
        at + 1,
        loadA + k * w,
        loadB + (count - k) * w,
        charge + (k > 0 ? f : 0) + (k < count ? f : 0),
      );
    }
  }

  #step(): void {
    const pieces = this.#pieces;
    const a = this.#pick(pieces.length);
    const b = this.#partner(a);
    if (b < 0) return;
    const [one, two] = [pieces[a]!, pieces[b]!];
    if (one.group < 0 && two.group < 0) return;
    this.#gather(one, two);
    const { weight } = this.#instance;
    const [pool, all, used] = [this.#pool, this.#all, this.#used];
    // What stays where it is.
    let [loadA, loadB, charge] = [0, 0, 0];
    const still = (piece: LaidPiece, e: number): number => {
      const at = piece.items.indexOf(pool[e]!);
      return at < 0 ? 0 : piece.counts[at]!;
    };
    for (let e = this.#moving; e < pool.length; e++) {
      const [inA, inB] = [still(one, e), still(two, e)];
      const i = pool[e]!;
      loadA += inA * weight[i]!;
      loadB += inB * weight[i]!;
      charge += (inA > 0 ? this.#setup[i]! : 0) + (inB > 0 ? this.#setup[i]! : 0);
    }
    if (one.group >= 0) used[one.group]! -= 1;
    if (two.group >= 0) used[two.group]! -= 1;
    const before = this.#costOf(one) + this.#costOf(two);
    // As they are is one of the ways, with luck of its own.
    this.#lowest = Number.POSITIVE_INFINITY;
    this.#nodes = 0;
    this.#share(0, loadA, loadB, charge);
    if (this.#lowest === Number.POSITIVE_INFINITY) {
      if (one.group >= 0) used[one.group]! += 1;
      if (two.group >= 0) used[two.group]! += 1;
      return;
    }
    const chosen = this.#chosen;
    const part = (first: boolean, group: number, old: LaidPiece): LaidPiece => {
      if (group < 0) return NOTHING;
      const entries: [number, number][] = [];
      for (let e = 0; e < pool.length; e++) {
        const count = e < this.#moving ? (first ? chosen[e]! : all[e]! - chosen[e]!) : still(old, e);
        if (count > 0) entries.push([pool[e]!, count]);
      }
      entries.sort((x, y) => x[0] - y[0]);
      const items = entries.map(([i]) => i);
      const counts = entries.map(([, count]) => count);
      const load = items.reduce((sum, i, e) => sum + weight[i]! * counts[e]!, 0);
      return { items, counts, load, group };
    };
    const newA = part(true, this.#groupA, one);
    const newB = part(false, this.#groupB, two);
    if (newA.group >= 0) used[newA.group]! += 1;
    if (newB.group >= 0) used[newB.group]! += 1;
    this.#value += this.#costOf(newA) + this.#costOf(newB) - before;
    pieces[a] = newA;
    pieces[b] = newB;
    if (one.group < 0 || two.group < 0) this.#tidy();
    this.#keep();
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
      this.#nodes = 0;
      this.#step();
      const units = STEP_UNITS + this.#nodes / WAYS_A_UNIT;
      spent += units;
      watch.spend(units);
    }
  }
}
