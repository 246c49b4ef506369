/** How easy one stick is to cut: what is left of it, how often it is fetched, how many of its rails lack their partner. */
import type { PatternEntry } from '../solve/problem.js';
import { kindsOf, spare } from '../stock/spacing.js';
import type { MouldingTask } from '../stock/task.js';
import { groupsOf } from './groups.js';
import { unitTypesByItem } from './names.js';

/** Offcuts are compared in steps of so many micrometres: a hair more is not worth another visit. */
const OFFCUT_GRAIN = 10_000;

/** Figures of one stick; for several sticks they are added. */
export interface StickFigures {
  /** Squared grains of every offcut: the total is larger for few long ones than for many short ones. */
  readonly kept: number;
  /** Settings the stick is fetched for. */
  readonly visits: number;
  /** Rails without the rest of their pair or ring on the stick. */
  readonly apart: number;
}

export type StickLanes = readonly (readonly PatternEntry[])[];

export class StickHandling {
  readonly #task: MouldingTask;
  readonly #kinds: ReturnType<typeof kindsOf>;
  readonly #spare: number;
  readonly #groupOf: readonly number[];
  /** Rails cut together, where they may be split; 1 where the item is whole. */
  readonly #together: readonly number[];
  /** Scratch space of `of`, which is called some hundred thousand times: the turn in which a group was met, rails of an item. */
  readonly #seen: Int32Array;
  readonly #counts: Int32Array;
  readonly #touched: Int32Array;
  #turn = 0;

  constructor(task: MouldingTask) {
    this.#task = task;
    this.#kinds = kindsOf(task.spacing);
    this.#spare = spare(task.spacing);
    const groupOf: number[] = [];
    groupsOf(task.items).forEach((group, g) => {
      for (const item of group) groupOf[item] = g;
    });
    this.#groupOf = groupOf;
    this.#seen = new Int32Array(task.items.length);
    this.#counts = new Int32Array(task.items.length);
    this.#touched = new Int32Array(task.items.length);
    this.#together = unitTypesByItem(task).map((types) =>
      types.some((type) => type.whole) ? 1 : Math.min(...types.map((type) => type.sides.length)),
    );
  }

  /** All rails share one angle, so weights alone say what fits. */
  get oneKind(): boolean {
    return this.#kinds === null;
  }

  weight(item: number): number {
    return this.#task.items[item]!.weight;
  }

  /** What rails in this order take of a lane, and with `kept` the blade behind them. */
  taken(items: readonly number[], counts: readonly number[], kept: boolean): number {
    const kinds = this.#kinds;
    let [sum, last] = [0, -1];
    for (let i = 0; i < items.length; i++) {
      const { weight, kind } = this.#task.items[items[i]!]!;
      const count = counts[i]!;
      sum += weight * count;
      if (kinds === null) continue;
      sum += last < 0 ? kinds.start[kind]! : kinds.joint[last]![kind]!;
      sum += (count - 1) * kinds.joint[kind]![kind]!;
      last = kind;
    }
    return kept ? sum + this.#beyond(items.at(-1)) : sum;
  }

  /** Whether an offcut to keep is left behind the rails of a lane. */
  keeps(stock: number, lane: number, entries: readonly PatternEntry[]): boolean {
    const left = this.room(stock, lane, entries) - this.#beyond(entries.at(-1)?.item);
    return left > 0 && left >= this.#task.moulding.keepOver;
  }

  /** What the last rail of a lane takes behind it; of an empty lane what its capacity has beyond its length. */
  #beyond(last: number | undefined): number {
    const { spacing, items } = this.#task;
    return last === undefined ? this.#spare : spacing.mitres[items[last]!.kind]!.blade;
  }

  /** What a lane's rails take of its capacity. */
  #used(entries: readonly PatternEntry[]): number {
    let [sum, last] = [0, -1];
    for (const { item, count } of entries) {
      const { weight, kind } = this.#task.items[item]!;
      sum += weight * count;
      if (this.#kinds !== null) {
        sum += last < 0 ? this.#kinds.start[kind]! : this.#kinds.joint[last]![kind]!;
        sum += (count - 1) * this.#kinds.joint[kind]![kind]!;
        last = kind;
      }
    }
    return sum;
  }

  /** Capacity left in a lane. */
  room(stock: number, lane: number, entries: readonly PatternEntry[]): number {
    return this.#task.piles[stock]!.segments[lane]! - this.#used(entries);
  }

  of(stock: number, lanes: StickLanes): StickFigures {
    const { moulding } = this.#task;
    const [seen, counts, touched] = [this.#seen, this.#counts, this.#touched];
    this.#turn += 1;
    let [kept, apart, visits, used] = [0, 0, 0, 0];
    lanes.forEach((entries, lane) => {
      const left = this.room(stock, lane, entries) - this.#beyond(entries.at(-1)?.item);
      if (left > 0 && left >= moulding.keepOver) kept += Math.floor(left / OFFCUT_GRAIN) ** 2;
      for (const { item, count } of entries) {
        const group = this.#groupOf[item]!;
        if (seen[group] !== this.#turn) visits += 1;
        seen[group] = this.#turn;
        if (counts[item] === 0) touched[used++] = item;
        counts[item]! += count;
      }
    });
    for (let i = 0; i < used; i++) {
      const item = touched[i]!;
      apart += counts[item]! % this.#together[item]!;
      counts[item] = 0;
    }
    return { kept, visits, apart };
  }
}
