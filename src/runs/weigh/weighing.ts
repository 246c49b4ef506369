/**
 * Wood, visits and stops weighed against each other: all rails of two sticks are shared out between two anew, of any
 * stock and of one run or two (`two-pieces.ts`), and sticks go to other runs, colder and colder. Runs too full and pairs
 * parted are allowed on the way, at a price that rises. A stick of several lanes keeps its rails and only goes to other
 * runs. Effort is counted.
 */
import type { Pattern } from '../../solve/problem.js';
import { TwoPieces } from '../../solve/two-pieces.js';
import { DivisionState } from '../anneal/state.js';
import type { Turns } from '../sawing.js';
import { Spread } from './spread.js';

/** Temperatures in visits: the first of a usual cooling, and the last, at which hardly a visit too many is taken. */
export const HOT = 1;
const COLD = 0.15;
/** In visits: a stick too many begun, at first and at last; a pair or ring parted between runs; one on two sticks. */
const OVER = [0.6, 8] as const;
const PARTED = [1, 8] as const;
const SPLIT = 0.04;
/** Shares of the steps in which a stick goes to another run, or two change runs. */
const RELOCATED = 0.06;
const SWAPPED = 0.06;
/** Tries for a partner that is set up for one of a stick's items too, and how often any will do. */
const PARTNERS = 6;
const STRANGERS = 0.2;
/** Sticks with nothing on them that rails may move to. */
const EMPTY = 2;
/** Steps between looks at the clock. */
const LOOK = 64;

export interface WeighedStick {
  readonly items: readonly number[];
  readonly counts: readonly number[];
  readonly stock: number;
  /** Its rails stay as they lie in its lanes; null: they may be exchanged. */
  readonly lanes: Pattern['segments'] | null;
}

export interface WeighTask {
  /** The weight of a stop is what setting it costs. */
  readonly turns: Turns;
  readonly bench: number;
  /** By item. */
  readonly weight: readonly number[];
  /** What one visit costs, and one piece of each stock with its first mitre. */
  readonly visit: number;
  readonly cost: readonly number[];
  /** Nothing where there are several lanes: no rails are put on such a piece. */
  readonly capacity: readonly number[];
  /** Infinity: as many as wanted. */
  readonly supply: readonly number[];
}

export interface Weighed {
  /** Wood, first mitres, visits and stops. */
  readonly value: number;
  readonly sticks: readonly WeighedStick[];
  readonly run: readonly number[];
}

export class Weighing {
  readonly #task: WeighTask;
  readonly #random: () => number;
  readonly #both: TwoPieces;
  readonly #state: DivisionState;
  readonly #stock: Int32Array;
  readonly #lanes: readonly WeighedStick['lanes'][];
  readonly #used: Float64Array;
  readonly #free: (group: number, other: number) => boolean;
  #wood = 0;
  #heat = 0;
  #over = 0;
  readonly #spread = new Spread();
  best: Weighed | null = null;

  constructor(
    task: WeighTask,
    sticks: readonly WeighedStick[],
    run: readonly number[],
    random: () => number,
  ) {
    this.#task = task;
    this.#random = random;
    this.#both = new TwoPieces(task, random);
    const loose = [
      ...sticks.map(({ items, counts }) => ({ items, counts })),
      ...Array.from({ length: EMPTY }, () => ({ items: [], counts: [] })),
    ];
    this.#state = new DivisionState(task.turns, loose, task.bench);
    this.#stock = new Int32Array(loose.length).fill(-1);
    this.#lanes = sticks.map(({ lanes }) => lanes);
    this.#used = new Float64Array(task.cost.length);
    this.#free = (group, other) => this.#used[group]! + Number(group === other) < task.supply[group]!;
    const state = this.#state;
    loose.forEach((_, stick) => {
      const own = run[stick] ?? 0;
      while (state.members.length <= own) state.open();
      state.add(stick, own);
      this.#take(stick, sticks[stick]?.stock ?? -1);
    });
    state.open();
    for (const one of state.members.keys()) state.settle(one);
    this.#keep();
  }

  #pick(count: number): number {
    return Math.floor(this.#random() * count);
  }

