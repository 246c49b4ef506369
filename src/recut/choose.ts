/**
 * How the lost rails of one moulding are replaced. Nothing else moves if that costs neither money nor a rack piece that
 * was not to be cut. Otherwise it is the cheapest way there is, with as few sticks opened again as were found to be
 * enough. Sticks that rails were planned on count as used: nothing moves only to save them. Where not all can be made,
 * frames of lower priority that are not begun give up their wood.
 */
import { copyOf, lineOfFrame } from '../documents/ids.js';
import type { Engine } from '../solve/engine.js';
import type { Batch } from '../terms.js';
import type { PlacedUnit } from './hand-out.js';
import { type RecutClock, type RecutTask, type Replacement, solve } from './problem.js';
import type { ShopState } from './state.js';
import type { RailUnit, SortedUnits } from './units.js';

export interface RecutChoice {
  /** As given, less what is given up for frames that are wanted more. */
  readonly sorted: SortedUnits;
  readonly placed: readonly PlacedUnit[];
  /** Sticks whose rails were free to move. */
  readonly opened: ReadonlySet<number>;
  /** Groups that nothing left can hold. */
  readonly missing: readonly RailUnit[];
  /** New sticks for those, as if the offers were unlimited; null when no offer holds them. */
  readonly wanted: readonly PlacedUnit[] | null;
  /** Cents: no way of replacing these groups costs less, whatever is moved. */
  readonly bound: number;
  /** Money, and the worth of pieces begun on which no rail was planned. */
  readonly spent: Spent;
  /** A search found no way, but ended before it could prove that there is none. */
  readonly unproven: boolean;
}

/** Shares of the time left. */
const FIRST = 1 / 4;
const WHOLE = 1 / 2;
const STEP = 1 / 12;
/** What every solve gets at least, in milliseconds. */
const LEAST = 100;
/** Up to so many sticks are tried one by one: need they be opened at all? */
const CLOSED_AGAIN = 24;

/** Money, then worth of pieces begun on which no rail was planned. */
export type Spent = readonly [number, number];

interface Placing {
  readonly found: Replacement;
  readonly open: ReadonlySet<number>;
  readonly bound: number;
}

const NONE: ReadonlySet<number> = new Set();

function spentOn({ costs }: Replacement): Spent {
  return [costs[0] ?? 0, costs[1] ?? 0];
}

/** Whether less is spent. */
export function better(a: Spent, b: Spent): boolean {
  return a[0] < b[0] || (a[0] === b[0] && a[1] < b[1]);
}

class Choosing {
  readonly #base: Omit<RecutTask, 'isOpen' | 'groups'>;
  readonly #engine: Engine;
  readonly #clock: RecutClock;
  unproven = false;

  constructor(base: Omit<RecutTask, 'isOpen' | 'groups'>, engine: Engine, clock: RecutClock) {
    this.#base = base;
    this.#engine = engine;
    this.#clock = clock;
  }

