/**
 * One bin filled well: a start of large or drawn units, then the one, two or three that fill what is left best. Both
 * packers build their plans of it, bin after bin.
 */

/** Units up to which all triples are looked at. */
const FEW = 160;
/** Units are drawn while the room is more than so many mean rails: the last three are chosen. */
const DRAWN_ABOVE = 3.3;

/** What can be put into a bin: single rails of an item, or two at once. The heaviest unit stands first. */
export interface PackUnits {
  readonly weight: Float64Array;
  /** The item a unit is of, and how many of its rails it is. */
  readonly item: Int32Array;
  readonly rails: Int32Array;
  /** 1 for a single rail of an item that is cut in pairs: taken only where the number left is odd, or pairs are `parted`. */
  readonly half: Uint8Array;
}

/** How a try at a bin begins. */
export interface Start {
  /**
   * `largest`: with the largest unit that fits; `drawn`: with one at random, however small the room;
   * `any`: with one at random if the room is not small already.
   */
  readonly first: 'largest' | 'drawn' | 'any';
  /** Whether pairs may be parted when the last units are chosen. */
  readonly parted: boolean;
}

/** Fills one bin at a time from a stock of rails. */
export class BinFiller {
  /** Rails left of each item; the owner subtracts what it cuts. */
  readonly rest: Int32Array;
  /** Rails of each item in the best filling found. */
  readonly best: Int32Array;
  readonly #weight: Float64Array;
  readonly #item: Int32Array;
  readonly #rails: Int32Array;
  readonly #half: Uint8Array;
  readonly #random: () => number;
  /** Rails left of each item beside what is in the bin. */
  readonly #left: Int32Array;
  readonly #pool: Int32Array;
  #poolSize = 0;
  /** Units that can be asked for at all. */
  readonly #live: Int32Array;
  #liveSize = 0;
  #parted = true;
  #high = -1;
  #low = -1;

  constructor(units: PackUnits, items: number, random: () => number) {
    this.#weight = units.weight;
    this.#item = units.item;
    this.#rails = units.rails;
    this.#half = units.half;
    this.#random = random;
    this.rest = new Int32Array(items);
    this.best = new Int32Array(items);
    this.#left = new Int32Array(items);
    this.#pool = new Int32Array(units.weight.length);
    this.#live = new Int32Array(units.weight.length);
  }

  /** Units there are rails enough for, heaviest first. */
  get live(): Int32Array {
    return this.#live.subarray(0, this.#liveSize);
  }

  /** To be called when `rest` is set: all units are live that there are rails enough for. */
  begin(): void {
    const { length } = this.#item;
    for (let u = 0; u < length; u++) this.#live[u] = u;
    this.#liveSize = length;
    this.look();
  }

  /** To be called when `rest` has become less: leaves out the units that there are no longer rails enough for. */
  look(): void {
    const [item, rails, live, rest, before] = [
      this.#item,
      this.#rails,
      this.#live,
      this.rest,
      this.#liveSize,
    ];
    let size = 0;
    for (let k = 0; k < before; k++) {
      const u = live[k]!;
      if (rest[item[u]!]! >= rails[u]!) live[size++] = u;
    }
    this.#liveSize = size;
  }

