import { hasSetups, type SearchGoal } from '../instance/goal.js';
import type { Instance } from '../instance/instance.js';

/**
 * Whole-number duals: one value an item (≥ 0), one a supply and one a count row (≤ 0), all in units of 1/scale of the
 * goal's cost, and for every group an upper bound on what a pattern of it is worth at those values.
 */
export interface Duals {
  readonly scale: number;
  readonly item: Float64Array;
  /** One a group; 0 for unlimited groups. */
  readonly supply: Float64Array;
  readonly row: Float64Array;
  readonly worth: Float64Array;
}

function ceilDiv(a: bigint, b: bigint): bigint {
  const q = a / b;
  return a > 0n && a % b !== 0n ? q + 1n : q;
}

/** What a pattern of group s must be worth at most for the duals to be feasible. */
export function allowance(
  goal: SearchGoal,
  duals: Pick<Duals, 'scale' | 'supply' | 'row'>,
  s: number,
): number {
  let e = goal.cost[s]! * duals.scale - duals.supply[s]!;
  for (let r = 0; r < goal.rows.length; r++) e -= goal.rows[r]!.weights[s]! * duals.row[r]!;
  return e;
}

/**
 * What an item's set-up takes from a pattern's worth, in units of 1/scale; null where there are no set-ups. A pattern is
 * worth its items' values less these, and duals scaled down stay feasible: λ·v(p) − F(p) ≤ λ·(v(p) − F(p)) for λ ≤ 1.
 */
export function chargesOf(goal: SearchGoal, duals: Pick<Duals, 'scale' | 'row'>): Float64Array | null {
  if (!hasSetups(goal)) return null;
  let size = goal.setup?.length ?? 0;
  for (const row of goal.rows) size = Math.max(size, row.setup?.length ?? 0);
  const charges = new Float64Array(size);
  goal.setup?.forEach((charge, i) => {
    charges[i] = charge * duals.scale;
  });
  goal.rows.forEach(({ setup }, r) => {
    setup?.forEach((weight, i) => {
      charges[i]! -= weight * duals.row[r]!;
    });
  });
  return charges;
}

function exactWorth(duals: Duals): boolean {
  return duals.worth.every((v) => v <= Number.MAX_SAFE_INTEGER);
}

/**
 * Duals changed so that no pattern is worth more than its allowance, in whole numbers: for unlimited stock the item
 * values are scaled down together (Farley 1990), limited stock pays the difference through its supply. Null when an
 * unlimited group may cost nothing: then nothing but 0 is a bound. Null too when a worth is too large for a double to
 * hold exactly: it might then be too small.
 */
export function feasibleDuals(instance: Instance, goal: SearchGoal, duals: Duals): Duals | null {
  const { groups, n } = instance;
  if (!exactWorth(duals)) return null;
  let over = 1n;
  let under = 1n;
  const allow: bigint[] = [];
  for (let s = 0; s < groups.length; s++) {
    let e = BigInt(goal.cost[s]!) * BigInt(duals.scale) - BigInt(duals.supply[s]!);
    for (let r = 0; r < goal.rows.length; r++) e -= BigInt(goal.rows[r]!.weights[s]!) * BigInt(duals.row[r]!);
    allow.push(e);
    const v = BigInt(Math.ceil(duals.worth[s]!));
    if (groups[s]!.supply === Infinity && v > e) {
      if (e <= 0n) return null;
      if (e * under < over * v) [over, under] = [e, v];
    }
  }
  const item = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    const most = goal.unmade ? BigInt(goal.unmade[i]!) * BigInt(duals.scale) : null;
    const value = (BigInt(duals.item[i]!) * over) / under;
    item[i] = Number(most !== null && value > most ? most : value);
  }
  const worth = Float64Array.from(duals.worth, (v) => Number(ceilDiv(BigInt(Math.ceil(v)) * over, under)));
  const supply = Float64Array.from(duals.supply, (v, s) => {
    if (groups[s]!.supply === Infinity) return v;
    const gap = BigInt(worth[s]!) - allow[s]!;
    return gap > 0n ? v - Number(gap) : v;
  });
  return { scale: duals.scale, item, supply, row: duals.row, worth };
}

