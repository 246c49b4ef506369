/**
 * Makes a plan easier to cut. Which pieces are used stays as it is; rails are exchanged between two sticks as long as that
 * improves, in this order: few long offcuts, fewer visits (a stick fetched for a setting), fewer
 * different layouts, fewer rails apart from their partners. The descent is bounded by trials; the clock
 * only ends it, so that the same patterns end the same way where there is time enough.
 */
import type { Pattern, PatternEntry } from '../solve/problem.js';
import type { MouldingTask } from '../stock/task.js';
import { type StickFigures, StickHandling, type StickLanes } from './stick-handling.js';

/** Exchanges looked at closely, some 5 µs each. */
const TRIALS = 60_000;
/** Pairs of lanes looked at, some 10 µs each: in a plan of hundreds of layouts most of them hold nothing to exchange. */
const PAIRS = 40_000;
/** Pairs of lanes between looks at whether to stop. */
const LOOK = 200;
/** Rails of one item that change sticks at once: a pair moves together. */
const MOST_MOVED = 2;

/** What is improved, most important first. */
export const STEPS = ['offcuts', 'visits', 'layouts', 'pairs'] as const;
export type Step = (typeof STEPS)[number];

/** Equal pieces cut alike. */
interface AlikePieces {
  readonly stock: number;
  readonly lanes: StickLanes;
  /** Empty until needed: most cuts are never made. */
  key: string;
  readonly worth: StickFigures;
  /** What is left of each lane. */
  readonly rooms: readonly number[];
  count: number;
}

/** What leaves a lane: nothing, or up to `MOST_MOVED` of one item. */
interface Load {
  readonly item: number;
  readonly count: number;
  readonly weight: number;
}

const NOTHING: Load = { item: -1, count: 0, weight: 0 };

function exchanged(entries: readonly PatternEntry[], away: Load, here: Load): readonly PatternEntry[] {
  const counts = new Map(entries.map(({ item, count }) => [item, count]));
  if (away.count > 0) counts.set(away.item, (counts.get(away.item) ?? 0) - away.count);
  if (here.count > 0) counts.set(here.item, (counts.get(here.item) ?? 0) + here.count);
  return [...counts]
    .filter(([, count]) => count > 0)
    .map(([item, count]) => ({ item, count }))
    .sort((a, b) => a.item - b.item);
}

function keyOf(cut: AlikePieces): string {
  if (cut.key !== '') return cut.key;
  const { stock, lanes } = cut;
  cut.key = `${stock} ${lanes.map((lane) => lane.map(({ item, count }) => `${item}x${count}`).join(' ')).join('|')}`;
  return cut.key;
}

function sumOf(cuts: readonly AlikePieces[], of: keyof StickFigures): number {
  return cuts.reduce((sum, cut) => sum + cut.worth[of], 0);
}

class Tidying {
  readonly #handling: StickHandling;
  readonly #cuts = new Map<string, AlikePieces>();
  readonly #known = new WeakMap<readonly PatternEntry[], readonly Load[]>();
  readonly #steps: readonly Step[];
  readonly #stopped: () => boolean;
  #over = false;
  #trials = TRIALS;
  #pairs = PAIRS;
  /** Two lanes with less left between them have nothing to better; 0: any may. */
  readonly #least: number;

  constructor(
    task: MouldingTask,
    patterns: readonly Pattern[],
    steps: readonly Step[],
    stopped: () => boolean,
  ) {
    this.#handling = new StickHandling(task);
    this.#steps = steps;
    this.#stopped = stopped;
    // What two lanes waste together stays, and only an offcut to keep counts.
    const offcuts = steps.every((step) => step === 'offcuts') && this.#handling.oneKind;
    this.#least = offcuts ? task.moulding.keepOver : 0;
    for (const { stock, count, segments } of patterns) {
      const lanes = segments.map((segment) => segment.toSorted((a, b) => a.item - b.item));
      this.#add(this.#cut(stock, lanes), count);
    }
  }

  #cut(stock: number, lanes: StickLanes): AlikePieces {
    const rooms = lanes.map((entries, lane) => this.#handling.room(stock, lane, entries));
    return { stock, lanes, key: '', worth: this.#handling.of(stock, lanes), rooms, count: 0 };
  }

  #add(cut: AlikePieces, count: number): void {
    const key = keyOf(cut);
    const known = this.#cuts.get(key) ?? cut;
    this.#cuts.set(key, known);
    known.count += count;
    if (known.count === 0) this.#cuts.delete(key);
  }

