/**
 * A bound where set-ups cost, over the numbers of pieces that a plan may use. Wood comes in whole pieces, and what a
 * linear programme saves by parts of pieces is soon more than all that is left to prove. So the numbers of pieces that
 * may still be the best are listed, and each has a bound of its own on what its set-ups come to.
 *
 * Any values u ≥ 0 of the items serve all numbers at once: where v_s is the most that a pattern of stock s is worth less
 * its set-ups, n_s pieces of each stock that make the demand d are set up for no less than Σ u·d − Σ v_s·n_s (a cut in
 * the sense of Benders 1962). Only whole numbers are claimed from.
 */
import type { Duals } from '../bounds/bound.js';
import type { Column } from '../columns/columns.js';
import { Master } from '../columns/master.js';
import type { SearchGoal } from '../instance/goal.js';
import type { Instance } from '../instance/instance.js';
import type { Incumbent } from '../packing/packing.js';
import { Settling, type SettlingTask } from './settling.js';

/** Numbers of pieces listed at most, and nodes it may take; beyond, nothing is claimed. */
const MOST_NUMBERS = 4_000;
const MOST_NODES = 200_000;
const MOST_GROUPS = 12;
/** Columns a round of pricing adds at most. */
const MOST_COLUMNS = 30;
/** What leaving an item out costs, in set-ups: numbers that hold too little are closed by it. */
const UNMADE = 400;
/** Set-ups between the best plan and the bound from which on the numbers of least bound are asked. */
const NEAR = 12;
/** Nodes of a tree between looks at how much has been done. */
const NODES = 20;
/** Bits of the sums of a cut, so that they are exact doubles. */
const BITS = 50;

/** Numbers of pieces that a plan cheaper than the best may use, and what is proven of it. */
interface PieceNumbers {
  readonly pieces: Float64Array;
  /** Of the pieces alone. */
  readonly cost: number;
  /** Set-ups come to no less. */
  setups: number;
  /** Its linear programme has been solved to the end. */
  final: boolean;
}

/** Set-ups ≥ (need − Σ worth·pieces) / scale, for all numbers of pieces. */
interface SetupCut {
  readonly need: number;
  readonly worth: Float64Array;
  readonly scale: number;
}

function cutOf({ demand, n }: Instance, { item, worth, scale }: Duals): SetupCut | null {
  if (!worth.every((v) => v <= Number.MAX_SAFE_INTEGER)) return null;
  let need = 0n;
  for (let i = 0; i < n; i++) need += BigInt(item[i]!) * BigInt(demand[i]!);
  const shift = BigInt(Math.max(0, need.toString(2).length - BITS));
  const shrunk = scale / Number(1n << shift);
  // The scale is a power of two, so that dividing by it is exact.
  if (shrunk < 1 || !Number.isInteger(Math.log2(shrunk))) return null;
  return {
    need: Number(need >> shift),
    worth: Float64Array.from(worth, (v) => {
      const whole = BigInt(Math.max(0, Math.ceil(v)));
      return Number(shift === 0n ? whole : (whole >> shift) + 1n);
    }),
    scale: shrunk,
  };
}

/** All numbers of pieces that hold enough by length for less than `below`; null where they are too many. */
function numbersBelow(
  { groups, weight, demand, n }: Instance,
  cost: readonly number[],
  holds: Float64Array,
  below: number,
): PieceNumbers[] | null {
  let need = 0;
  for (let i = 0; i < n; i++) need += weight[i]! * demand[i]!;
  const pieces = new Float64Array(groups.length);
  const counted: number[] = [];
  for (const [s, { supply }] of groups.entries()) {
    if (holds[s] === 0) continue;
    if (cost[s]! > 0) counted.push(s);
    else if (supply === Number.POSITIVE_INFINITY) return null;
    else {
      pieces[s] = supply;
      need -= holds[s]! * supply;
    }
  }
  if (counted.length > MOST_GROUPS) return null;
  counted.sort((a, b) => cost[a]! / holds[a]! - cost[b]! / holds[b]!);
  const found: PieceNumbers[] = [];
  let nodes = 0;
  const list = (at: number, left: number, paid: number): boolean => {
    if (nodes++ > MOST_NODES) return false;
    if (at === counted.length) {
      if (left <= 0) found.push({ pieces: pieces.slice(), cost: paid, setups: 0, final: false });
      return found.length <= MOST_NUMBERS;
    }
    const s = counted[at]!;
    const next = counted[at + 1];
    for (let k = 0; k <= groups[s]!.supply; k++) {
      const now = paid + k * cost[s]!;
      if (now >= below) break;
      const rest = left - k * holds[s]!;
      // What is left costs at least the next rate; with a hair for the division's rounding.
      if (rest > 0 && (next === undefined || now + (rest / holds[next]!) * cost[next]! > below + 1)) continue;
      pieces[s] = k;
      if (!list(at + 1, rest, now)) return false;
    }
    pieces[s] = 0;
    return true;
  };
  return list(0, need, 0) ? found : null;
}

function gcd(a: number, b: number): number {
  let [x, y] = [a, b];
  while (y !== 0) [x, y] = [y, x % y];
  return x;
}

export interface NumbersTask extends SettlingTask {
  /** Set-ups come to no less in any plan. */
  readonly least: number;
}

export class NumbersBound {
  readonly #instance: Instance;
  readonly #goal: SearchGoal;
  readonly #at: Incumbent;
  readonly #least: number;
  readonly #holds: Float64Array;
  readonly #grain: number;
  #open: PieceNumbers[] | null = null;
  #master: Master | null = null;
  #most: Float64Array | null = null;
  readonly #task: NumbersTask;
  /** Of the numbers that were looked at last, where they are still open. */
  #settling: { readonly of: PieceNumbers; readonly search: Settling } | null = null;
  readonly #make: (instance: Instance, goal: SearchGoal) => Master;