/** Value of feasible duals, in units of 1/scale: by weak duality a lower bound on the goal. */
export function dualValue(instance: Instance, goal: SearchGoal, duals: Duals): bigint {
  let total = 0n;
  for (let i = 0; i < instance.n; i++) total += BigInt(duals.item[i]!) * BigInt(instance.demand[i]!);
  instance.groups.forEach((group, s) => {
    if (group.supply !== Infinity) total += BigInt(duals.supply[s]!) * BigInt(group.supply);
  });
  goal.rows.forEach((row, r) => {
    total += BigInt(duals.row[r]!) * BigInt(row.limit);
  });
  return total;
}

/** That value rounded up to the grain of the goal; not below 0. */
export function dualBound(instance: Instance, goal: SearchGoal, duals: Duals, grain: number): number {
  const total = dualValue(instance, goal, duals);
  return total <= 0n ? 0 : Number(ceilDiv(total, BigInt(duals.scale) * BigInt(grain))) * grain;
}

/** Most nodes of the count search; it is only tried where few groups cost something. */
const COUNT_NODES = 40_000;

/**
 * The least cost of whole numbers of pieces whose worth at these duals covers the demand: every plan's numbers do,
 * so it is a bound, and where prices are coarse a better one than rounding up. Exact; −1 when the search gave up.
 * `roof`: values from there on are not of interest.
 */
export function countBound(instance: Instance, goal: SearchGoal, duals: Duals, roof: number): number {
  if (goal.unmade || !exactWorth(duals)) return -1;
  const { groups, demand, n } = instance;
  let need = 0n;
  for (let i = 0; i < n; i++) need += BigInt(duals.item[i]!) * BigInt(demand[i]!);
  const shift = BigInt(Math.max(0, need.toString(2).length - 48));
  let rest = Number(need >> shift);
  const worth = Array.from(duals.worth, (v) => Number(BigInt(Math.ceil(v)) >> shift) + 1);
  const paid: number[] = [];
  for (let s = 0; s < groups.length; s++) {
    if (goal.cost[s]! > 0) paid.push(s);
    else if (groups[s]!.supply === Infinity) return 0;
    else rest -= worth[s]! * groups[s]!.supply;
  }
  if (rest <= 0) return 0;
  if (paid.length > 12) return -1;
  paid.sort((a, b) => goal.cost[a]! / worth[a]! - goal.cost[b]! / worth[b]!);
  let best = roof;
  let nodes = 0;
  const descend = (at: number, missing: number, cost: number): void => {
    if (missing <= 0) {
      if (cost < best) best = cost;
      return;
    }
    if (at === paid.length || nodes > COUNT_NODES) return;
    const s = paid[at]!;
    const c = goal.cost[s]!;
    const v = worth[s]!;
    // Groups stand in order of cost for worth, so this group's rate bounds what the rest still costs.
    if (cost + (missing * c) / v > best - 1 + 1e-6) return;
    const most = Math.min(groups[s]!.supply, Math.ceil(missing / v));
    for (let k = most; k >= 0; k--) {
      nodes++;
      const left = missing - k * v;
      const next = paid[at + 1];
      if (
        left > 0 &&
        (next === undefined || cost + k * c + (left * goal.cost[next]!) / worth[next]! > best - 1 + 1e-6)
      )
        break;
      descend(at + 1, left, cost + k * c);
      if (nodes > COUNT_NODES) return;
    }
  };
  descend(0, rest, 0);
  return nodes > COUNT_NODES ? -1 : best;
}

/** The u^(k) that are tried. */
const MOST_ROUNDED = 60;

/**
 * Bounds before any linear programme, for one unlimited stock of one segment: the number of pieces by dual feasible
 * functions (L2: Martello and Toth 1990; rounding functions u^(k): Fekete and Schepers 2001). Whole arithmetic. Once there are `enough`, no more functions are tried.
 */
