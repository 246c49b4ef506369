import { secondBound } from '../bounds/bound.js';
import { targets } from '../bounds/targets.js';
import type { Cutting } from '../columns/columns.js';
import type { Master } from '../columns/master.js';
import { hasSetups, type SearchGoal } from '../instance/goal.js';
import type { Instance } from '../instance/instance.js';
import type { Watch } from '../instance/watch.js';
import { wholePart } from '../search/dive.js';
import type { Filling } from './close-pack.js';
import { assemble, Packer } from './pack.js';
import { Refiller } from './refill/refiller.js';
import { Repacker } from './repack.js';
import { remaining } from './residual.js';

/** Where a search stands: what its best plan costs, what none costs less than, and how to better either. */
export interface Incumbent {
  readonly value: number;
  readonly bound: number;
  readonly done: boolean;
  readonly watch: Watch;
  take(plan: readonly Cutting[]): void;
  /** Of fillings that came of a failed attempt: they are good columns. */
  learn(fillings: readonly Filling[]): void;
  raise(bound: number): void;
}

/** Numbers of pieces that packing tries, from the cheapest on, and its effort at each: bins times lengths. */
const MOST_TARGETS = 8;
const PACK_EFFORT = 3e6;
const MOST_PACKS = 10;
/** An attempt that fails with such a share of the pieces still to be filled is not made again. */
const FAR_SHORT = 0.1;
const FAR_SHORT_PIECES = 100;
/** Shares of the pieces that may be left over where the numbers tried were all too few, and pieces it is tried for. */
const LOOSE_SHARES = [0.001, 0.003, 0.01];
const MANY_BINS = 200;
/** Attempts at the rest by refilling. */
const REFILLS = 2;
/** Rounds without gain after which one is given up: the root leaves all the waste of the plan to few pieces. */
const REFILL_PATIENCE = 60;
/** Share of what an attempt wasted that other numbers of pieces have to leave to be worth one. */
const LEAST_SHARE = 0.6;
/** Share of its length by which a piece may fail to be filled: steps and rounding leave less. */
const HARDLY = 1e-4;
/** Pieces a length from which on the linear programme, rounded down, leaves next to nothing to pack. */
const MANY_COPIES = 50;

/**
 * Packs to numbers of pieces between the bound and the plan, the cheapest first, and takes the first that works.
 * `holds[s]`: no piece of group s can be filled more; set-ups come to `setups` at least, beside the pieces.
 */
export function packAll(
  instance: Instance,
  goal: SearchGoal,
  holds: Float64Array,
  setups: number,
  times: number,
  random: () => number,
  at: Incumbent,
): void {
  if (instance.kinds || at.done || at.watch.over()) return;
  const { list, bound } = targets(instance, goal, holds, at.value - setups, MOST_TARGETS);
  if (bound > 0) at.raise(bound + setups);
  const packer = new Packer(instance, random, at.watch);
  const refiller = new Refiller(instance, random, at.watch);
  // By refilling, once it has failed.
  let wasted = 0;
  let farShort = false;
  for (const { pieces, cost: wood, slack } of list) {
    // Of one group the next numbers are a piece more each: no nearer.
    if (farShort && instance.groups.length === 1) break;
    const cost = wood + setups;
    if (cost < at.bound) continue;
    const bins = pieces.reduce((sum, k) => sum + k, 0);
    if (bins > MANY_COPIES * instance.n) return;
    if (refiller.serves(bins)) {
      if (slack < LEAST_SHARE * wasted) continue;
      const plan = refiller.attempt(pieces);
      if (plan) at.take(plan);
      else if (wasted === 0) at.learn(refiller.filled);
      wasted = refiller.wasted;
      if (cost >= at.value) return;
      if (bins > MANY_BINS) continue;
    }
    const attempts = Math.min(MOST_PACKS, Math.ceil(PACK_EFFORT / (bins * instance.n))) * times;
    for (let k = 0; k < attempts && cost < at.value && !at.watch.over(); k++) {
      const plan = packer.attempt(pieces);
      if (plan) at.take(plan);
      else farShort = bins > FAR_SHORT_PIECES && packer.short > FAR_SHORT;
      if (farShort) break;
    }
    if (cost >= at.value) return;
  }
  const shares = farShort ? LOOSE_SHARES.slice(-1) : LOOSE_SHARES;
  if (times === 1) packLoosely(packer, refiller, instance, goal, holds, setups, shares, at);
}

