/**
 * Cuts the same sticks in a handier way. Which pieces are used is settled and stays; rails are exchanged between two
 * sticks as long as that betters, in this order: few long offcuts, fewer visits (a stick fetched for a setting), fewer
 * different layouts, fewer rails apart from their partners. A descent bounded by a number of trials, not by time, so
 * that the same patterns always end the same way.
 */
import type { Pattern, PatternEntry } from '../solve/problem.js';
import type { MouldingTask } from '../stock/task.js';
import { type Handiness, Handling, type StickLanes } from './handling.js';

/** Exchanges looked at closely, some 5 µs each. */
const TRIALS = 60_000;
/** Rails of one item that change sticks at once: a pair moves together. */
const MOST_MOVED = 2;

interface Piece {
  readonly stock: number;
  lanes: StickLanes;
  key: string;
  worth: Handiness;
}

/** What leaves a lane: nothing, or up to `MOST_MOVED` of one item. */
interface Load {
  readonly item: number;
  readonly count: number;
}

const NOTHING: Load = { item: -1, count: 0 };

function loads(entries: readonly PatternEntry[]): readonly Load[] {
  const some = entries.flatMap(({ item, count }) =>
    Array.from({ length: Math.min(count, MOST_MOVED) }, (_, n) => ({ item, count: n + 1 })),
  );
  return [NOTHING, ...some];
}

function exchanged(entries: readonly PatternEntry[], away: Load, here: Load): readonly PatternEntry[] {
  const counts = new Map(entries.map(({ item, count }) => [item, count]));
  if (away.count > 0) counts.set(away.item, (counts.get(away.item) ?? 0) - away.count);
  if (here.count > 0) counts.set(here.item, (counts.get(here.item) ?? 0) + here.count);
  return [...counts]
    .filter(([, count]) => count > 0)
    .map(([item, count]) => ({ item, count }))
    .sort((a, b) => a.item - b.item);
}

function keyOf(stock: number, lanes: StickLanes): string {
  return `${stock} ${lanes.map((lane) => lane.map(({ item, count }) => `${item}x${count}`).join(' ')).join('|')}`;
}

/** Negative where the first two sticks are handier than the second two, layouts aside. */
function compare(a: readonly Handiness[], b: readonly Handiness[], of: (one: Handiness) => number): number {
  return a.reduce((sum, one) => sum + of(one), 0) - b.reduce((sum, one) => sum + of(one), 0);
}

class Tidying {
  readonly #handling: Handling;
  readonly #pieces: readonly Piece[];
  /** Pieces by layout. */
  readonly #counts = new Map<string, number>();
  #trials = TRIALS;