export function functionBound(instance: Instance, enough = Infinity): number {
  const { n, largest: capacity } = instance;
  let { weight, demand } = instance;
  if (instance.kinds) {
    // Only without kinds are items in order of weight.
    const order = Int32Array.from(weight.keys()).sort((a, b) => weight[b]! - weight[a]!);
    weight = Float64Array.from(order, (i) => instance.weight[i]!);
    demand = Int32Array.from(order, (i) => instance.demand[i]!);
  }
  let total = 0;
  for (let i = 0; i < n; i++) total += weight[i]! * demand[i]!;
  // Sums beyond are not exact.
  let best = total < Number.MAX_SAFE_INTEGER ? Math.ceil(total / capacity) : 0;
  // L2 at each weight t, from the lightest: those below t do not count, those above capacity - t count as whole pieces.
  let small = total;
  let [large, whole] = [0, 0];
  for (let i = n - 1, heavy = 0; i >= 0 && best < enough; ) {
    const t = weight[i]!;
    if (2 * t > capacity) break;
    for (; heavy < n && weight[heavy]! > capacity - t; heavy++) {
      whole += demand[heavy]!;
      large += weight[heavy]! * demand[heavy]!;
    }
    const sum = small - large + whole * capacity;
    if (sum < Number.MAX_SAFE_INTEGER) best = Math.max(best, Math.ceil(sum / capacity));
    for (; i >= 0 && weight[i] === t; i--) small -= t * demand[i]!;
  }
  if (capacity >= 2 ** 26) return best;
  for (let k = 1; best < enough && k <= MOST_ROUNDED; k++) {
    let sum = 0;
    for (let i = 0; i < n; i++) {
      const scaled = (k + 1) * weight[i]!;
      sum +=
        (scaled % capacity === 0 ? k * weight[i]! : Math.floor(scaled / capacity) * capacity) * demand[i]!;
    }
    if (sum < Number.MAX_SAFE_INTEGER) best = Math.max(best, Math.ceil(sum / (k * capacity)));
  }
  return best;
}

/** Most u^(k) that are tried at each threshold. */
const MOST_STEPS = 10;

/**
 * Where those do not tell the optimum: f^k of Carlier, Clautiaux and Moukrim (Computers & Operations Research 34, 2007) for
 * k the lengths themselves, and u^(k) after a threshold (Fekete and Schepers 2001). Each takes the square of the items.
 */
export function secondBound(instance: Instance): number {
  const { weight, demand, n, largest: capacity } = instance;
  // Products of lengths and steps stay small whole numbers, sums exact doubles.
  if (capacity >= 2 ** 26) return 0;
  let best = 0;
  const half = weight.findIndex((w) => 2 * w <= capacity);
  for (let at = half; at >= 0 && at < n; at++) {
    const k = weight[at]!;
    const full = Math.floor(capacity / k);
    let total = 0;
    for (let i = 0; i < n; i++) {
      const w = weight[i]!;
      if (2 * w > capacity) total += 2 * (full - Math.floor((capacity - w) / k)) * demand[i]!;
      else total += (2 * w === capacity ? full : 2 * Math.floor(w / k)) * demand[i]!;
    }
    best = Math.max(best, Math.ceil(total / (2 * full)));
    for (let steps = 1; steps <= MOST_STEPS; steps++) {
      let parts = 0;
      for (let i = 0; i < n; i++) {
        const w = weight[i]!;
        if (w < k) break;
        if (w > capacity - k) parts += steps * capacity * demand[i]!;
        else {
          const scaled = (steps + 1) * w;
          parts +=
            (scaled % capacity === 0 ? steps * w : Math.floor(scaled / capacity) * capacity) * demand[i]!;
        }
      }
      if (parts < Number.MAX_SAFE_INTEGER) best = Math.max(best, Math.ceil(parts / (steps * capacity)));
    }
  }
  return best;
}