  constructor(task: NumbersTask, at: Incumbent) {
    const { instance, goal, knapsack, factory, holds, least } = task;
    this.#task = task;
    this.#instance = instance;
    this.#goal = goal;
    this.#at = at;
    this.#least = least;
    this.#holds = holds;
    this.#grain = Math.max(1, goal.setup!.reduce(gcd, 0));
    this.#make = (limited, setups) => new Master(limited, setups, knapsack, factory, at.watch);
  }

  dispose(): void {
    this.#settling?.search.dispose();
    this.#settling = null;
    this.#master?.dispose();
    this.#master = null;
  }

  #boundOf({ pieces }: PieceNumbers, { need, worth, scale }: SetupCut): number {
    let rest = need;
    for (let s = 0; s < worth.length; s++) rest -= worth[s]! * pieces[s]!;
    return rest <= 0 ? 0 : Math.ceil(rest / scale / this.#grain) * this.#grain;
  }

  #learn(duals: Duals): void {
    const cut = cutOf(this.#instance, duals);
    if (cut === null) return;
    for (const one of this.#open!) one.setups = Math.max(one.setups, this.#boundOf(one, cut));
    this.#close();
  }

  #close(): void {
    const { value } = this.#at;
    this.#open = this.#open!.filter(({ cost, setups }) => cost + setups < value);
    const least = this.#open.reduce((low, { cost, setups }) => Math.min(low, cost + setups), value);
    this.#at.raise(least);
  }

  /** Lists the numbers of pieces, if not done before; false where they are too many. */
  #list(): boolean {
    if (this.#open !== null) return true;
    const { value } = this.#at;
    const found = numbersBelow(this.#instance, this.#goal.cost, this.#holds, value - this.#least);
    this.#at.watch.spend(1_000);
    if (found === null) return false;
    this.#open = found;
    for (const one of found) one.setups = this.#least;
    return true;
  }

  #programme(columns: Iterable<Column>): Master {
    if (this.#master !== null) return this.#master;
    const { groups, n } = this.#instance;
    const most = groups.map((_, s) => this.#open!.reduce((top, { pieces }) => Math.max(top, pieces[s]!), 0));
    this.#most = Float64Array.from(most);
    const charges = this.#goal.setup!;
    const dear = UNMADE * charges.reduce((top, charge) => Math.max(top, charge), 1);
    const master = this.#make(
      { ...this.#instance, groups: groups.map((group, s) => ({ ...group, supply: most[s]! })) },
      {
        cost: groups.map(() => 0),
        rows: [],
        unmade: Array.from({ length: n }, () => dear),
        setup: charges,
      },
    );
    for (const column of columns) master.add(column);
    this.#master = master;
    return master;
  }

  /** Solves the linear programme of the numbers whose bound is least, again and again, until that bound is final. */
  run(columns: Iterable<Column>): void {
    const { watch } = this.#at;
    if (!this.#list()) return;
    this.#close();
    if (this.#open!.length === 0) return;
    const master = this.#programme(columns);
    const demand = this.#instance.demand;
    while (!this.#at.done && !watch.over()) {
      const next = this.#leastOpen();
      if (next === null || next.final) return;
      master.restrict(
        demand,
        this.#most!.map((most, s) => most - next.pieces[s]!),
      );
      while (next.cost + next.setups < this.#at.value) {
        if (watch.over()) return;
        if (master.solve(watch.seconds()) === null) return;
        const duals = master.duals();
        const added = master.pricing.price(duals, demand, MOST_COLUMNS);
        this.#learn(duals);
        if (this.#at.done) return;
        if (added === 0) {
          next.final = true;
          break;
        }
      }
    }
  }

  /** The numbers whose bound is least. */
  #leastOpen(): PieceNumbers | null {
    let next: PieceNumbers | null = null;
    for (const one of this.#open ?? [])
      if (next === null || one.cost + one.setups < next.cost + next.setups) next = one;
    return next;
  }

  /**
   * Whether the numbers whose bound is least have a plan at that bound, again and again, for so much work; where that
   * does not tell, it goes on the next time.
   */
  settle(work: number): void {
    const { watch } = this.#at;
    for (const end = watch.spent + work; watch.spent < end && !this.#at.done && !watch.over(); ) {
      this.run([]);
      const of = this.#leastOpen();
      if (of === null || this.#master === null || !of.final) return;
      if (this.#at.value - of.cost - of.setups > NEAR * this.#grain) return;
      const search = this.#settlingOf(of);
      if (search.useless) return;
      const { status, plan } = search.run(watch, NODES);
      if (plan !== null) this.#at.take(plan);
      if (status === 'infeasible') of.setups += this.#grain;
      this.#close();
    }
  }

  #settlingOf(of: PieceNumbers): Settling {
    const known = this.#settling;
    if (known?.of === of && known.search.mark === of.setups) return known.search;
    known?.search.dispose();
    const search = new Settling(this.#task, of.pieces, of.setups, this.#master!.columns, this.#at.watch);
    this.#settling = { of, search };
    return search;
  }

  /** So many of the numbers of pieces still open, least bound first, taken in turn from the one after `from`. */
  open(count: number, from: number): readonly Float64Array[] {
    if (!this.#list()) return [];
    const all = [...this.#open!].sort((a, b) => a.cost + a.setups - b.cost - b.setups);
    return Array.from(
      { length: Math.min(count, all.length) },
      (_, k) => all[(from + k) % all.length]!.pieces,
    );
  }
}
