/**
 * Draws a lot from a larger one: settings with all their rails, at random, until the pieces are full but for a share of
 * what may be wasted. Where that cannot be, a few settings are parted, each of which two runs then set.
 */
import { type Lot, type LotTask, lengthOf, piecesIn, spareIn } from './lot.js';

/** All rails of one stop in the larger lot. */
interface Setting {
  readonly items: readonly number[];
  readonly length: number;
  readonly rails: number;
}

/** Share of its part of the waste that a lot has: more would be missing elsewhere, less makes it hard to pack. */
const WASTE = [0.8, 1.15] as const;
/** How far the number of rails and of settings may be from its share, beyond which the lot or the rest is hard to pack. */
const RAILS_OFF = 0.05;
const SETTINGS_OFF = 0.15;
/** Settings of which the fitting ones are chosen exactly, and fits among which the best is taken. */
const FREE = 22;
const HALF = FREE / 2;
const FITS = 100;

/** How a part of a setting differs from its share, least and most. */
const PART = [0.5, 1.5] as const;
/** An item of so many grains is parted. */
const LARGE = 1.5;
/** Share of a lot that parts of settings may take. */
const FILLED = 0.85;

function settingsIn({ turns, weights }: LotTask, { rails }: Lot): readonly Setting[] {
  const settings: (Setting & { items: number[]; length: number; rails: number })[] = [];
  let last = -1;
  for (let item = 0; item < rails.length; item++) {
    if (rails[item] === 0) continue;
    const stop = turns.stopOf[turns.turnOf[item]!]!;
    if (stop !== last) settings.push({ items: [], length: 0, rails: 0 });
    last = stop;
    const own = settings.at(-1)!;
    own.items.push(item);
    own.length += rails[item]! * weights[item]!;
    own.rails += rails[item]!;
  }
  return settings;
}

/** So many pieces of the lot, at random. */
function drawPieces({ pieces }: Lot, count: number, random: () => number): Int32Array {
  const drawn = new Int32Array(pieces.length);
  let left = pieces.reduce((sum, own) => sum + own, 0);
  let wanted = count;
  for (const [sort, own] of pieces.entries()) {
    // One by one, so that each piece is as likely to come as any other.
    for (let k = 0; k < own; k++, left--) {
      if (random() * left >= wanted) continue;
      drawn[sort]! += 1;
      wanted -= 1;
    }
  }
  return drawn;
}

function shuffle<T>(list: T[], random: () => number): void {
  for (let i = list.length - 1; i > 0; i--) {
    const j = Math.floor(random() * (i + 1));
    [list[i], list[j]] = [list[j]!, list[i]!];
  }
}

/** What every subset of up to `FREE / 2` settings comes to, a bit a setting; written anew for each draw. */
class SubsetSums {
  readonly length = new Float64Array(2 ** HALF);
  readonly rails = new Int32Array(2 ** HALF);
  readonly settings = new Int32Array(2 ** HALF);
  /** Subsets by their length, ties by number. */
  order = new Int32Array(2 ** HALF);
  #spare = new Int32Array(2 ** HALF);
  size = 1;

  /** Of `count` settings from `begin` on. */
  fill(settings: readonly Setting[], begin: number, count: number): void {
    const { length, rails, settings: held } = this;
    this.size = 1 << count;
    for (let bit = 0; bit < count; bit++) {
      const setting = settings[begin + bit]!;
      const size = 1 << bit;
      for (let rest = 0; rest < size; rest++) {
        length[size + rest] = length[rest]! + setting.length;
        rails[size + rest] = rails[rest]! + setting.rails;
        held[size + rest] = held[rest]! + 1;
      }
    }
  }

