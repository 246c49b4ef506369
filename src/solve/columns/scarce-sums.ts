/** Sums and nodes at most: beyond, the sums are given up. */
const MOST_SUMS = 400_000;
const MOST_NODES = 2_000_000;

/** Lengths of item combinations in ascending order, each worth more than all before it. */
class SumList {
  count = 0;
  length = new Int32Array(1024);
  worth = new Float64Array(1024);
  node = new Int32Array(1024);

  push(length: number, worth: number, node: number): void {
    const k = this.count++;
    if (k === this.length.length) {
      const [lengths, worths, nodes] = [this.length, this.worth, this.node];
      this.length = new Int32Array(2 * k);
      this.worth = new Float64Array(2 * k);
      this.node = new Int32Array(2 * k);
      this.length.set(lengths);
      this.worth.set(worths);
      this.node.set(nodes);
    }
    this.length[k] = length;
    this.worth[k] = worth;
    this.node[k] = node;
  }
}

/**
 * What items that are asked for less often than a piece holds them can be worth together, by length: lists merged item by
 * item, without sums that are worth no more than a shorter one (Nemhauser and Ullmann 1969).
 */
export class ScarceSums {
  list = new SumList();
  private other = new SumList();
  /** By node: the item taken last, and the node before; −1 for none. */
  private item = new Int32Array(1024);
  private before = new Int32Array(1024);
  private nodes = 0;

  private ceiling: Float64Array = new Float64Array(0);
  private least = -Infinity;

  constructor(private readonly room: number) {}

  /**
   * Sums of nothing yet. Sums longer than half the room that would not be worth more than `least` with the most that the
   * rest of it can hold, which `ceiling` says by room, are left out.
   */
  begin(ceiling: Float64Array, least: number): void {
    this.ceiling = ceiling;
    this.least = least;
    this.nodes = 0;
    this.list.count = 0;
    this.list.push(0, 0, -1);
  }

  /** One more copy of an item; answers how many sums were looked at, or Infinity where there are too many. */
  add(item: number, length: number, worth: number): number {
    const { list, other, room } = this;
    other.count = 0;
    const looked = list.count;
    let top = -1;
    for (let a = 0, b = 0; a < looked; ) {
      const shifted = list.length[b]! + length;
      const ahead = shifted - list.length[a]! || list.worth[a]! - list.worth[b]! - worth;
      if (ahead < 0) {
        top = this.longer(b++, item, length, worth, top);
      } else {
        if (list.worth[a]! > top) {
          top = list.worth[a]!;
          other.push(list.length[a]!, top, list.node[a]!);
        }
        a++;
      }
      if (a === looked) {
        for (; b < looked && list.length[b]! + length <= room; b++)
          top = this.longer(b, item, length, worth, top);
      }
    }
    this.list = other;
    this.other = list;
    return other.count > MOST_SUMS || this.nodes > MOST_NODES ? Infinity : looked;
  }

  /** Sum b with the item, if that is worth more than `top`; answers what is worth most then. */
  private longer(b: number, item: number, length: number, worth: number, top: number): number {
    const { list, other, ceiling } = this;
    const sum = list.worth[b]! + worth;
    if (sum <= top) return top;
    const rest = this.room - list.length[b]! - length;
    if (rest < ceiling.length && sum + ceiling[rest]! <= this.least) return top;
    other.push(list.length[b]! + length, sum, this.node(item, list.node[b]!));
    return sum;
  }

  private node(item: number, before: number): number {
    const k = this.nodes++;
    if (k === this.item.length) {
      const [items, befores] = [this.item, this.before];
      this.item = new Int32Array(2 * k);
      this.before = new Int32Array(2 * k);
      this.item.set(items);
      this.before.set(befores);
    }
    this.item[k] = item;
    this.before[k] = before;
    return k;
  }

  /** The items of a sum, by its node, the one taken last first. */
  *items(node: number): Generator<number> {
    for (let k = node; k >= 0; k = this.before[k]!) yield this.item[k]!;
  }
}