  #take(stick: number, stock: number): void {
    this.#stock[stick] = stock;
    if (stock < 0) return;
    this.#used[stock]! += 1;
    this.#wood += this.#task.cost[stock]!;
  }

  #give(stick: number): void {
    const stock = this.#stock[stick]!;
    this.#stock[stick] = -1;
    if (stock < 0) return;
    this.#used[stock]! -= 1;
    this.#wood -= this.#task.cost[stock]!;
  }

  get #value(): number {
    return this.#wood + this.#task.visit * this.#state.visits + this.#state.moves;
  }

  get #energy(): number {
    const { price, parted, over, split } = this.#state;
    return this.#value + this.#task.visit * (price * parted + this.#over * over + SPLIT * split);
  }

  #keep(): void {
    const state = this.#state;
    if (!state.sound) return;
    const value = this.#value;
    if (this.best !== null && value >= this.best.value - 1e-6) return;
    const kept = [...this.#stock.keys()].filter((stick) => this.#stock[stick]! >= 0);
    this.best = {
      value,
      sticks: kept.map((stick) => ({
        items: state.items[stick]!,
        counts: state.counts[stick]!,
        stock: this.#stock[stick]!,
        lanes: this.#lanes[stick] ?? null,
      })),
      run: kept.map((stick) => state.run[stick]!),
    };
  }

  /** A stick to share rails with: of the same run or another that holds one of its items, now and then any. */
  #partner(a: number): number {
    const state = this.#state;
    const own = state.items[a]!;
    const sticks = this.#stock.length;
    for (let tries = 0; tries < PARTNERS; tries++) {
      const b = this.#pick(sticks);
      if (b === a) continue;
      if (tries === 0 && this.#random() < STRANGERS) return b;
      const items = state.items[b]!;
      for (let k = 0; k < items.length; k++) if (own.includes(items[k]!)) return b;
    }
    const b = this.#pick(sticks);
    return b === a ? -1 : b;
  }

  /** What each way to share out an entry of the pool costs, the two sticks being in no run. */
  #price(runA: number, runB: number): void {
    const { size, items, all, begins, prices } = this.#both;
    const state = this.#state;
    const { visit, turns } = this.#task;
    const spread = this.#spread;
    for (let e = 0; e < size; e++) {
      const item = items[e]!;
      const [begin, count] = [begins[e]!, all[e]!];
      const stop = state.stopOf(item);
      const price = turns.weight[stop]!;
      const heldA = state.sticksAt(runA, stop);
      const heldB = state.sticksAt(runB, stop);
      const setA = visit + price * (spread.of(heldA + 1) - spread.of(heldA));
      const setB = visit + price * (spread.of(heldB + 1) - spread.of(heldB));
      const two = 2 * visit + price * (spread.of(heldA + 2) - spread.of(heldA));
      const both = runA === runB ? two : setA + setB;
      prices[begin] = setB;
      prices.fill(both, begin + 1, begin + count);
      prices[begin + count] = setA;
      const bundle = turns.together[item]!;
      if (bundle === 1) continue;
      const [restA, restB] = [state.ofItem(runA, item), state.ofItem(runB, item)];
      for (let k = 0; k <= count; k++) {
        let odd = SPLIT * (Number(k % bundle !== 0) + Number((count - k) % bundle !== 0));
        if (runA !== runB)
          odd +=
            state.price * (Number((restA + k) % bundle !== 0) + Number((restB + count - k) % bundle !== 0));
        prices[begin + k]! += visit * odd;
      }
    }
  }

  #exchange(): void {
    const state = this.#state;
    const [stock, both] = [this.#stock, this.#both];
    const a = this.#pick(stock.length);
    const b = this.#partner(a);
    // Two empty ones have no rails, and a stick of several lanes keeps its own.
    if (b < 0 || (this.#lanes[a] ?? this.#lanes[b] ?? null) !== null || (stock[a]! < 0 && stock[b]! < 0))
      return;
    // An empty stick is of no run, or of any.
    if (stock[a]! < 0) this.#move(a, this.#random() < 0.8 ? state.run[b]! : this.#pick(state.members.length));
    if (stock[b]! < 0) this.#move(b, this.#random() < 0.8 ? state.run[a]! : this.#pick(state.members.length));
    const [runA, runB] = [state.run[a]!, state.run[b]!];
    const before = { over: state.over, stockA: stock[a]!, stockB: stock[b]! };
    const [itemsA, countsA] = [state.items[a]!, state.counts[a]!];
    const [itemsB, countsB] = [state.items[b]!, state.counts[b]!];
    both.gather(itemsA, countsA, itemsB, countsB);
    state.remove(a);
    state.remove(b);
    this.#give(a);
    this.#give(b);
    this.#price(runA, runB);
    const drawn = both.draw(this.#heat, this.#free);
    const same = !drawn || (both.unchanged && both.groupA === before.stockA && both.groupB === before.stockB);
    if (!same) {
      this.#fill(a, true);
      this.#fill(b, false);
    }
    state.add(a, runA);
    state.add(b, runB);
    this.#take(a, same ? before.stockA : both.groupA);
    this.#take(b, same ? before.stockB : both.groupB);
    if (same) return;
    const peakA = state.settle(runA);
    const peakB = runA === runB ? peakA : state.settle(runB);
    // Of what was drawn, only how full the runs are has not been weighed yet.
    const more = this.#task.visit * this.#over * (state.over - before.over);
    if (more <= 0 || more <= -this.#heat * Math.log(1 - this.#random())) {
      this.#keep();
      return;
    }
    state.remove(a);
    state.remove(b);
    this.#give(a);
    this.#give(b);
    state.refill(a, itemsA, countsA);
    state.refill(b, itemsB, countsB);
    state.add(a, runA);
    state.add(b, runB);
    this.#take(a, before.stockA);
    this.#take(b, before.stockB);
    state.resettle(runA, peakA);
    if (runA !== runB) state.resettle(runB, peakB);
  }

  #fill(stick: number, first: boolean): void {
    const items: number[] = [];
    const counts: number[] = [];
    this.#both.drawn(first, items, counts);
    this.#state.refill(stick, items, counts);
  }

  #move(stick: number, run: number): void {
    this.#state.remove(stick);
    this.#state.add(stick, run);
  }

  /** A run that sets a stop of this stick too, if one is found at once; else any. */
  #runFor(stick: number): number {
    const state = this.#state;
    const runs = state.members.length;
    const items = state.items[stick]!;
    const stop = state.stopOf(items[this.#pick(items.length)]!);
    const run = state.otherRunAt(stick, stop, this.#pick(runs));
    return run >= 0 ? run : this.#pick(runs);
  }

  /** A stick to another run, or two that change runs. */
  #relocate(swapped: boolean): void {
    const state = this.#state;
    const a = this.#pick(this.#stock.length);
    if (this.#stock[a]! < 0) return;
    const from = state.run[a]!;
    const to = this.#runFor(a);
    const others = state.members[to]!;
    if (to === from || (swapped && others.length === 0)) return;
    const b = swapped ? others[this.#pick(others.length)]! : -1;
    const spread = (): number =>
      this.#spread.beyond(state, from, a, b) + this.#spread.beyond(state, to, a, b);
    const before = this.#energy + spread();
    this.#move(a, to);
    if (b >= 0) this.#move(b, from);
    const [peakFrom, peakTo] = [state.settle(from), state.settle(to)];
    const more = this.#energy + spread() - before;
    if (more <= 0 || more <= -this.#heat * Math.log(1 - this.#random())) {
      this.#keep();
      return;
    }
    if (b >= 0) this.#move(b, to);
    this.#move(a, from);
    state.resettle(from, peakFrom);
    state.resettle(to, peakTo);
  }

  /**
   * Cools once, over so many steps. `passed`: the share of the time it may take that is over; where that is more than
   * its share of the steps, it cools by the time. From 1 on it ends.
   */
  cool(steps: number, hot: number, passed: () => number): void {
    const { visit } = this.#task;
    for (let step = 0; step < steps; step++) {
      if (step % LOOK === 0) {
        const time = passed();
        if (time >= 1) return;
        const share = Math.max(step / steps, time);
        this.#over = OVER[0] + (OVER[1] - OVER[0]) * share;
        this.#state.price = PARTED[0] + (PARTED[1] - PARTED[0]) * share;
        this.#heat = visit * hot * (COLD / hot) ** share;
        this.#spread.weigh(1 - share);
      }
      const kind = this.#random();
      if (kind < RELOCATED) this.#relocate(false);
      else if (kind < RELOCATED + SWAPPED) this.#relocate(true);
      else this.#exchange();
    }
  }
}
