/** What the parts of a comparison's check need at hand. */
import type { Comparison, MouldingComparison, Scenario } from '../../documents/comparison/types.js';
import { centsFromMoney } from '../../documents/money.js';
import type { PlannedPurchase } from '../../documents/plan/types.js';
import type { Batch, Cents, FrameLine, Moulding, Offer } from '../../terms.js';
import type { Findings } from '../report.js';
import type { CheckCode } from '../rules.js';
import type { Settings } from '../settings.js';

/** Whether a plan is known that makes the order of the rack and these pieces. */
export type Makes = (moulding: string, buy: readonly PlannedPurchase[]) => boolean;

export interface OnComparison {
  readonly batch: Batch;
  readonly comparison: Comparison;
  readonly settings: Settings;
  readonly findings: Findings;
  readonly makes: Makes;
}

/** One moulding of the comparison. */
export interface OnMoulding extends OnComparison {
  readonly path: string;
  readonly part: MouldingComparison;
  readonly moulding: Moulding;
  readonly offers: readonly Offer[];
  readonly lines: readonly (FrameLine & { readonly index: number })[];
  readonly add: (code: CheckCode, at: string, found: unknown, holds: unknown) => void;
}

/** At the price of so many, with all its prices moved by `by`. */
export function priceOf({ price, breaks }: Offer, count: number, by: Cents = 0): Cents {
  const each = breaks.reduce((found, tier) => (count >= tier.from ? tier.price : found), price);
  return count * (each + by);
}

export function sumOf(buy: readonly PlannedPurchase[]): Cents {
  return buy.reduce((sum, { cost }) => sum + centsFromMoney(cost), 0);
}

export function within(small: readonly string[], large: readonly string[]): boolean {
  return small.every((id) => large.includes(id));
}

/** The key of a purchase: what of what. */
export function purchaseKey(moulding: string, buy: readonly PlannedPurchase[]): string {
  return JSON.stringify([moulding, ...buy.map(({ offer, count }) => [offer, count])]);
}

export type CompleteScenario = Scenario & { readonly proof: NonNullable<Scenario['proof']> };

/** Those with a plan. */
export function complete({ part }: OnMoulding): readonly CompleteScenario[] {
  return part.scenarios.filter((one): one is CompleteScenario => one.proof !== null);
}

export function cheapest(all: readonly CompleteScenario[]): Cents | null {
  return all.length === 0 ? null : Math.min(...all.map(({ proof }) => centsFromMoney(proof.value)));
}
