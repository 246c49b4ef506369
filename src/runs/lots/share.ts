/**
 * Shares the rails of a plan out among runs setting by setting, so that hardly any setting is set in two of them. Lot
 * after lot is drawn with whole settings whose rails just fill its pieces, and packed; one that cannot be packed is drawn
 * anew. Where few sizes make up the order some settings have to be parted. Then a few runs at a time that set a stop
 * twice between them are shared out anew (large neighbourhood search; Shaw 1998). Effort is counted.
 */
import type { Work } from '../../solve/packer.js';
import { type Drawing, LotDrawer } from './draw.js';
import { type Lot, type LotTask, type PackedLot, piecesIn, stopsFor, together, without } from './lot.js';
import { packLot } from './pack.js';

/** Lots packed in vain before one more setting is parted, and lots drawn for that. */
const PACKS = 12;
/** Another lot is likelier to be packed than this one with more attempts; a rest is worth some. */
const ATTEMPTS = 1;
const REPAIRS = 4;
const REST_ATTEMPTS = 4;
const WHOLE_ATTEMPTS = 8;
const DRAWS = 40;
/** How often a rest that fits no run is tried with another lot before it. */
const RESTS = 4;
/** Settings parted between a lot and the rest, as many as it takes. */
const PARTED = 24;
/** Rails of a setting that are parted from it at least, less and less as lots cannot be packed. */
const GRAINS = [16, 12, 8, 6, 4, 2] as const;
/** Rounds for what is left at the end, each with one more setting parted. */
const ROUNDS = 5;
/** Runs shared out anew at once, at least and at most. */
const POOL = [2, 3] as const;
/** Units of work that drawing a lot takes, and making it ready to be packed, for each item. */
const DRAWN_AN_ITEM = 2;
const PACKED_AN_ITEM = 1;

export interface ShareSearch {
  readonly random: () => number;
  readonly work: Work;
  readonly over: () => boolean;
}

type Parting = Omit<Drawing, 'pieces'>;

export interface SharedOut {
  readonly lots: readonly PackedLot[];
  /** What could not be shared out, not packed. */
  readonly left: Lot | null;
}

export class Sharing {
  readonly #task: LotTask;
  readonly #search: ShareSearch;
  readonly #drawer: LotDrawer;

  constructor(task: LotTask, search: ShareSearch) {
    this.#task = task;
    this.#search = search;
    this.#drawer = new LotDrawer(task, search.random);
  }

  #pick(count: number): number {
    return Math.floor(this.#search.random() * count);
  }

