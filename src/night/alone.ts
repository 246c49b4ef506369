/**
 * What the batches of a pool would come to without it. Alone means: planned by itself in the order of arrival, from what
 * those before it left of the rack and of what can be bought, and taking what it cuts. Several together, alone, have
 * what they would have had each alone: all but what the others would have taken.
 */
import type { Coalition, PartAlone, PartPooling } from '../plan/part.js';
import type { Engine } from '../solve/engine.js';
import type { Batch } from '../terms.js';
import { type LeastWood, leastWood, type WoodClock } from './least-wood.js';

/** With so many batches in a moulding, every group of them is planned too, or every pair. */
const ALL_MOST = 5;
const PAIRS_MOST = 12;

type PieceCounts = ReadonlyMap<string, number>;

function plus(a: PieceCounts, b: PieceCounts): PieceCounts {
  const sum = new Map(a);
  for (const [id, count] of b) sum.set(id, (sum.get(id) ?? 0) + count);
  return sum;
}

/** The frames of these batches, without what others have taken or bought. */
function without(
  batch: Batch,
  moulding: string,
  members: readonly number[],
  taken: PieceCounts,
  bought: PieceCounts,
): Batch {
  const own = new Set(members.flatMap((at) => batch.batches[at]!.lines.map(({ frame }) => frame)));
  return {
    ...batch,
    batches: [],
    frames: batch.frames.filter((line) => line.moulding === moulding && own.has(line.id)),
    sticks: batch.sticks.flatMap((entry) => {
      const left = entry.quantity - (taken.get(entry.id) ?? 0);
      return entry.moulding === moulding && left > 0 ? [{ ...entry, quantity: left }] : [];
    }),
    offers: batch.offers.flatMap((offer) => {
      if (offer.moulding !== moulding) return [];
      const { available } = offer;
      const left = available === null ? null : Math.max(0, available - (bought.get(offer.id) ?? 0));
      return [{ ...offer, available: left }];
    }),
  };
}

/** Groups of two or more but not all, small ones first. */
function groupsOf(members: readonly number[]): readonly (readonly number[])[] {
  const all = 2 ** members.length - 1;
  const groups: number[][] = [];
  for (let bits = 1; bits < all; bits++) {
    const group = members.filter((_, i) => (bits & (1 << i)) !== 0);
    if (group.length > 1) groups.push(group);
  }
  return groups.sort((a, b) => a.length - b.length);
}

function pairsOf(members: readonly number[]): readonly (readonly number[])[] {
  return members.flatMap((a, i) => members.slice(i + 1).map((b) => [a, b]));
}

function figuresOf(at: number, found: LeastWood): PartAlone {
  const { ordered, made, cost, bound, sticks, length } = found;
  return { at, ordered, made, cost, bound, sticks, length };
}

/** Batches of the pool that order something of the moulding, by their place in it. */
export function membersOf(batch: Batch, moulding: string): readonly number[] {
  const ordering = new Set(batch.frames.filter((line) => line.moulding === moulding).map(({ id }) => id));
  return batch.batches.flatMap(({ lines }, at) =>
    lines.some(({ frame }) => ordering.has(frame)) ? [at] : [],
  );
}

class Alone {
  readonly #batch: Batch;
  readonly #moulding: string;
  readonly #engine: Engine;
  readonly #clock: WoodClock;
  /** Of each member what it takes, once it has been planned. */
  readonly #found = new Map<number, LeastWood>();

  constructor(batch: Batch, moulding: string, engine: Engine, clock: WoodClock) {
    this.#batch = batch;
    this.#moulding = moulding;
    this.#engine = engine;
    this.#clock = clock;
  }

  /** `left`: how many are still to be planned in the time, this one included. */
  #plan(members: readonly number[], left: number): LeastWood | null {
    const { now, deadline, seed } = this.#clock;
    const at = now();
    if (at >= deadline && members.length > 1) return null;
    const others = [...this.#found].filter(([member]) => !members.includes(member));
    const taken = others.reduce<PieceCounts>((sum, [, one]) => plus(sum, one.taken), new Map());
    const bought = others.reduce<PieceCounts>((sum, [, one]) => plus(sum, one.bought), new Map());
    const batch = without(this.#batch, this.#moulding, members, taken, bought);
    const share = { now, seed, deadline: at + Math.max(0, deadline - at) / left };
    return leastWood(batch, this.#moulding, this.#engine, share);
  }

  pooling(): PartPooling {
    const members = membersOf(this.#batch, this.#moulding);
    for (const [i, at] of members.entries()) {
      const found = this.#plan([at], members.length - i);
      // Without it nobody knows what it leaves to those after it.
      if (found === null) break;
      this.#found.set(at, found);
    }
    const alone = [...this.#found].map(([at, found]) => figuresOf(at, found));
    const whole = alone.length === members.length && alone.every(({ made, ordered }) => made === ordered);
    if (!whole || members.length < 3) return { alone, coalitions: [], checked: whole ? 'all' : 'none' };
    const all = members.length <= ALL_MOST;
    const wanted = all ? groupsOf(members) : members.length <= PAIRS_MOST ? pairsOf(members) : [];
    const coalitions: Coalition[] = [];
    for (const [i, group] of wanted.entries()) {
      const found = this.#plan(group, wanted.length - i);
      if (found === null || found.made < found.ordered) break;
      const apart = group.reduce((sum, at) => sum + this.#found.get(at)!.cost, 0);
      const cost = Math.min(found.cost, apart);
      coalitions.push({ members: group, cost, bound: Math.min(cost, found.bound) });
    }
    const done = coalitions.length === wanted.length && wanted.length > 0;
    return { alone, coalitions, checked: done ? (all ? 'all' : 'pairs') : 'none' };
  }
}

/** What the batches of a pool would come to alone, in one moulding. The batch has the pieces it is planned from. */
export function alonePart(batch: Batch, moulding: string, engine: Engine, clock: WoodClock): PartPooling {
  return new Alone(batch, moulding, engine, clock).pooling();
}
