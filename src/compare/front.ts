/** Plans by wood and sawing time: which of them no other betters, and which of those are the cheapest at some rate. */
import { MS_PER_HOUR } from '../stock/charge.js';
import type { Cents, Ms } from '../terms.js';

export interface SawnPlan {
  /** Wood bought. */
  readonly cost: Cents;
  readonly time: Ms;
  readonly sticks: number;
  readonly visits: number;
  readonly stopsSet: number;
}

/** Sums of mouldings' plans kept on the way; beyond, such as lie near others are left out. */
const MOST_SUMS = 400;

/** Cents: wood, and time at a rate in cents an hour. */
export function worthAt({ cost, time }: SawnPlan, rate: Cents): number {
  return cost + (time * rate) / MS_PER_HOUR;
}

/** The rate from which on `b`, which takes less time, is the cheaper one. */
export function crossing(a: SawnPlan, b: SawnPlan): number {
  return ((b.cost - a.cost) * MS_PER_HOUR) / (a.time - b.time);
}

/** Plans that no other betters by wood and time, from least wood to least time. */
export function front<P extends SawnPlan>(plans: readonly P[]): readonly P[] {
  const kept: P[] = [];
  for (const plan of plans.toSorted((a, b) => a.cost - b.cost || a.time - b.time)) {
    const last = kept.at(-1);
    if (last === undefined || plan.time < last.time) kept.push(plan);
  }
  return kept;
}

/** Those that are the cheapest at some rate, by rising rate: the lower envelope of their costs as lines over the rate. */
export function envelope<P extends SawnPlan>(plans: readonly P[]): readonly P[] {
  const hull: P[] = [];
  for (const plan of front(plans)) {
    while (hull.length > 1 && crossing(hull.at(-1)!, plan) <= crossing(hull.at(-2)!, hull.at(-1)!))
      hull.pop();
    hull.push(plan);
  }
  return hull;
}

function sum(a: SawnPlan, b: SawnPlan): SawnPlan {
  return {
    cost: a.cost + b.cost,
    time: a.time + b.time,
    sticks: a.sticks + b.sticks,
    visits: a.visits + b.visits,
    stopsSet: a.stopsSet + b.stopsSet,
  };
}

/** How far apart two plans are, as a share of what all of them span in wood or in time. */
function apart(a: SawnPlan, b: SawnPlan, [first, last]: readonly [SawnPlan, SawnPlan]): number {
  const wood = Math.abs(a.cost - b.cost) / Math.max(1, last.cost - first.cost);
  return Math.max(wood, Math.abs(a.time - b.time) / Math.max(1, first.time - last.time));
}

/**
 * At most so many plans of a front: its ends, those that are the cheapest at some rate, then such as lie farthest from
 * all kept so far. Beyond `few`, none that lies nearer to another than `near`, a share of what all span.
 */
export function spreadOut(
  plans: readonly SawnPlan[],
  most: number,
  { few, near }: { readonly few: number; readonly near: number },
): readonly SawnPlan[] {
  if (plans.length <= 2) return plans;
  const ends = [plans[0]!, plans.at(-1)!] as const;
  const kept = new Set<SawnPlan>(ends);
  const add = (from: readonly SawnPlan[]): void => {
    const open = new Map(
      from
        .filter((plan) => !kept.has(plan))
        .map((plan) => [plan, Math.min(...[...kept].map((one) => apart(plan, one, ends)))]),
    );
    while (open.size > 0 && kept.size < most) {
      const [next, far] = [...open].reduce((best, one) => (one[1] > best[1] ? one : best));
      if (kept.size >= few && far < near) return;
      kept.add(next);
      open.delete(next);
      for (const [plan, distance] of open) open.set(plan, Math.min(distance, apart(plan, next, ends)));
    }
  };
  add(envelope(plans));
  add(plans);
  return plans.filter((plan) => kept.has(plan));
}

/** The front of all sums of one plan of each moulding. */
export function sums(fronts: readonly (readonly SawnPlan[])[], start: SawnPlan): readonly SawnPlan[] {
  let all: readonly SawnPlan[] = [start];
  for (const plans of fronts) {
    const both = front(all.flatMap((a) => plans.map((b) => sum(a, b))));
    all = spreadOut(both, MOST_SUMS, { few: MOST_SUMS, near: 0 });
  }
  return all;
}
