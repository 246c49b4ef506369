import type { Instance } from '../../instance/instance.js';
import { CELLS_A_UNIT, type Work } from '../../instance/watch.js';
import { type Drawn, likelyFillings } from './likely.js';
import { type Weigh, weighing } from './weighing.js';

/** Where settled shares go on from. */
export interface SharesState {
  readonly factor: Float64Array;
  readonly demand: Int32Array;
}

/** Bytes. */
const DOUBLE = 8;
/** Factors at first, and the greatest. */
const FIRST = 0.05;
const MOST = 1e60;
/** Cells looked at for a list of fillings, which lie scattered in memory. */
const LOOKED_A_UNIT = 20;
/** Halvings for a factor that no formula gives. */
const HALVINGS = 60;

/**
 * The most even way to make all rails from shares of fillings: of greatest entropy, Σ −x ln x − (rails − 1) x. Every filling
 * has the share that its rails' factors come to, multiplied, and a factor is right when the shares of all fillings that hold
 * the rail come to what is needed of it. Factors are set right one after the other, down the list of items and up
 * (iterative proportional fitting: Deming and Stephan 1940). All fillings, 10^8 and more, are weighed together, by the
 * length that they use: row k of the table holds, after a pass upward, what items from the k-th on weigh that fill the rest
 * of a stick, after one downward what those before it weigh that come to a length.
 *
 * Where plans are many, a share is about how often plans hold the filling, and the entropy the logarithm of their number
 * (Bethe's approximation, for small shares). Nothing is proven so. For one group of whole pieces.
 */
export class EvenShares {
  /** What is still needed of each item. */
  readonly demand: Int32Array;
  readonly factor: Float64Array;
  /** Factor of a unit of length left over. */
  overFactor = FIRST;
  readonly table: Float64Array;
  private readonly weigh: Weigh;
  readonly width: number;
  /** Place of the row by which old rows follow factors that were all changed by length. */
  private readonly bent: number;
  /** Items still needed, in order. */
  items: number[] = [];
  /** Whole sticks to be filled, and what they leave over in all. */
  private sticks = 0;
  over = 0;

  /** Whether the last pass was downward. */
  private weighsBefore = false;
  /** All fillings together, as weighed last. */
  private total = 1;

  constructor(
    private readonly instance: Instance,
    private readonly work: Work,
  ) {
    const { n, largest } = instance;
    this.width = largest + 1;
    this.bent = (n + 1) * this.width;
    const { table, weigh } = weighing(this.bent + this.width);
    this.table = table;
    this.weigh = weigh;
    this.demand = instance.demand.slice();
    this.factor = new Float64Array(n).fill(FIRST);
    this.anew();
  }

  /** Rails still needed. */
  get rails(): number {
    return this.demand.reduce((sum, d) => sum + d, 0);
  }

  /** Sticks that are left to fill. */
  get left(): number {
    return this.sticks;
  }

  /** ln of about how many plans there are. */
  get plans(): number {
    const { factor, demand, sticks, over } = this;
    let sum = sticks - this.rails - (over > 0 ? over * Math.log(this.overFactor) : 0);
    for (const i of this.items) sum -= demand[i]! * Math.log(factor[i]!);
    return sum;
  }

  get state(): SharesState {
    return { factor: this.factor.slice(), demand: this.demand.slice() };
  }

  restart({ factor, demand }: SharesState): void {
    this.demand.set(demand);
    this.factor.set(factor);
    this.anew();
  }

  /** Every filling with at least this share, after one more pass upward; null where numbers end. */
  list(least: number): Drawn[] | null {
    if (!this.settle(0) || !this.normed(1) || !this.upward()) return null;
    this.bend(0, -1);
    const { fillings, looked } = likelyFillings(this.instance, this, (least * this.total) / this.sticks);
    this.work.spend(looked / LOOKED_A_UNIT);
    return fillings.map(({ items, share }) => ({ items, share: (share * this.sticks) / this.total }));
  }

  /** Takes the rails of those drawn away, the largest shares first, so many fillings at most; answers these. */
  take(drawn: readonly Drawn[], most: number): Drawn[] {
    const { demand } = this;
    const taken: Drawn[] = [];
    for (const filling of [...drawn].sort((a, b) => b.share - a.share)) {
      if (taken.length >= most) break;
      for (const i of filling.items) demand[i]!--;
      if (filling.items.every((i) => demand[i]! >= 0)) taken.push(filling);
      else for (const i of filling.items) demand[i]!++;
    }
    this.anew();
    return taken;
  }

