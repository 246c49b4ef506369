/**
 * Minimisation of open stacks, exact: an order of turns in which the fewest sticks lie begun at once. Sticks that share
 * a turn are neighbours in a graph. A state is the set of sticks that have been finished; finishing one more begins its
 * neighbours, so that |N[S ∪ s] \ S| lie begun (search over sticks; Chu, Stuckey, CP 2009; the dynamic programme over
 * sets with nogoods is of Garcia de la Banda, Stuckey, INFORMS J. Computing 19, 2007).
 *
 * What cuts the search: a set from which no order keeps to the limit is remembered; a stick whose finishing begins at
 * most one other is finished at once, for |N[S]| is submodular and the same step later saves nothing; of two sticks, one
 * of which begins all that the other begins, only the other is tried; components are ordered apart; no limit below what
 * contracting least degrees proves is tried (MMD+; Bodlaender, Koster 2011: open stacks are pathwidth and one).
 */

/** 32 sticks a word. */
const BITS = 32;
/** States remembered, some 16 to 64 bytes each. */
const NOGOODS = 1 << 20;

export interface StackOrder {
  /** Turns in the order of work, each once. */
  readonly order: readonly number[];
  /** Sticks begun at once in that order. */
  readonly most: number;
  /** No order has fewer. */
  readonly bound: number;
}

function popcount(word: number): number {
  let v = word - ((word >>> 1) & 0x55555555);
  v = (v & 0x33333333) + ((v >>> 2) & 0x33333333);
  return Math.imul((v + (v >>> 4)) & 0x0f0f0f0f, 0x01010101) >>> 24;
}

/** Sets of one width, remembered whole: a set is only said to be known if every word agrees. */
class SetTable {
  readonly #words: number;
  readonly #slots: Int32Array;
  readonly #sets: Int32Array;
  #size = 0;

  constructor(words: number, capacity: number) {
    this.#words = words;
    this.#slots = new Int32Array(2 * capacity).fill(-1);
    this.#sets = new Int32Array(words * capacity);
  }