  /** By length: for each setting more, those without it and those with it merged. */
  sort(count: number): void {
    const { length } = this;
    let [order, other] = [this.order, this.#spare];
    order[0] = 0;
    for (let bit = 0; bit < count; bit++) {
      const size = 1 << bit;
      const own = length[size]!;
      let [without, withIt] = [0, 0];
      for (let k = 0; k < 2 * size; k++) {
        if (withIt === size || (without < size && length[order[without]!]! <= length[order[withIt]!]! + own))
          other[k] = order[without++]!;
        else other[k] = order[withIt++]! + size;
      }
      [order, other] = [other, order];
    }
    this.order = order;
    this.#spare = other;
  }
}

interface LotTarget {
  readonly low: number;
  readonly high: number;
  /** Still to come, and of how many in all. */
  readonly rails: readonly [number, number];
  readonly settings: readonly [number, number];
}

/** A run holds a multiple of so many of an item. */
function bundleOf({ together, loose }: LotTask['turns'], item: number): number {
  return together[item]! * (loose[item]! >= 0 ? 2 : 1);
}

interface SettingPart {
  readonly item: number;
  readonly rails: number;
}

/**
 * Takes a setting out of the list, far likelier one with many rails, since a lot full of one length is hard to pack; and
 * about so large a share of its rails, as far as the room holds them.
 */
function takePart(
  { turns, weights }: LotTask,
  from: Lot,
  settings: Setting[],
  share: number,
  room: number,
  random: () => number,
): SettingPart | null {
  const bundles = (item: number): number => Math.ceil(from.rails[item]! / bundleOf(turns, item));
  const most = (item: number): number =>
    Math.min(bundles(item) - 1, Math.floor(room / (bundleOf(turns, item) * weights[item]!)));
  let total = 0;
  for (const { items } of settings) for (const item of items) if (most(item) > 0) total += bundles(item) ** 2;
  let at = random() * total;
  for (const [k, { items }] of settings.entries())
    for (const item of items) {
      if (most(item) <= 0) continue;
      at -= bundles(item) ** 2;
      if (at >= 0) continue;
      settings.splice(k, 1);
      const some = Math.round(bundles(item) * share * (PART[0] + (PART[1] - PART[0]) * random()));
      return { item, rails: bundleOf(turns, item) * Math.max(1, Math.min(most(item), some)) };
    }
  return null;
}

/**
 * Every item of many more rails than `grain` parted: about its share for the lot, or `grain` for fewer lots where that is
 * more. So what is left is mixed as the whole is, which it is not where chance decides what is parted.
 */
function takeParts(
  { turns, weights }: LotTask,
  from: Lot,
  settings: Setting[],
  { share, grain }: { readonly share: number; readonly grain: number },
  random: () => number,
): readonly SettingPart[] {
  const parts: SettingPart[] = [];
  for (let k = settings.length - 1; k >= 0; k--) {
    const large = settings[k]!.items.filter((item) => from.rails[item]! > LARGE * grain);
    if (large.length === 0) continue;
    const [setting] = settings.splice(k, 1);
    for (const item of setting!.items) {
      const bundle = bundleOf(turns, item);
      const bundles = Math.ceil(from.rails[item]! / bundle);
      const own = (share * from.rails[item]!) / grain;
      if (bundles < 2 || random() >= own) continue;
      const rails = Math.max(grain, share * from.rails[item]!) * (PART[0] + (PART[1] - PART[0]) * random());
      parts.push({ item, rails: bundle * Math.max(1, Math.min(bundles - 1, Math.round(rails / bundle))) });
    }
  }
  // Those that are too many are left out, the last ones first.
  const most = FILLED * share * from.rails.reduce((sum, rails, item) => sum + rails * weights[item]!, 0);
  let length = 0;
  return parts.filter(({ item, rails }) => {
    const fits = length + rails * weights[item]! <= most;
    if (fits) length += rails * weights[item]!;
    return fits;
  });
}

export interface Drawing {
  /** Pieces of the lot drawn. */
  readonly pieces: number;
  /** Settings to part. */
  readonly parted: number;
  /** Absent: so many settings are parted at random. */
  readonly grain?: number;
}

/** Draws lots of one task; its buffers serve all of them. */
export class LotDrawer {
  readonly #task: LotTask;
  readonly #random: () => number;
  readonly #one = new SubsetSums();
  readonly #other = new SubsetSums();
  #from: Lot | null = null;
  #settings: readonly Setting[] = [];

  constructor(task: LotTask, random: () => number) {
    this.#task = task;
    this.#random = random;
  }