  private anew(): void {
    const { instance, demand, table } = this;
    this.items = [...demand.keys()].filter((i) => demand[i]! > 0);
    const length = this.items.reduce((sum, i) => sum + instance.weight[i]! * demand[i]!, 0);
    this.sticks = Math.ceil(length / instance.largest);
    this.over = this.sticks * instance.largest - length;
    this.bend(0, 1);
    this.endings();
    for (let k = this.items.length - 1; k >= 0; k--) this.row(k, k + 1, k, 1, -1);
    this.total = table[0]!;
    this.weighsBefore = false;
  }

  /** Sets all factors right downward, and so many times upward and downward again; false where numbers end. */
  settle(times: number): boolean {
    let sound = this.weighsBefore || this.downward();
    for (let k = 0; sound && k < times; k++)
      sound = this.normed(1) && this.upward() && this.normed(-1) && this.downward();
    return sound;
  }

  /** Fillings by their shares; after `settle`. */
  draw(count: number, random: () => number): Drawn[] {
    return Array.from({ length: count }, () => this.drawOne(random)).filter((drawn) => drawn !== null);
  }

  private drawOne(random: () => number): Drawn | null {
    const { table, width, instance, demand, factor, items, overFactor, over } = this;
    const { largest, weight } = instance;
    const last = items.length * width;
    let share = this.sticks / this.total;
    let room = largest;
    let at = random() * this.total - table[last + room]!;
    while (at > 0 && largest - room < over && room > 0) {
      room--;
      share *= overFactor;
      at -= overFactor ** (largest - room) * table[last + room]!;
    }
    const rails: number[] = [];
    for (let k = items.length - 1; k >= 0 && room > 0; k--) {
      const i = items[k]!;
      let rest = random() * table[(k + 1) * width + room]! - table[k * width + room]!;
      let weighed = factor[i]!;
      for (let c = 1; rest > 0 && c <= demand[i]! && room >= weight[i]!; c++, weighed *= factor[i]!) {
        rails.push(i);
        share *= factor[i]!;
        room -= weight[i]!;
        rest -= weighed * table[k * width + room]!;
      }
    }
    return room === 0 && rails.length > 0 ? { items: rails, share } : null;
  }

  /** Down the list: row k becomes what the items before the k-th weigh. */
  private downward(): boolean {
    const { items, table, width } = this;
    table.fill(0, 0, width);
    table[0] = 1;
    let held = this.held(0, 1, 0, 1);
    for (let k = 0; k < items.length; k++) {
      if (!this.fit(items[k]!, held)) return false;
      held = this.row(k + 1, k, k, -1, k + 1);
    }
    this.fitOver();
    this.weighsBefore = true;
    return this.total > 0 && this.total < Infinity;
  }

  /** Up the list: row k becomes what the items from the k-th on weigh. */
  private upward(): boolean {
    const { items, table } = this;
    this.endings();
    const m = items.length;
    let held = this.held(m, m - 1, m - 1, -1);
    for (let k = m - 1; k >= 0; k--) {
      if (!this.fit(items[k]!, held)) return false;
      held = this.row(k, k + 1, k, 1, k - 1);
    }
    this.total = table[0]!;
    this.weighsBefore = false;
    return this.total > 0 && this.total < Infinity;
  }

  /** The last row, upward: by the length left over. */
  private endings(): void {
    const { table, width, over, overFactor } = this;
    const row = this.items.length * width;
    table.fill(0, row, row + width);
    for (let left = 0; left <= over && left < width; left++)
      table[row + width - 1 - left] = overFactor ** left;
  }

  /**
   * Makes row `to` of row `from` with the k-th item: a length moves by `way` times the item's. Answers what fillings with
   * 1, 2 … of the next item weigh but for its factor.
   */
  private row(to: number, from: number, k: number, way: 1 | -1, next: number): number[] {
    const { items, demand, factor, instance } = this;
    const i = items[k]!;
    const j = items[next];
    const shift = way * instance.weight[i]!;
    const beyond = way < 0 ? next + 1 : next;
    if (demand[i] === 1 && j !== undefined && demand[j] === 1)
      return [this.combine(to, from, from, shift, factor[i]!, beyond, -way * instance.weight[j]!)];
    this.combine(to, from, from, shift, factor[i]!, -1, 0);
    for (let c = 2, power = factor[i]! ** 2; c <= demand[i]!; c++, power *= factor[i]!)
      this.combine(to, to, from, c * shift, power, -1, 0);
    return j === undefined ? [] : this.held(to, beyond, next, way < 0 ? 1 : -1);
  }