  #solve(
    groups: readonly RailUnit[],
    open: ReadonlySet<number>,
    share: number,
    { onlyOffers = false, enough }: { onlyOffers?: boolean; enough?: RecutClock['enough'] } = {},
  ): Replacement | null {
    const { now, deadline, seed } = this.#clock;
    const at = now();
    const end = at + Math.max(LEAST, (deadline - at) * share);
    const isOpen = (stick: number): boolean => open.has(stick);
    const setting = { ...this.#base, groups, isOpen, onlyOffers };
    return solve(setting, this.#engine, {
      now,
      deadline: end,
      seed,
      onUnproven: () => {
        this.unproven = true;
      },
      ...(enough && { enough }),
    });
  }

  /** Sticks that could be opened: some rails are still to be cut from them. Those with the most such rails come last. */
  #openable(): readonly number[] {
    const count = new Map<number, number>();
    for (const { home } of this.#base.sorted.kept) count.set(home, (count.get(home) ?? 0) + 1);
    return [...count].sort(([, a], [, b]) => a - b).map(([stick]) => stick);
  }

  /** The fewest of the sticks, in this order, that reach `goal`; then closing each again is tried. */
  #narrow(
    groups: readonly RailUnit[],
    sticks: readonly number[],
    whole: Replacement,
  ): [Replacement, ReadonlySet<number>] {
    const goal = spentOn(whole);
    const enough = (money: number, worth: number, bound: number): boolean =>
      bound > goal[0] || !better(goal, [money, worth]);
    const reaches = (open: ReadonlySet<number>): Replacement | null => {
      const found = this.#solve(groups, open, STEP, { enough });
      return found !== null && !better(goal, spentOn(found)) ? found : null;
    };
    let best: [Replacement, ReadonlySet<number>] = [whole, new Set(sticks)];
    let [low, high] = [0, sticks.length];
    while (high - low > 1) {
      const middle = Math.floor((low + high) / 2);
      const open = new Set(sticks.slice(0, middle));
      const found = reaches(open);
      if (found === null) low = middle;
      else {
        high = middle;
        best = [found, open];
      }
    }
    for (const stick of [...best[1]].slice(0, CLOSED_AGAIN)) {
      const open = new Set([...best[1]].filter((one) => one !== stick));
      const found = this.#clock.now() < this.#clock.deadline ? reaches(open) : null;
      if (found !== null) best = [found, open];
    }
    return best;
  }

  /** Null when no way was found to replace all of these groups. */
  place(groups: readonly RailUnit[]): Placing | null {
    this.unproven = false;
    const still = this.#solve(groups, NONE, FIRST);
    const [money = 0, worth = 0] = still?.costs ?? [];
    if (still !== null && money === 0 && worth === 0) return { found: still, open: NONE, bound: 0 };
    const sticks = this.#openable();
    const all = new Set(sticks);
    // Once no plan can be cheaper than the one that moves nothing, the search is over.
    const enough: RecutClock['enough'] = (_money, _worth, bound) =>
      worth === 0 && still !== null && bound >= money;
    const moved = sticks.length === 0 ? still : this.#solve(groups, all, WHOLE, { enough });
    // On begun sticks with unlike angles the engine is given less room than there is, so its bound does not hold.
    const bound = this.#base.standing.task.spacing.mitres.length === 1 ? (moved?.bound ?? 0) : 0;
    if (moved === null) return still === null ? null : { found: still, open: NONE, bound };
    if (still !== null && !better(spentOn(moved), spentOn(still))) {
      return { found: still, open: NONE, bound };
    }
    const [found, open] = this.#narrow(groups, sticks, moved);
    return { found, open, bound };
  }

  wanted(groups: readonly RailUnit[]): readonly PlacedUnit[] | null {
    return this.#solve(groups, NONE, FIRST, { onlyOffers: true })?.placed ?? null;
  }
}

interface FrameUnits {
  readonly frame: string;
  readonly units: readonly RailUnit[];
  /** Some of it is cut and good. */
  readonly begun: boolean;
}

/** What comes first in the order of the batch: priority, at the same one what is begun, then the order of the lines. */
class Ranks {
  readonly #ranks: ReadonlyMap<string, { readonly first: number; readonly line: number }>;