  /** Null where the settings drawn leave no way to fill the pieces. */
  draw(from: Lot, { pieces, parted, grain }: Drawing): Lot | null {
    const task = this.#task;
    const random = this.#random;
    const { weights, sorts } = task;
    if (this.#from !== from) this.#settings = settingsIn(task, from);
    this.#from = from;
    const drawn: Lot = { rails: new Int32Array(from.rails.length), pieces: drawPieces(from, pieces, random) };
    let room = 0;
    for (const [sort, count] of drawn.pieces.entries()) room += count * lengthOf(sorts[sort]!);
    const share = pieces / piecesIn(from);
    const spare = spareIn(task, from);
    const [least, most] = WASTE.map((part) => Math.min(spare, spare * share * part)) as [number, number];
    const settings = [...this.#settings];
    const all = settings.reduce((sum, { rails }) => sum + rails, 0);
    const wanted = { rails: share * all, settings: share * settings.length + (1 - share) * parted };
    let [rails, held] = [0, 0];
    shuffle(settings, random);
    const takeSome = (part: SettingPart): void => {
      drawn.rails[part.item]! += part.rails;
      room -= part.rails * weights[part.item]!;
      rails += part.rails;
      held += 1;
    };
    if (grain !== undefined) {
      for (const part of takeParts(task, from, settings, { share, grain }, random)) takeSome(part);
      wanted.settings = held + share * settings.length;
    }
    for (let k = 0; k < (grain === undefined ? parted : 0); k++) {
      const part = takePart(task, from, settings, share, room, random);
      if (part === null) return null;
      takeSome(part);
    }
    const take = (setting: Setting): void => {
      for (const item of setting.items) drawn.rails[item]! += from.rails[item]!;
      room -= setting.length;
      rails += setting.rails;
      held += 1;
    };
    const free = settings.slice(0, FREE);
    const half = free.reduce((sum, { length }) => sum + length, 0) / 2;
    for (const setting of settings.slice(FREE)) if (room > half && setting.length <= room) take(setting);
    const last = this.#fitting(free, {
      low: room - most,
      high: room - least,
      rails: [wanted.rails - rails, wanted.rails],
      settings: [wanted.settings - held, wanted.settings],
    });
    if (last === null) return null;
    for (const setting of last) take(setting);
    return drawn;
  }

  /**
   * Settings whose lengths add up to between `low` and `high`, with about so many rails and settings: every subset of one
   * half is a start for those of the other (Horowitz and Sahni 1974). Null where none is near enough.
   */
  #fitting(free: readonly Setting[], wanted: LotTarget): readonly Setting[] | null {
    const [a, b] = [this.#one, this.#other];
    const half = free.length >> 1;
    a.fill(free, 0, half);
    b.fill(free, half, free.length - half);
    b.sort(free.length - half);
    const { order } = b;
    const { size } = b;
    let [best, bestA, bestB] = [1, -1, -1];
    let fits = FITS;
    const begin = Math.floor(this.#random() * a.size);
    for (let step = 0; step < a.size && fits > 0; step++) {
      const mask = (begin + step) & (a.size - 1);
      const low = wanted.low - a.length[mask]!;
      const high = wanted.high - a.length[mask]!;
      let [from, to] = [0, size];
      while (from < to) {
        const middle = (from + to) >> 1;
        if (b.length[order[middle]!]! < low) from = middle + 1;
        else to = middle;
      }
      for (let k = from; k < size && b.length[order[k]!]! <= high && fits > 0; k++) {
        const with_ = order[k]!;
        fits -= 1;
        const rails =
          Math.abs(a.rails[mask]! + b.rails[with_]! - wanted.rails[0]) / (RAILS_OFF * wanted.rails[1]);
        const settings =
          Math.abs(a.settings[mask]! + b.settings[with_]! - wanted.settings[0]) /
          (SETTINGS_OFF * wanted.settings[1]);
        const off = Math.max(rails, settings);
        if (off < best) [best, bestA, bestB] = [off, mask, with_];
      }
    }
    if (bestA < 0) return null;
    return free.filter((_, k) => (k < half ? bestA >> k : bestB >> (k - half)) & 1);
  }
}
