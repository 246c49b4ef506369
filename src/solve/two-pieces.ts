/**
 * All rails of two pieces shared out between two pieces anew, of any stock: of every way to do so one is drawn, cheaper
 * ones likelier by far the colder it is (a heat bath; Kirkpatrick, Gelatt and Vecchi 1983).
 */

/** Ways to share out two pieces' rails that are looked at; items beyond stay where they are. */
const MOST_WAYS = 3_000;
/** Groups from which on what wood costs at least is not looked up for each two pieces. */
const MANY_GROUPS = 12;

/** What pieces there are, by group, and what items weigh. */
export interface PieceKinds {
  readonly weight: ArrayLike<number>;
  readonly capacity: ArrayLike<number>;
  readonly cost: ArrayLike<number>;
}

/** Entries that the pool has room for at first. */
const ROOM = 64;

export class TwoPieces {
  readonly #weight: Float64Array;
  readonly #capacity: Float64Array;
  readonly #cost: Float64Array;
  readonly #random: () => number;
  /** Groups, cheapest first. */
  readonly #sorted: Int32Array;
  readonly #largest: number;
  /** Entries of the pool: each an item, how many of it there are, and how many of them are on the first piece. */
  size = 0;
  items = new Int32Array(ROOM);
  all = new Int32Array(ROOM);
  #first = new Int32Array(ROOM);
  /** Entries from here on stay where they are. */
  #moving = 0;
  /**
   * What it costs to have k of an entry's rails on the first piece and the others on the second, at begins[entry] + k;
   * to be filled in between `gather` and `draw`.
   */
  prices = new Float64Array(ROOM);
  begins = new Int32Array(ROOM);
  #rest = new Float64Array(ROOM);
  #taken = new Int32Array(ROOM);
  #chosen = new Int32Array(ROOM);
  /** By entry, while the ways are gone through. */
  #turns = new Int32Array(ROOM + 1);
  #loadsA = new Float64Array(ROOM + 1);
  #loadsB = new Float64Array(ROOM + 1);
  #charges = new Float64Array(ROOM + 1);
  /** By group: pieces that may still be used, 2 for two or more. */
  readonly #left: Uint8Array;
  #wood = 0;
  #lowest = 0;
  #heat = 0;
  /** Looked at by the last draw. */
  nodes = 0;
  /** Of the pieces drawn; −1 for none: nothing lies on it. */
  groupA = -1;
  groupB = -1;

  constructor({ weight, capacity, cost }: PieceKinds, random: () => number) {
    this.#weight = Float64Array.from(weight);
    this.#capacity = Float64Array.from(capacity);
    this.#cost = Float64Array.from(cost);
    this.#left = new Uint8Array(this.#cost.length);
    this.#random = random;
    this.#sorted = Int32Array.from(this.#cost.keys()).sort((a, b) => this.#cost[a]! - this.#cost[b]!);
    this.#largest = this.#capacity.reduce((most, one) => Math.max(most, one), 0);
  }

  #pick(count: number): number {
    return Math.floor(this.#random() * count);
  }