  constructor(task: MouldingTask, patterns: readonly Pattern[]) {
    this.#handling = new Handling(task);
    this.#pieces = patterns.flatMap(({ stock, count, segments }) => {
      const lanes = segments.map((segment) => segment.toSorted((a, b) => a.item - b.item));
      const key = keyOf(stock, lanes);
      const worth = this.#handling.of(stock, lanes);
      this.#counts.set(key, (this.#counts.get(key) ?? 0) + count);
      return Array.from({ length: count }, () => ({ stock, lanes, key, worth }));
    });
  }

  /** How many more layouts there are once two pieces change theirs. */
  #moreLayouts(before: readonly string[], after: readonly string[]): number {
    const change = new Map<string, number>();
    for (const key of before) change.set(key, (change.get(key) ?? 0) - 1);
    for (const key of after) change.set(key, (change.get(key) ?? 0) + 1);
    let more = 0;
    for (const [key, by] of change) {
      const count = this.#counts.get(key) ?? 0;
      more += Number(count + by > 0) - Number(count > 0);
    }
    return more;
  }

  #better(pieces: readonly Piece[], worths: readonly Handiness[], keys: readonly string[]): boolean {
    const old = pieces.map((piece) => piece.worth);
    const kept = compare(old, worths, (one) => one.kept);
    const visits = compare(worths, old, (one) => one.visits);
    const first = kept || visits;
    if (first !== 0) return first < 0;
    const oldKeys = pieces.map((piece) => piece.key);
    const layouts = this.#moreLayouts(oldKeys, keys);
    return (layouts || compare(worths, old, (one) => one.apart)) < 0;
  }

  #change(piece: Piece, lanes: StickLanes, key: string, worth: Handiness): void {
    const left = (this.#counts.get(piece.key) ?? 0) - 1;
    if (left === 0) this.#counts.delete(piece.key);
    else this.#counts.set(piece.key, left);
    this.#counts.set(key, (this.#counts.get(key) ?? 0) + 1);
    [piece.lanes, piece.key, piece.worth] = [lanes, key, worth];
  }

  /** Tries `away` from lane `la` of `a` for `here` from lane `lb` of `b`; done only if better. */
  #try(a: Piece, la: number, away: Load, b: Piece, lb: number, here: Load): boolean {
    this.#trials -= 1;
    const handling = this.#handling;
    const lanesA = a.lanes.with(la, exchanged(a.lanes[la]!, away, here));
    const lanesB = b.lanes.with(lb, exchanged(b.lanes[lb]!, here, away));
    if (handling.room(a.stock, la, lanesA[la]!) < 0 || handling.room(b.stock, lb, lanesB[lb]!) < 0)
      return false;
    // A stick without rails would not be used any more, and which are used is part of what was proven.
    if ([lanesA, lanesB].some((lanes) => lanes.every((lane) => lane.length === 0))) return false;
    const worths = [handling.of(a.stock, lanesA), handling.of(b.stock, lanesB)] as const;
    const keys = [keyOf(a.stock, lanesA), keyOf(b.stock, lanesB)] as const;
    if (!this.#better([a, b], worths, keys)) return false;
    this.#change(a, lanesA, keys[0], worths[0]);
    this.#change(b, lanesB, keys[1], worths[1]);
    return true;
  }

  /** Makes the first exchange between two lanes that is an improvement. */
  #exchange(a: Piece, la: number, b: Piece, lb: number): boolean {
    const handling = this.#handling;
    const [roomA, roomB] = [
      handling.room(a.stock, la, a.lanes[la]!),
      handling.room(b.stock, lb, b.lanes[lb]!),
    ];
    const weight = ({ item, count }: Load): number => (count === 0 ? 0 : count * handling.weight(item));
    for (const away of loads(a.lanes[la]!)) {
      for (const here of loads(b.lanes[lb]!)) {
        const shift = weight(here) - weight(away);
        if (away.item === here.item) continue;
        if (handling.oneKind && (shift > roomA || -shift > roomB)) continue;
        if (this.#trials <= 0) return false;
        if (this.#try(a, la, away, b, lb, here)) return true;
      }
    }
    return false;
  }

  #improve(a: Piece, b: Piece): boolean {
    for (let la = 0; la < a.lanes.length; la++) {
      for (let lb = 0; lb < b.lanes.length; lb++) if (this.#exchange(a, la, b, lb)) return true;
    }
    return false;
  }

  /** The first piece of each layout, or where there is one, the second. */
  #layouts(nth: 'first' | 'second' = 'first'): ReadonlyMap<string, Piece> {
    const found = new Map<string, Piece>();
    const passed = new Set<string>();
    for (const piece of this.#pieces) {
      if (found.has(piece.key)) continue;
      if (nth === 'first' || passed.has(piece.key)) found.set(piece.key, piece);
      passed.add(piece.key);
    }
    return found;
  }

  /** Once over all pairs of layouts; false when nothing got better. */
  #pass(): boolean {
    let better = false;
    const firsts = [...this.#layouts()];
    const seconds = this.#layouts('second');
    for (const [i, [key, piece]] of firsts.entries()) {
      const twin = seconds.get(key);
      const others = firsts.slice(i + 1).map(([, other]) => other);
      for (const other of twin === undefined ? others : [twin, ...others]) {
        while (this.#trials > 0 && this.#improve(piece, other)) better = true;
      }
      if (this.#trials <= 0) return false;
    }
    return better;
  }

  patterns(): readonly Pattern[] {
    while (this.#pass());
    return [...this.#layouts()].map(([key, { stock, lanes }]) => ({
      stock,
      count: this.#counts.get(key) ?? 0,
      segments: lanes,
    }));
  }
}

/** The same pieces, the same rails, more handily cut. */
export function tidy(task: MouldingTask, patterns: readonly Pattern[]): readonly Pattern[] {
  return new Tidying(task, patterns).patterns();
}
