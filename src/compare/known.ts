/** What is kept of the answers so far: plans to start from, columns, and what a plan costs at other prices. */
import { purchase, supplyOf } from '../stock/purchase.js';
import type { Cents, Offer } from '../terms.js';
import type { Made, NamedPattern } from './question.js';
import { within } from './trials/sets.js';

/** Most columns handed on. The newest are dropped first: the plans of single offers come first and matter most. */
const COLUMNS_MOST = 3_000;

/** Null where the offers no longer hold these pieces. */
export function costAt(used: Made['used'], offers: readonly Offer[]): Cents | null {
  let cost = 0;
  let pieces = Object.keys(used).length;
  for (const offer of offers) {
    const count = used[offer.id];
    if (count === undefined) continue;
    if (count > (supplyOf(offer) ?? Number.POSITIVE_INFINITY)) return null;
    cost += purchase(offer, count).cost;
    pieces -= 1;
  }
  return pieces === 0 ? cost : null;
}

export class KnownPlans {
  readonly plans: Made[] = [];
  readonly #columns = new Map<string, NamedPattern>();

  add(made: Made): void {
    this.plans.push(made);
    for (const { stock, segments } of made.patterns) {
      if (this.#columns.size >= COLUMNS_MOST) return;
      const key = JSON.stringify([stock, segments]);
      if (!this.#columns.has(key)) this.#columns.set(key, { stock, count: 0, segments });
    }
  }

  /** The cheapest plan that these offers allow. */
  best(offers: readonly Offer[]): { readonly plan: Made; readonly cost: Cents } | null {
    let best: { plan: Made; cost: Cents } | null = null;
    const ids = offers.map(({ id }) => id);
    for (const plan of this.plans) {
      if (!within(Object.keys(plan.used), ids)) continue;
      const cost = costAt(plan.used, offers);
      if (cost !== null && (best === null || cost < best.cost)) best = { plan, cost };
    }
    return best;
  }

  /** For a question about these offers: the cheapest plan known, then columns. */
  start(offers: readonly Offer[]): readonly NamedPattern[] {
    const names = new Set(offers.map(({ id }) => `offer ${id}`));
    const columns = [...this.#columns.values()].filter(
      ({ stock }) => names.has(stock) || stock.startsWith('rack '),
    );
    return [...(this.best(offers)?.plan.patterns ?? []), ...columns];
  }
}