  /**
   * Fills one bin, counts in `best`; answers what it wastes. Ends with the first of the `starts` that wastes no more than
   * `allowed`. `mean`: weight of the mean rail that is left.
   */
  fill(capacity: number, allowed: number, mean: number, starts: readonly Start[]): number {
    const [weight, item, rails, left] = [this.#weight, this.#item, this.#rails, this.#left];
    let least = Infinity;
    for (let t = 0; t < starts.length && least > allowed; t++) {
      const { first, parted } = starts[t]!;
      left.set(this.rest);
      let room = capacity;
      this.#parted = false;
      const drawn = (): number => (room > DRAWN_ABOVE * mean ? this.#draw(room) : -1);
      let u = first === 'largest' ? this.#largest(room) : first === 'drawn' ? this.#draw(room) : drawn();
      for (; u >= 0; u = drawn()) {
        left[item[u]!]! -= rails[u]!;
        room -= weight[u]!;
      }
      this.#parted = parted;
      room -= this.#complete(room, allowed);
      if (room < least) {
        least = room;
        for (let i = 0; i < left.length; i++) this.best[i] = this.rest[i]! - left[i]!;
      }
    }
    return least;
  }

  /** Whether unit u can still be taken. */
  #has(u: number): boolean {
    const left = this.#left[this.#item[u]!]!;
    return left >= this.#rails[u]! && (this.#half[u] === 0 || this.#parted || (left & 1) === 1);
  }

  #largest(room: number): number {
    const weight = this.#weight;
    for (let k = 0; k < this.#liveSize; k++) {
      const u = this.#live[k]!;
      if (weight[u]! <= room && this.#has(u)) return u;
    }
    return -1;
  }

  /** A unit that fits, drawn by how many rails are left of its item. */
  #draw(room: number): number {
    const [item, left, pool] = [this.#item, this.#left, this.#pool];
    const size = this.#fitting(room);
    let total = 0;
    for (let k = 0; k < size; k++) total += left[item[pool[k]!]!]!;
    if (total === 0) return -1;
    let at = Math.floor(this.#random() * total);
    for (let k = 0; k < size; k++) {
      const u = pool[k]!;
      at -= left[item[u]!]!;
      if (at < 0) return u;
    }
    return -1;
  }

  /** Puts the units that fit and can be taken in the pool, heaviest first; answers how many. */
  #fitting(room: number): number {
    const [weight, live, pool] = [this.#weight, this.#live, this.#pool];
    let size = 0;
    for (let k = 0; k < this.#liveSize; k++) {
      const u = live[k]!;
      if (weight[u]! <= room && this.#has(u)) pool[size++] = u;
    }
    this.#poolSize = size;
    return size;
  }

  /** Takes the one, two or three units that fill the room best; answers their length. */
  #complete(room: number, allowed: number): number {
    const [weight, item, rails] = [this.#weight, this.#item, this.#rails];
    const [pool, left] = [this.#pool, this.#left];
    const size = this.#fitting(room);
    if (size === 0) return 0;
    let best = weight[pool[0]!]!;
    let [a, b, c] = [pool[0]!, -1, -1];
    const pair = this.#bestPair(0, room, best, -1);
    if (pair > best) [best, a, b] = [pair, this.#high, this.#low];
    const looks = size <= FEW ? size : FEW / 4;
    for (let look = 0; look < looks && room - best > allowed; look++) {
      const place = size <= FEW ? look : Math.floor(this.#random() * size);
      const u = pool[place]!;
      left[item[u]!]! -= rails[u]!;
      const sum = weight[u]! + this.#bestPair(place, room - weight[u]!, best - weight[u]!, item[u]!);
      left[item[u]!]! += rails[u]!;
      if (sum > best) [best, a, b, c] = [sum, u, this.#high, this.#low];
    }
    for (const u of [a, b, c]) if (u >= 0) left[item[u]!]! -= rails[u]!;
    return best;
  }

  /**
   * Greatest weight of two units from place `from` of the pool on that fit and weigh more than `floor`; −Infinity
   * when there are none. The pool stands heaviest first, so the partner's place only moves towards the front.
   * `touched`: the item of which rails were taken since the pool was filled; −1: none.
   */
  #bestPair(from: number, room: number, floor: number, touched: number): number {
    const [weight, item, rails] = [this.#weight, this.#item, this.#rails];
    const [pool, size, left] = [this.#pool, this.#poolSize, this.#left];
    let best = floor;
    let found = false;
    for (let high = from, partner = size; high < size && high <= partner; high++) {
      const u = pool[high]!;
      const a = weight[u]!;
      while (partner > high && a + weight[pool[partner - 1]!]! <= room) partner--;
      const i = item[u]!;
      if (i === touched && !this.#has(u)) continue;
      for (let low = partner; low < size; low++) {
        const v = pool[low]!;
        const sum = a + weight[v]!;
        if (sum <= best) break;
        const j = item[v]!;
        if (j === touched && !this.#has(v)) continue;
        if (i === j && left[i]! < rails[u]! + rails[v]!) continue;
        [best, found, this.#high, this.#low] = [sum, true, u, v];
        break;
      }
    }
    return found ? best : -Infinity;
  }
}