  #slot(set: Int32Array, at: number): number {
    let hash = 0;
    for (let w = 0; w < this.#words; w++) {
      hash = Math.imul(hash ^ set[at + w]!, 0x9e3779b1);
      hash ^= hash >>> 15;
    }
    const mask = this.#slots.length - 1;
    for (let slot = hash & mask; ; slot = (slot + 1) & mask) {
      const known = this.#slots[slot]!;
      if (known < 0) return slot;
      let w = 0;
      while (w < this.#words && this.#sets[known * this.#words + w] === set[at + w]) w++;
      if (w === this.#words) return slot;
    }
  }

  has(set: Int32Array, at: number): boolean {
    return this.#slots[this.#slot(set, at)]! >= 0;
  }

  /** Does nothing when the table is full. */
  add(set: Int32Array, at: number): void {
    if (this.#size * this.#words >= this.#sets.length) return;
    const slot = this.#slot(set, at);
    if (this.#slots[slot]! >= 0) return;
    this.#sets.set(set.subarray(at, at + this.#words), this.#size * this.#words);
    this.#slots[slot] = this.#size;
    this.#size += 1;
  }

  clear(): void {
    this.#slots.fill(-1);
    this.#size = 0;
  }
}

/** Treewidth of the graph is at least this: the largest least degree while contracting least-degree vertices (MMD+). */
function contractionDegree(near: readonly ReadonlySet<number>[]): number {
  const graph = new Map(near.map((set, at) => [at, new Set(set)]));
  let best = 0;
  while (graph.size > 1) {
    let [least, degree] = [-1, Number.POSITIVE_INFINITY];
    for (const [at, set] of graph) if (set.size < degree) [least, degree] = [at, set.size];
    best = Math.max(best, degree);
    const own = graph.get(least)!;
    graph.delete(least);
    // Into the neighbour of least degree.
    let into = -1;
    for (const at of own) if (into < 0 || graph.get(at)!.size < graph.get(into)!.size) into = at;
    for (const at of own) graph.get(at)!.delete(least);
    if (into < 0) continue;
    for (const at of own) {
      if (at === into) continue;
      graph.get(into)!.add(at);
      graph.get(at)!.add(into);
    }
  }
  return best;
}

type Verdict = 'found' | 'none' | 'gave up';

/** One component: sticks 0 … n−1 with their neighbours, themselves included. */
class Component {
  readonly #n: number;
  readonly #words: number;
  readonly #near: Int32Array;
  /** By depth: the finished, the begun or finished. */
  readonly #done: Int32Array;
  readonly #met: Int32Array;
  readonly #known: SetTable;
  readonly #order: number[] = [];
  #nodes = 0;

  constructor(readonly near: readonly ReadonlySet<number>[]) {
    this.#n = near.length;
    this.#words = Math.ceil(this.#n / BITS);
    const words = this.#words;
    this.#near = new Int32Array(this.#n * words);
    near.forEach((set, at) => {
      for (const other of [at, ...set]) this.#near[at * words + (other >>> 5)]! |= 1 << (other & 31);
    });
    this.#done = new Int32Array((this.#n + 1) * words);
    this.#met = new Int32Array((this.#n + 1) * words);
    this.#known = new SetTable(words, Math.min(NOGOODS, 2 ** Math.min(20, this.#n)));
  }

  /** How many sticks finishing `stick` begins. */
  #begins(stick: number, at: number): number {
    const words = this.#words;
    let count = 0;
    for (let w = 0; w < words; w++) count += popcount(this.#near[stick * words + w]! & ~this.#met[at + w]!);
    return count;
  }

  #finish(stick: number, depth: number): void {
    const words = this.#words;
    const [at, next] = [depth * words, (depth + 1) * words];
    for (let w = 0; w < words; w++) {
      this.#done[next + w] = this.#done[at + w]!;
      this.#met[next + w] = this.#met[at + w]! | this.#near[stick * words + w]!;
    }
    this.#done[next + (stick >>> 5)]! |= 1 << (stick & 31);
    this.#order[depth] = stick;
  }

  /** Whether all that `a` would begin is begun by `b`. */
  #within(a: number, b: number, at: number): boolean {
    const words = this.#words;
    for (let w = 0; w < words; w++) {
      const more = this.#near[a * words + w]! & ~this.#met[at + w]!;
      if ((more & ~this.#near[b * words + w]!) !== 0) return false;
    }
    return true;
  }

  #search(depth: number, begun: number, limit: number): Verdict {
    if (depth === this.#n) return 'found';
    this.#nodes -= 1;
    if (this.#nodes < 0) return 'gave up';
    const words = this.#words;
    const at = depth * words;
    const open: { stick: number; begins: number }[] = [];
    for (let stick = 0; stick < this.#n; stick++) {
      if ((this.#done[at + (stick >>> 5)]! & (1 << (stick & 31))) !== 0) continue;
      const begins = this.#begins(stick, at);
      // Finishing it leaves no more begun than there are: nothing is lost by doing so now.
      if (begins <= 1 && begun + begins <= limit && (depth > 0 || begins === 0)) {
        this.#finish(stick, depth);
        return this.#search(depth + 1, begun + begins - 1, limit);
      }
      if (begun + begins <= limit) open.push({ stick, begins });
    }
    if (this.#known.has(this.#done, at)) return 'none';
    open.sort((a, b) => a.begins - b.begins || a.stick - b.stick);
    const tried: number[] = [];
    let verdict: Verdict = 'none';
    for (const { stick, begins } of open) {
      if (tried.some((other) => this.#within(other, stick, at))) continue;
      tried.push(stick);
      this.#finish(stick, depth);
      const found = this.#search(depth + 1, begun + begins - 1, limit);
      if (found === 'found') return found;
      if (found === 'gave up') verdict = found;
      if (this.#nodes < 0) return 'gave up';
    }
    if (verdict === 'none') this.#known.add(this.#done, at);
    return verdict;
  }

  /** Sticks in the order they are finished with at most `limit` begun at once; `effort`: states looked at. */
  within(limit: number, effort: number): { readonly verdict: Verdict; readonly order: readonly number[] } {
    this.#known.clear();
    this.#nodes = effort;
    this.#done.fill(0);
    this.#met.fill(0);
    const verdict = this.#search(0, 0, limit);
    return { verdict, order: verdict === 'found' ? this.#order.slice(0, this.#n) : [] };
  }

  /** Always finishes the stick that begins fewest. */
  greedy(): { readonly order: readonly number[]; readonly most: number } {
    const words = this.#words;
    this.#done.fill(0);
    this.#met.fill(0);
    let [begun, most] = [0, 0];
    for (let depth = 0; depth < this.#n; depth++) {
      let [best, least] = [-1, Number.POSITIVE_INFINITY];
      for (let stick = 0; stick < this.#n; stick++) {
        if ((this.#done[depth * words + (stick >>> 5)]! & (1 << (stick & 31))) !== 0) continue;
        const begins = this.#begins(stick, depth * words);
        if (begins < least) [best, least] = [stick, begins];
      }
      this.#finish(best, depth);
      most = Math.max(most, begun + least);
      begun += least - 1;
    }
    return { order: this.#order.slice(0, this.#n), most };
  }
}

function neighbours(sticks: readonly (readonly number[])[]): readonly ReadonlySet<number>[] {
  const at = new Map<number, number[]>();
  sticks.forEach((turns, stick) => {
    for (const turn of turns) {
      const known = at.get(turn);
      if (known === undefined) at.set(turn, [stick]);
      else known.push(stick);
    }
  });
  const near = sticks.map(() => new Set<number>());
  for (const together of at.values())
    for (const a of together) for (const b of together) if (a !== b) near[a]!.add(b);
  return near;
}

function components(near: readonly ReadonlySet<number>[]): readonly (readonly number[])[] {
  const met = new Set<number>();
  const found: number[][] = [];
  for (const begin of near.keys()) {
    if (met.has(begin)) continue;
    met.add(begin);
    const own = [begin];
    for (const at of own) {
      for (const next of near[at]!) {
        if (met.has(next)) continue;
        met.add(next);
        own.push(next);
      }
    }
    found.push(own.sort((a, b) => a - b));
  }
  return found;
}

/** Sticks that another one contains lie begun only while that does: they add nothing once it is counted. */
function turnsInOrder(
  sticks: readonly (readonly number[])[],
  finished: readonly number[],
): readonly number[] {
  const order = new Set<number>();
  for (const stick of finished) for (const turn of [...sticks[stick]!].sort((a, b) => a - b)) order.add(turn);
  return [...order];
}

/**
 * `sticks`: the turns of each, two or more (a stick that one turn cuts whole is never laid down). `effort`: states looked
 * at for each limit and component; where that runs out the order is the best found, with `bound` below `most`.
 */
export function fewestBegun(sticks: readonly (readonly number[])[], effort: number): StackOrder {
  const near = neighbours(sticks);
  let [most, bound] = [0, 0];
  const order: number[] = [];
  for (const own of components(near)) {
    const place = new Map(own.map((stick, at) => [stick, at]));
    const inner = own.map((stick) => new Set([...near[stick]!].map((other) => place.get(other)!)));
    const component = new Component(inner);
    let best = component.greedy();
    let least = contractionDegree(inner) + 1;
    while (least < best.most) {
      const limit = best.most - 1;
      const { verdict, order: found } = component.within(limit, effort);
      if (verdict === 'found') best = { order: found, most: mostOf(inner, found) };
      else {
        if (verdict === 'none') least = best.most;
        break;
      }
    }
    most = Math.max(most, best.most);
    bound = Math.max(bound, Math.min(least, best.most));
    order.push(
      ...turnsInOrder(
        sticks,
        best.order.map((at) => own[at]!),
      ),
    );
  }
  return { order, most, bound };
}

/** Counted from the order the sticks are finished in. */
function mostOf(near: readonly ReadonlySet<number>[], order: readonly number[]): number {
  const met = new Set<number>();
  let most = 0;
  order.forEach((stick, finished) => {
    for (const other of [stick, ...near[stick]!]) met.add(other);
    most = Math.max(most, met.size - finished);
  });
  return most;
}