/**
 * How far a piece can be filled exactly is the dearest thing to know of a small order, and rarely matters: where the
 * numbers of pieces that its length allows cost as much as those of a slightly shorter one, they are packed first. False:
 * that is not so, and nothing was tried.
 */
export function packRoughly(
  instance: Instance,
  goal: SearchGoal,
  setups: number,
  random: () => number,
  at: Incumbent,
): boolean {
  const { groups, kinds } = instance;
  const plain = !kinds && !goal.setup && goal.rows.length === 0;
  if (!plain || groups.some(({ supply }, s) => supply !== Infinity || goal.cost[s]! <= 0)) return false;
  const lengths = Float64Array.from(groups, ({ segments }) => segments.reduce((sum, one) => sum + one, 0));
  const below = at.value - setups;
  const { bound } = targets(instance, goal, lengths, below, 1);
  const shorter = lengths.map((length) => length * (1 - HARDLY));
  if (bound <= 0 || targets(instance, goal, shorter, below, 1).bound !== bound) return false;
  // Also where no time is left to pack anything.
  at.raise(bound + setups);
  packAll(instance, goal, lengths, setups, 1, random, at);
  return true;
}

/** One stock length: as few pieces as the bound says, then one more, until a packing is found. False: it does not serve. */
export function packEqual(
  instance: Instance,
  goal: SearchGoal,
  random: () => number,
  at: Incumbent,
): boolean {
  const each = goal.cost[0]!;
  if (!Repacker.serves(instance) || each <= 0 || goal.rows.length > 0 || hasSetups(goal)) return false;
  const repacker = new Repacker(instance, random, at.watch);
  let looked = false;
  for (let bins = Math.ceil(at.bound / each); bins * each < at.value && !at.watch.over(); bins++) {
    let fillings = repacker.pack(bins);
    if (!fillings && !looked) {
      looked = true;
      at.raise(secondBound(instance) * each);
      if (bins * each < at.bound) continue;
    }
    fillings ??= repacker.repack();
    if (!fillings) continue;
    at.take(assemble(instance, fillings));
    break;
  }
  return true;
}

/** A plan that wastes a little more than any of those vectors leaves, so that the search begins near the bound. */
function packLoosely(
  packer: Packer,
  refiller: Refiller,
  instance: Instance,
  goal: SearchGoal,
  holds: Float64Array,
  setups: number,
  shares: readonly number[],
  at: Incumbent,
): void {
  for (const share of shares) {
    const less = holds.map((held) => held * (1 - share));
    const pieces = targets(instance, goal, less, at.value - setups, 1).list[0]?.pieces;
    if (pieces === undefined || at.watch.over()) return;
    const bins = pieces.reduce((sum, k) => sum + k, 0);
    if (bins < MANY_BINS) return;
    const plan = refiller.serves(bins) ? refiller.attempt(pieces) : packer.attempt(pieces);
    if (plan === null) continue;
    at.take(plan);
    return;
  }
}

/** What the last answer of the master says whole times is cut so; the rest is packed. */
export function packRest(
  master: Master,
  holds: Float64Array,
  attempts: number,
  random: () => number,
  at: Incumbent,
): void {
  const { instance, goal } = master;
  if (!master.answer || instance.kinds || at.done || at.watch.over()) return;
  const { fixed, demand, used, cost } = wholePart(master);
  const rest = remaining(instance, goal, demand, used);
  const { list } = targets(rest.instance, rest.goal, holds, at.value - cost, MOST_TARGETS);
  const packer = new Packer(rest.instance, random, at.watch);
  const refiller = new Refiller(rest.instance, random, at.watch);
  for (const target of list) {
    const pieces = target.pieces.reduce((sum, k) => sum + k, 0);
    const refills = refiller.serves(pieces) ? REFILLS : 0;
    for (let k = 0; k < refills && cost + target.cost < at.value && !at.watch.over(); k++) {
      const plan = refiller.attempt(target.pieces, REFILL_PATIENCE);
      if (plan) at.take([...fixed, ...plan]);
    }
    for (let k = 0; refills === 0 && k < attempts && cost + target.cost < at.value && !at.watch.over(); k++) {
      const plan = packer.attempt(target.pieces);
      if (plan) at.take([...fixed, ...plan]);
      else if (pieces > FAR_SHORT_PIECES && packer.short > FAR_SHORT) break;
    }
  }
}