  constructor(batch: Batch) {
    this.#ranks = new Map(
      batch.frames.map((line, i) => [line.id, { first: line.priority ?? Number.POSITIVE_INFINITY, line: i }]),
    );
  }

  /** Negative where `a` is wanted more than `b`; whatever is begun is wanted more only at equal priority. */
  urgency(a: FrameUnits, b: FrameUnits): number {
    const [x, y] = [this.#ranks.get(lineOfFrame(a.frame))!, this.#ranks.get(lineOfFrame(b.frame))!];
    if (x.first !== y.first) return x.first < y.first ? -1 : 1;
    return Number(b.begun) - Number(a.begun);
  }

  order(a: FrameUnits, b: FrameUnits): number {
    const [x, y] = [this.#ranks.get(lineOfFrame(a.frame))!, this.#ranks.get(lineOfFrame(b.frame))!];
    return this.urgency(a, b) || x.line - y.line || copyOf(a.frame) - copyOf(b.frame);
  }
}

function framesOf(units: readonly RailUnit[], begun: ReadonlySet<string>): readonly FrameUnits[] {
  const frames = new Map<string, RailUnit[]>();
  for (const unit of units) {
    const { frame } = unit.rails[0]!;
    frames.set(frame, [...(frames.get(frame) ?? []), unit]);
  }
  return [...frames].map(([frame, own]) => ({ frame, units: own, begun: begun.has(frame) }));
}

/** Frames of which a good rail is cut. */
function begunFrames({ sticks }: ShopState): ReadonlySet<string> {
  const good = sticks.flatMap(({ lanes }) => lanes.flatMap(({ gone }) => gone.filter(({ dead }) => !dead)));
  return new Set(good.map(({ frame }) => frame));
}

/** `full`: sticks nothing is added to; `paired`: whose pairs are placed as one. */
export function choose(
  batch: Batch,
  standing: ShopState,
  given: SortedUnits,
  { full, paired }: Pick<RecutTask, 'full' | 'paired'>,
  engine: Engine,
  clock: RecutClock,
): RecutChoice {
  const ranks = new Ranks(batch);
  const begun = begunFrames(standing);
  let sorted = given;
  const choosing = (of: SortedUnits): Choosing =>
    new Choosing({ batch, standing, sorted: of, full, onlyOffers: false, paired }, engine, clock);
  const first = choosing(given);
  const all = first.place(given.groups);
  if (all !== null) {
    const { found, open, bound } = all;
    return {
      sorted,
      placed: found.placed,
      opened: open,
      missing: [],
      wanted: [],
      bound,
      spent: spentOn(found),
      unproven: false,
    };
  }
  let unproven = first.unproven;
  let made: readonly RailUnit[] = [];
  let best: Placing | null = null;
  const attempt = (groups: readonly RailUnit[], of: SortedUnits): Placing | null => {
    const one = choosing(of);
    const found = one.place(groups);
    unproven ||= found === null && one.unproven;
    return found;
  };
  const touched = new Set(given.groups.map(({ rails }) => rails[0]!.frame));
  const givenUp: FrameUnits[] = [];
  const without = (frames: readonly FrameUnits[]): SortedUnits => {
    const gone = new Set(frames.flatMap(({ units }) => units));
    return { ...sorted, kept: sorted.kept.filter((unit) => !gone.has(unit)) };
  };
  for (const lost of [...framesOf(given.groups, begun)].sort((a, b) => ranks.order(a, b))) {
    const wanted = [...made, ...lost.units];
    let found = attempt(wanted, sorted);
    if (found === null) {
      // Frames not begun that are wanted less, the least wanted first: as few of them as leave room are given up.
      const later = framesOf(sorted.kept, begun)
        .filter((one) => !begun.has(one.frame) && !touched.has(one.frame) && ranks.urgency(lost, one) < 0)
        .sort((a, b) => ranks.order(b, a));
      found = later.length === 0 ? null : attempt(wanted, without(later));
      if (found !== null) {
        let [low, high] = [0, later.length];
        while (high - low > 1) {
          const middle = Math.floor((low + high) / 2);
          const less = attempt(wanted, without(later.slice(0, middle)));
          if (less === null) low = middle;
          else [high, found] = [middle, less];
        }
        const gone = later.slice(0, high);
        givenUp.push(...gone);
        sorted = without(gone);
      }
    }
    if (found === null) continue;
    best = found;
    made = wanted;
  }
  // What was given up may still find room where the others left it.
  for (const frame of givenUp.sort((a, b) => ranks.order(a, b))) {
    const found = attempt([...made, ...frame.units], sorted);
    if (found === null) continue;
    best = found;
    made = [...made, ...frame.units];
  }
  const units = [...given.groups, ...givenUp.flatMap((one) => one.units)];
  const missing = units.filter((unit) => !made.includes(unit));
  return {
    sorted,
    placed: best?.found.placed ?? [],
    opened: best?.open ?? NONE,
    missing,
    wanted: choosing(sorted).wanted(missing),
    bound: best?.bound ?? 0,
    spent: best === null ? [0, 0] : spentOn(best.found),
    unproven,
  };
}
