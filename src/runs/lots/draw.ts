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

/** Share of the pieces filled before the last settings are chosen to fit, least and most. */
const FILLED = [0.6, 0.9] as const;
/** Share of its part of the waste that a lot has: more would be missing elsewhere, less makes it hard to pack. */
const WASTE = [0.8, 1.15] as const;
/** How far the number of rails and of settings may be from its share, beyond which the lot or the rest is hard to pack. */
const RAILS_OFF = 0.05;
const SETTINGS_OFF = 0.15;
/** Last settings looked at, by two and by three, and fits collected. */
const PAIRED = 500;
const TRIPLED = 90;
const FITS = 40;

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

/** Every up to three of `settings` whose lengths add up to between `low` and `high`, as far as they are looked at. */
function fitting(
  settings: readonly Setting[],
  low: number,
  high: number,
  random: () => number,
): readonly (readonly Setting[])[] {
  const fits: (readonly Setting[])[] = low <= 0 ? [[]] : [];
  const sorted = settings.slice(0, PAIRED).sort((a, b) => a.length - b.length);
  const between = (list: readonly Setting[], from: number, rest: number, held: readonly Setting[]): void => {
    // First place from `from` on that is long enough.
    let [begin, end] = [from, list.length];
    while (begin < end) {
      const middle = (begin + end) >> 1;
      if (list[middle]!.length < low - rest) begin = middle + 1;
      else end = middle;
    }
    for (let k = begin; k < list.length && list[k]!.length <= high - rest && fits.length < FITS; k++)
      fits.push([...held, list[k]!]);
  };
  between(sorted, 0, 0, []);
  for (const [k, one] of sorted.entries()) {
    if (fits.length >= FITS || one.length > high) break;
    between(sorted, k + 1, one.length, [one]);
  }
  const few = settings.slice(0, TRIPLED).sort((a, b) => a.length - b.length);
  const begin = Math.floor(random() * few.length);
  for (let step = 0; step < few.length && fits.length < FITS; step++) {
    const a = (begin + step) % few.length;
    for (let b = a + 1; b < few.length && fits.length < FITS; b++) {
      const held = few[a]!.length + few[b]!.length;
      if (held > high) break;
      between(few, b + 1, held, [few[a]!, few[b]!]);
    }
  }
  return fits;
}

/** A run holds a multiple of so many of an item. */
function bundleOf({ together, loose }: LotTask['turns'], item: number): number {
  return together[item]! * (loose[item]! >= 0 ? 2 : 1);
}

interface Part {
  readonly item: number;
  readonly rails: number;
}

/** Takes a setting out of the list, the likelier the more rails it has, and some of its rails that the room holds. */
function takePart(
  { turns, weights }: LotTask,
  from: Lot,
  settings: Setting[],
  room: number,
  random: () => number,
): Part | null {
  const bundles = (item: number): number => Math.ceil(from.rails[item]! / bundleOf(turns, item));
  const most = (item: number): number =>
    Math.min(bundles(item) - 1, Math.floor(room / (bundleOf(turns, item) * weights[item]!)));
  let total = 0;
  for (const { items } of settings) for (const item of items) if (most(item) > 0) total += bundles(item);
  let at = random() * total;
  for (const [k, { items }] of settings.entries())
    for (const item of items) {
      if (most(item) <= 0) continue;
      at -= bundles(item);
      if (at >= 0) continue;
      settings.splice(k, 1);
      return { item, rails: bundleOf(turns, item) * (1 + Math.floor(random() * most(item))) };
    }
  return null;
}

export interface Drawing {
  /** Pieces of the lot drawn. */
  readonly pieces: number;
  /** Settings to part. */
  readonly parted: number;
}

/** Null where the settings drawn leave no way to fill the pieces. */
export function drawLot(
  task: LotTask,
  from: Lot,
  { pieces, parted }: Drawing,
  random: () => number,
): Lot | null {
  const { weights, sorts } = task;
  const drawn: Lot = { rails: new Int32Array(from.rails.length), pieces: drawPieces(from, pieces, random) };
  let room = 0;
  for (const [sort, count] of drawn.pieces.entries()) room += count * lengthOf(sorts[sort]!);
  const share = pieces / piecesIn(from);
  const spare = spareIn(task, from);
  const [least, most] = WASTE.map((part) => Math.min(spare, spare * share * part)) as [number, number];
  const settings = [...settingsIn(task, from)];
  const all = settings.reduce((sum, { rails }) => sum + rails, 0);
  const wanted = { rails: share * all, settings: share * settings.length + (1 - share) * parted };
  let [rails, held] = [0, 0];
  shuffle(settings, random);
  for (let k = 0; k < parted; k++) {
    const part = takePart(task, from, settings, room, random);
    if (part === null) return null;
    drawn.rails[part.item]! += part.rails;
    room -= part.rails * weights[part.item]!;
    rails += part.rails;
    held += 1;
  }
  const full = room * (1 - FILLED[0] - (FILLED[1] - FILLED[0]) * random());
  const take = (setting: Setting): void => {
    for (const item of setting.items) drawn.rails[item]! += from.rails[item]!;
    room -= setting.length;
    rails += setting.rails;
    held += 1;
  };
  const left: Setting[] = [];
  for (const setting of settings) {
    if (room > full && setting.length <= room) take(setting);
    else left.push(setting);
  }
  // Of what fits, the settings that leave both this lot and the rest as easy to pack as all was.
  const off = (last: readonly Setting[]): number => {
    const more = last.reduce((sum, one) => sum + one.rails, rails);
    const [a, b] = [
      Math.abs(more / wanted.rails - 1) / RAILS_OFF,
      Math.abs((held + last.length) / wanted.settings - 1) / SETTINGS_OFF,
    ];
    return Math.max(a, b);
  };
  let [best, leastOff] = [null as readonly Setting[] | null, 1];
  for (const last of fitting(left, room - most, room - least, random)) {
    const by = off(last);
    if (by < leastOff) [best, leastOff] = [last, by];
  }
  if (best === null) return null;
  for (const setting of best) take(setting);
  return drawn;
}