  /** What fillings with 1, 2 … of the k-th item weigh but for its factor: by a new row and the old one beyond the item. */
  private held(row: number, beyond: number, k: number, way: 1 | -1): number[] {
    const { items, demand, instance } = this;
    const i = items[k]!;
    return Array.from({ length: demand[i]! }, (_, c) =>
      this.combine(row, row, row, 0, 0, beyond, way * (c + 1) * instance.weight[i]!),
    );
  }

  /**
   * Row `to` = row a + factor · row b moved by `shift`; answers Σ to · row `by` moved · its corrections moved (−1: none).
   * Where a moved row has no cell there is nothing.
   */
  private combine(
    to: number,
    a: number,
    b: number,
    shift: number,
    factor: number,
    by: number,
    moved: number,
  ): number {
    const { width, bent, weigh } = this;
    const [first, last] = [Math.max(0, -shift), width - Math.max(0, shift)];
    const [start, end] = by < 0 ? [0, 0] : [Math.max(0, -moved), width - Math.max(0, moved)];
    const cuts = [0, first, last, start, end, width].filter((t) => t >= 0 && t <= width);
    cuts.sort((x, y) => x - y);
    let sum = 0;
    for (let k = 1; k < cuts.length; k++) {
      const [from, until] = [cuts[k - 1]!, cuts[k]!];
      if (from === until) continue;
      const adds = from >= first && until <= last;
      const counts = from >= start && until <= end;
      const weighed = weigh(
        DOUBLE * (to * width + from),
        DOUBLE * (a * width + from),
        DOUBLE * (b * width + from + (adds ? shift : 0)),
        DOUBLE * (counts ? by * width + from + moved : bent + from),
        DOUBLE * (bent + from + (counts ? moved : 0)),
        DOUBLE * (to * width + until),
        adds ? factor : 0,
      );
      if (counts) sum += weighed;
    }
    this.work.spend(width / CELLS_A_UNIT);
    return sum;
  }

  /** Sets an item's factor right, by what fillings with 1, 2 … of it weigh without it. */
  private fit(i: number, held: readonly number[]): boolean {
    const { demand, factor } = this;
    const need = demand[i]!;
    const shares = (f: number): number =>
      held.reduceRight((sum, weight, c) => (sum + (c + 1) * weight) * f, 0);
    if (!(held[0]! > 0)) return false;
    factor[i] = need === 1 ? 1 / held[0]! : halved(shares, need);
    return factor[i]! < MOST;
  }

  /** After a pass downward: the factor of what is left over, and all fillings together. */
  private fitOver(): void {
    const { table, width, items, over, sticks } = this;
    const end = items.length * width + width - 1;
    const lengths = Math.min(over, width - 1);
    const shares = (f: number): number => {
      let sum = 0;
      for (let left = lengths; left > 0; left--) sum = (sum + left * table[end - left]!) * f;
      return sum;
    };
    if (over > 0 && sticks > 0) this.overFactor = halved(shares, over);
    this.total = 0;
    for (let left = 0; left <= lengths; left++) this.total += this.overFactor ** left * table[end - left]!;
  }

  /**
   * Changes all factors by what a length comes to, so that shares come to whole sticks; the old rows follow by their
   * corrections, those that weigh what comes before (1) or after (−1).
   */
  private normed(way: 1 | -1): boolean {
    const { factor, instance, items, sticks, total } = this;
    const rate = Math.log(sticks / total) / instance.largest;
    if (!Number.isFinite(rate)) return false;
    for (const i of items) factor[i] = factor[i]! * Math.exp(rate * instance.weight[i]!);
    this.overFactor *= Math.exp(rate);
    this.bend(rate, way);
    return true;
  }

  private bend(rate: number, way: 1 | -1): void {
    const { table, bent, width } = this;
    for (let t = 0; t < width; t++) table[bent + t] = Math.exp(rate * (way > 0 ? t : width - 1 - t));
  }
}

/** The factor at which a rising function has this value, nearly. */
function halved(of: (factor: number) => number, value: number): number {
  let [low, high] = [0, 1e-9];
  while (of(high) < value && high < MOST) high *= 8;
  for (let k = 0; k < HALVINGS; k++) {
    const middle = (low + high) / 2;
    if (of(middle) < value) low = middle;
    else high = middle;
  }
  return high;
}
