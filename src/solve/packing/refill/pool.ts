/** Rails that lie on no piece, to draw from. */

/** Rails of rare lengths beyond their share that a piece may be filled from, and looks at the pool for one piece. */
const RARE_MORE = 1;
const LOOKS = 60;

export class RailPool {
  /** One entry a rail, in no order. */
  #items = new Int32Array(0);
  #size = 0;
  readonly #random: () => number;
  /** In the pool when rare lengths were looked for: rails of each item, their mean, and how many of rare ones a piece may get. */
  readonly #counts: Int32Array;
  #mean = 0;
  #rare = 0;

  constructor(items: number, random: () => number) {
    this.#counts = new Int32Array(items);
    this.#random = random;
  }

  get size(): number {
    return this.#size;
  }

  fill(demand: Int32Array): void {
    const rails = demand.reduce((sum, d) => sum + d, 0);
    if (this.#items.length < rails) this.#items = new Int32Array(rails);
    this.#size = 0;
    for (let i = 0; i < demand.length; i++)
      for (let k = 0; k < demand[i]!; k++) this.#items[this.#size++] = i;
  }

  /** Puts a rail back. */
  put(item: number): void {
    this.#items[this.#size++] = item;
  }

  pick(count: number): number {
    return Math.floor(this.#random() * count);
  }

  /** Takes rails until there are `most` to choose from, beside those chosen already; how many there are then. */
  draw(choice: Int32Array, chosen: number, most: number): number {
    const items = this.#items;
    let size = chosen;
    while (size < most && this.#size > 0) {
      const at = this.pick(this.#size);
      choice[size++] = items[at]!;
      items[at] = items[--this.#size]!;
    }
    return size;
  }

  /** Which lengths are rare, and how many rails of them one of the pieces still to fill may get. */
  look(pieces: number): void {
    const counts = this.#counts.fill(0);
    for (let k = 0; k < this.#size; k++) counts[this.#items[k]!]!++;
    let [live, rare] = [0, 0];
    for (const count of counts) if (count > 0) live++;
    this.#mean = this.#size / live;
    for (const count of counts) if (count < this.#mean) rare += count;
    this.#rare = Math.ceil(rare / pieces + RARE_MORE);
  }

  /**
   * Takes up to `most` rails to choose from, not too many of rare lengths: they fill pieces best, and without them the last
   * pieces could not be filled well.
   */
  drawEvenly(choice: Int32Array, most: number): number {
    const [items, counts] = [this.#items, this.#counts];
    let [size, rare, end] = [0, 0, this.#size];
    for (let look = 0; look < LOOKS && size < most && end > 0; look++) {
      const at = this.pick(end);
      const item = items[at]!;
      end--;
      items[at] = items[end]!;
      if (counts[item]! < this.#mean && ++rare > this.#rare) items[end] = item;
      else {
        choice[size++] = item;
        items[end] = items[--this.#size]!;
      }
    }
    return size;
  }
}