  /** A lot packed, or null where that was not found. */
  pack(lot: Lot, attempts = ATTEMPTS): PackedLot | null {
    const { work, over } = this.#search;
    const seed = this.#pick(2 ** 31);
    work.spend(PACKED_AN_ITEM * lot.rails.length);
    const patterns = packLot(this.#task, lot, { seed, attempts, repairs: REPAIRS, work, stopped: over });
    return patterns === null ? null : { ...lot, patterns, stops: stopsFor(this.#task.turns, lot.rails) };
  }

  /** Pieces of the first of `runs` lots. */
  #size(pieces: number, runs: number): number {
    const { bench } = this.#task;
    const least = Math.max(1, pieces - (runs - 1) * bench);
    const most = Math.min(bench, pieces - runs + 1);
    const even = pieces / runs;
    const apart = Math.min(even / 4, bench - even + 1);
    return Math.max(least, Math.min(most, Math.round(even + (2 * this.#search.random() - 1) * apart)));
  }

  /** A packed lot out of a larger one, so many settings parted. */
  #draw(lot: Lot, runs: number, parted: Parting): PackedLot | null {
    const { work, over } = this.#search;
    let packs = PACKS;
    for (let draws = DRAWS; draws > 0 && packs > 0 && !over(); draws--) {
      const pieces = this.#size(piecesIn(lot), runs);
      const drawn = this.#drawer.draw(lot, { pieces, ...parted });
      work.spend(DRAWN_AN_ITEM * lot.rails.length);
      if (drawn === null) continue;
      packs -= 1;
      const packed = this.pack(drawn);
      if (packed !== null) return packed;
    }
    return null;
  }

  /** All of a lot in so many runs, setting so many stops at most; null where none was found. */
  #split(lot: Lot, runs: number, parted: Parting): readonly PackedLot[] | null {
    if (runs === 1) {
      const packed = this.pack(lot, REST_ATTEMPTS);
      return packed === null ? null : [packed];
    }
    for (let rests = runs === 2 ? RESTS : 2; rests > 0 && !this.#search.over(); rests--) {
      const first = this.#draw(lot, runs, parted);
      if (first === null) return null;
      const rest = this.#split(without(lot, first), runs - 1, parted);
      if (rest !== null) return [first, ...rest];
    }
    return null;
  }

  /** A lot in so many runs, as far as they could be packed. */
  share(lot: Lot, runs: number): SharedOut {
    const done: PackedLot[] = [];
    let left = lot;
    let best: SharedOut = { lots: [], left: lot };
    /** As coarse as will do: of each lot, and of the last ones, which are harder to pack. */
    let coarse = 0;
    const next = (): boolean => {
      for (let at = coarse; at < GRAINS.length && !this.#search.over(); at++) {
        const found = this.#draw(left, runs - done.length, { parted: 0, grain: GRAINS[at]! });
        if (found === null) continue;
        done.push(found);
        left = without(left, found);
        return true;
      }
      return false;
    };
    for (let round = 0; round < ROUNDS && !this.#search.over(); round++) {
      while (runs - done.length > POOL[0] && next());
      const grain = GRAINS[Math.min(GRAINS.length - 1, coarse + (round >> 1))]!;
      const rest =
        runs - done.length > POOL[0] ? null : this.#split(left, runs - done.length, { parted: 0, grain });
      if (rest !== null) return { lots: [...done, ...rest], left: null };
      if (done.length > best.lots.length) best = { lots: [...done], left };
      // Others join what is left, and leave it otherwise.
      coarse = Math.min(GRAINS.length - 1, round >> 1);
      for (let k = 0; k < 2 && done.length > 0; k++) {
        const [joined] = done.splice(this.#pick(done.length), 1);
        left = together(left, joined!);
      }
    }
    return best;
  }

  /** What is left packed as one, lots joining it until that is possible; null where it never was. */
  packRest({
    lots,
    left,
  }: SharedOut): { readonly lots: readonly PackedLot[]; readonly rest: PackedLot } | null {
    if (left === null) return null;
    let rest = left;
    for (let own = lots; own.length > 0 && !this.#search.over(); own = own.slice(0, -1)) {
      const packed = this.pack(rest, WHOLE_ATTEMPTS);
      if (packed !== null) return { lots: own, rest: packed };
      rest = together(rest, own.at(-1)!);
    }
    return null;
  }

  /** The same lots with fewer stops set, as far as was found; `least`: no division sets fewer. */
  better(given: readonly PackedLot[], least: number): readonly PackedLot[] {
    let lots = [...given];
    let sum = lots.reduce((total, { stops }) => total + stops, 0);
    while (sum > least && lots.length > 1 && !this.#search.over()) {
      const pool = this.#pool(lots);
      const all = pool.reduce<Lot>(together, {
        rails: new Int32Array(lots[0]!.rails.length),
        pieces: new Int32Array(lots[0]!.pieces.length),
      });
      const now = pool.reduce((total, { stops }) => total + stops, 0);
      const excess = now - stopsFor(this.#task.turns, all.rails);
      this.#search.work.spend(DRAWN_AN_ITEM * all.rails.length);
      if (excess === 0 || piecesIn(all) > pool.length * this.#task.bench) continue;
      const parted = Math.min(PARTED, this.#pick(excess));
      const found = this.#split(all, pool.length, { parted });
      if (found === null) continue;
      const then = found.reduce((total, { stops }) => total + stops, 0);
      if (then > now) continue;
      lots = [...lots.filter((one) => !pool.includes(one)), ...found];
      sum += then - now;
    }
    return lots;
  }

  /** A few lots: one, and those that set its stops too. */
  #pool(lots: readonly PackedLot[]): readonly PackedLot[] {
    const first = lots[this.#pick(lots.length)]!;
    const size = Math.min(lots.length, POOL[0] + this.#pick(POOL[1] - POOL[0] + 1));
    const pool = [first];
    for (let tries = 8 * size; tries > 0 && pool.length < size; tries--) {
      const other = lots[this.#pick(lots.length)]!;
      if (pool.includes(other)) continue;
      if (tries > size && !pool.some((one) => shares(one, other))) continue;
      pool.push(other);
    }
    return pool;
  }
}

function shares(a: Lot, b: Lot): boolean {
  for (let item = 0; item < a.rails.length; item++) if (a.rails[item]! > 0 && b.rails[item]! > 0) return true;
  return false;
}