  /** How many more layouts there are once one piece of each of `before` is cut as `after`. */
  #moreLayouts(before: readonly AlikePieces[], after: readonly AlikePieces[]): number {
    const change = new Map<string, number>();
    for (const cut of before) change.set(keyOf(cut), (change.get(keyOf(cut)) ?? 0) - 1);
    for (const cut of after) change.set(keyOf(cut), (change.get(keyOf(cut)) ?? 0) + 1);
    let more = 0;
    for (const [key, by] of change) {
      const count = this.#cuts.get(key)?.count ?? 0;
      more += Number(count + by > 0) - Number(count > 0);
    }
    return more;
  }

  /** Below 0 where cutting `after` instead of `before` improves this step, above 0 where it makes it worse. */
  #change(step: Step, before: readonly AlikePieces[], after: readonly AlikePieces[]): number {
    switch (step) {
      case 'offcuts':
        return sumOf(before, 'kept') - sumOf(after, 'kept');
      case 'visits':
        return sumOf(after, 'visits') - sumOf(before, 'visits');
      case 'layouts':
        return this.#moreLayouts(before, after);
      case 'pairs':
        return sumOf(after, 'apart') - sumOf(before, 'apart');
      default:
        return step satisfies never;
    }
  }

  #better(before: readonly AlikePieces[], after: readonly AlikePieces[]): boolean {
    for (const step of this.#steps) {
      const change = this.#change(step, before, after);
      if (change !== 0) return change < 0;
    }
    return false;
  }

  /** Tries to exchange `away` from lane `la` of an `a` for `here` from lane `lb` of a `b`; keeps it only if it is better. */
  #try(a: AlikePieces, la: number, away: Load, b: AlikePieces, lb: number, here: Load): boolean {
    this.#trials -= 1;
    const handling = this.#handling;
    const lanesA = a.lanes.with(la, exchanged(a.lanes[la]!, away, here));
    const lanesB = b.lanes.with(lb, exchanged(b.lanes[lb]!, here, away));
    if (handling.room(a.stock, la, lanesA[la]!) < 0 || handling.room(b.stock, lb, lanesB[lb]!) < 0)
      return false;
    // A stick without rails would no longer be used, but the proof is of the sticks that are used.
    if ([lanesA, lanesB].some((lanes) => lanes.every((lane) => lane.length === 0))) return false;
    const after = [this.#cut(a.stock, lanesA), this.#cut(b.stock, lanesB)];
    if (!this.#better([a, b], after)) return false;
    for (const cut of [a, b]) this.#add(cut, -1);
    for (const cut of after) this.#add(cut, 1);
    return true;
  }

  /** What may leave a lane; lanes are looked at again and again, and never change. */
  #loads(entries: readonly PatternEntry[]): readonly Load[] {
    const known = this.#known.get(entries);
    if (known !== undefined) return known;
    const loads: Load[] = [NOTHING];
    for (const { item, count } of entries) {
      const weight = this.#handling.weight(item);
      for (let n = 1; n <= Math.min(count, MOST_MOVED); n++)
        loads.push({ item, count: n, weight: n * weight });
    }
    this.#known.set(entries, loads);
    return loads;
  }

  get #spent(): boolean {
    return this.#trials <= 0 || this.#pairs <= 0 || this.#over;
  }

  /** Makes the first exchange between two lanes that is an improvement. */
  #exchange(a: AlikePieces, la: number, b: AlikePieces, lb: number): boolean {
    this.#pairs -= 1;
    if (this.#pairs % LOOK === 0) this.#over = this.#stopped();
    const [roomA, roomB] = [a.rooms[la]!, b.rooms[lb]!];
    if (roomA + roomB < this.#least) return false;
    const [aways, heres] = [this.#loads(a.lanes[la]!), this.#loads(b.lanes[lb]!)];
    const { oneKind } = this.#handling;
    for (const away of aways) {
      for (const here of heres) {
        const shift = here.weight - away.weight;
        if (away.item === here.item) continue;
        if (oneKind && (shift > roomA || -shift > roomB)) continue;
        if (this.#trials <= 0) return false;
        if (this.#try(a, la, away, b, lb, here)) return true;
      }
    }
    return false;
  }

  #improve(a: AlikePieces, b: AlikePieces): boolean {
    if (this.#spent || a.count === 0 || b.count === 0 || (a === b && a.count < 2)) return false;
    for (let la = 0; la < a.lanes.length; la++) {
      for (let lb = 0; lb < b.lanes.length; lb++) if (this.#exchange(a, la, b, lb)) return true;
    }
    return false;
  }

  /** Once over all pairs of layouts; false when nothing got better. */
  #pass(): boolean {
    let better = false;
    const cuts = [...this.#cuts.values()];
    for (let i = 0; i < cuts.length && !this.#spent; i++) {
      for (let j = i; j < cuts.length; j++) while (this.#improve(cuts[i]!, cuts[j]!)) better = true;
    }
    return better;
  }

  patterns(): readonly Pattern[] {
    while (this.#pass());
    return [...this.#cuts.values()].map(({ stock, count, lanes }) => ({ stock, count, segments: lanes }));
  }
}

const NEVER = (): boolean => false;

/**
 * The same pieces and rails, easier to cut. `steps` are in the order of `STEPS`; only benches leave some out. Once
 * `stopped` says so, what has been exchanged so far stays.
 */
export function tidy(
  task: MouldingTask,
  patterns: readonly Pattern[],
  steps: readonly Step[] = STEPS,
  stopped = NEVER,
): readonly Pattern[] {
  return new Tidying(task, patterns, steps, stopped).patterns();
}