  #grow(entries: number): void {
    const larger = (list: Int32Array): Int32Array<ArrayBuffer> => {
      const grown = new Int32Array(2 * entries);
      grown.set(list);
      return grown;
    };
    this.items = larger(this.items);
    this.all = larger(this.all);
    this.#first = larger(this.#first);
    this.begins = larger(this.begins);
    this.#taken = larger(this.#taken);
    this.#chosen = larger(this.#chosen);
    this.#rest = new Float64Array(2 * entries + 1);
    this.#turns = new Int32Array(2 * entries + 1);
    this.#loadsA = new Float64Array(2 * entries + 1);
    this.#loadsB = new Float64Array(2 * entries + 1);
    this.#charges = new Float64Array(2 * entries + 1);
  }

  #swap(a: number, b: number): void {
    const { items, all } = this;
    const first = this.#first;
    const [item, count, own] = [items[a]!, all[a]!, first[a]!];
    items[a] = items[b]!;
    all[a] = all[b]!;
    first[a] = first[b]!;
    items[b] = item;
    all[b] = count;
    first[b] = own;
  }

  /** Puts the items of both pieces into the pool, in the order they have on both. */
  gather(
    itemsA: readonly number[],
    countsA: readonly number[],
    itemsB: readonly number[],
    countsB: readonly number[],
  ): void {
    const most = itemsA.length + itemsB.length;
    if (most >= this.items.length) this.#grow(most + 1);
    const { items, all } = this;
    const first = this.#first;
    let ways = 1;
    let size = 0;
    let x = 0;
    let y = 0;
    while (x < itemsA.length || y < itemsB.length) {
      const i = x < itemsA.length ? itemsA[x]! : Number.MAX_SAFE_INTEGER;
      const j = y < itemsB.length ? itemsB[y]! : Number.MAX_SAFE_INTEGER;
      const own = i <= j ? countsA[x++]! : 0;
      const count = own + (j <= i ? countsB[y++]! : 0);
      items[size] = Math.min(i, j);
      all[size] = count;
      first[size++] = own;
      ways *= count + 1;
    }
    // Some stay as they are, so that the ways are not too many.
    let moving = size;
    while (ways > MOST_WAYS && moving > 1) {
      const at = this.#pick(moving--);
      ways /= all[at]! + 1;
      for (let e = at; e < moving; e++) this.#swap(e, e + 1);
    }
    this.size = size;
    this.#moving = moving;
    const { begins } = this;
    let place = 0;
    for (let e = 0; e < size; e++) {
      begins[e] = place;
      place += all[e]! + 1;
    }
    if (place > this.prices.length) this.prices = new Float64Array(2 * place);
  }

  /** What pieces that hold so much cost at least, one or two of them. */
  #leastWood(load: number): number {
    const [capacity, cost, sorted] = [this.#capacity, this.#cost, this.#sorted];
    if (sorted.length > MANY_GROUPS) return 0;
    let least = Number.POSITIVE_INFINITY;
    for (const a of sorted) {
      if (cost[a]! >= least) break;
      if (capacity[a]! >= load) least = cost[a]!;
      for (const b of sorted) {
        if (cost[a]! + cost[b]! >= least) break;
        if (capacity[a]! + capacity[b]! >= load) least = cost[a]! + cost[b]!;
      }
    }
    return least;
  }

  /** Cheapest free group that holds so much, −1 where none does; `other` has been taken for the other piece. */
  #groupFor(load: number, other: number): number {
    const [sorted, capacity, left] = [this.#sorted, this.#capacity, this.#left];
    for (let at = 0; at < sorted.length; at++) {
      const s = sorted[at]!;
      if (capacity[s]! >= load && left[s]! > (s === other ? 1 : 0)) return s;
    }
    return -1;
  }

  /** All moving entries are shared out: takes this way if its luck is the best so far. */
  #meet(loadA: number, loadB: number, charge: number): void {
    const cost = this.#cost;
    const a = loadA === 0 ? -1 : this.#groupFor(loadA, -1);
    if (loadA > 0 && a < 0) return;
    const b = loadB === 0 ? -1 : this.#groupFor(loadB, a);
    if (loadB > 0 && b < 0) return;
    const sum = charge + (a < 0 ? 0 : cost[a]!) + (b < 0 ? 0 : cost[b]!);
    if (sum >= this.#lowest) return;
    const key = sum - this.#heat * Math.log(1 - this.#random());
    if (key >= this.#lowest) return;
    this.#lowest = key;
    this.groupA = a;
    this.groupB = b;
    const [taken, chosen] = [this.#taken, this.#chosen];
    for (let e = 0; e < this.#moving; e++) chosen[e] = taken[e]!;
  }

  /** Goes through the ways depth first, on a stack of its own: arguments that are no small integers would be boxed. */
  #share(): void {
    const { items, all, begins, prices } = this;
    const [weight, rest, taken, turns] = [this.#weight, this.#rest, this.#taken, this.#turns];
    const [loadsA, loadsB, charges] = [this.#loadsA, this.#loadsB, this.#charges];
    const [moving, largest, wood] = [this.#moving, this.#largest, this.#wood];
    let nodes = 1;
    turns[0] = 0;
    for (let at = 0; at >= 0; ) {
      if (at === moving) {
        this.#meet(loadsA[at]!, loadsB[at]!, charges[at]!);
        at -= 1;
        continue;
      }
      const count = all[at]!;
      const turn = turns[at]!;
      if (turn > count) {
        at -= 1;
        continue;
      }
      turns[at] = turn + 1;
      nodes += 1;
      // All on one piece first: that is cheap, as a rule, and cuts the other ways short.
      const k = turn === 0 ? count : turn - 1;
      const w = weight[items[at]!]!;
      const loadA = loadsA[at]! + k * w;
      const loadB = loadsB[at]! + (count - k) * w;
      if (loadA > largest || loadB > largest) continue;
      const charge = charges[at]! + prices[begins[at]! + k]!;
      if (charge + rest[at + 1]! + wood >= this.#lowest) continue;
      taken[at] = k;
      at += 1;
      loadsA[at] = loadA;
      loadsB[at] = loadB;
      charges[at] = charge;
      turns[at] = 0;
    }
    this.nodes = nodes;
  }

  /** Draws a way; false: there is none. `free`: whether one more piece of a group may be used, beside one of `other`. */
  draw(heat: number, free: (group: number, other: number) => boolean): boolean {
    const { items, all, begins, prices, size } = this;
    const [weight, first, rest] = [this.#weight, this.#first, this.#rest];
    let loadA = 0;
    let loadB = 0;
    let charge = 0;
    let load = 0;
    for (let e = 0; e < size; e++) {
      const w = weight[items[e]!]!;
      load += all[e]! * w;
      if (e < this.#moving) continue;
      loadA += first[e]! * w;
      loadB += (all[e]! - first[e]!) * w;
      charge += prices[begins[e]! + first[e]!]!;
    }
    rest[this.#moving] = 0;
    for (let e = this.#moving - 1; e >= 0; e--) {
      let least = Number.POSITIVE_INFINITY;
      for (let at = begins[e]!, end = at + all[e]!; at <= end; at++)
        if (prices[at]! < least) least = prices[at]!;
      rest[e] = rest[e + 1]! + least;
    }
    this.#heat = heat;
    const left = this.#left;
    for (let s = 0; s < left.length; s++) left[s] = free(s, s) ? 2 : free(s, -1) ? 1 : 0;
    this.#wood = this.#leastWood(load);
    this.#lowest = Number.POSITIVE_INFINITY;
    [this.#loadsA[0], this.#loadsB[0], this.#charges[0]] = [loadA, loadB, charge];
    this.#share();
    return this.#lowest < Number.POSITIVE_INFINITY;
  }

  /** Whether each piece holds what it held before. */
  get unchanged(): boolean {
    for (let e = 0; e < this.#moving; e++) if (this.#chosen[e] !== this.#first[e]) return false;
    return true;
  }

  /** Adds the items of the first or the second piece as they were drawn, in order, and how many of each. */
  drawn(first: boolean, items: number[], counts: number[]): void {
    for (let e = 0; e < this.size; e++) {
      const own = e < this.#moving ? this.#chosen[e]! : this.#first[e]!;
      const count = first ? own : this.all[e]! - own;
      if (count === 0) continue;
      const item = this.items[e]!;
      // Entries that stayed stand behind the others: each goes to its place.
      let at = items.length;
      while (at > 0 && items[at - 1]! > item) {
        items[at] = items[at - 1]!;
        counts[at] = counts[at - 1]!;
        at--;
      }
      items[at] = item;
      counts[at] = count;
    }
  }
}
