/** What a purchase costs, in words: money where offers have prices, otherwise the length of stick in its place. */
import { UM_PER_INCH, UM_PER_MM } from '../lengths/units.js';
import type { Batch, Um } from '../terms.js';
import { money } from '../text/page.js';

/** `mixed`: some offers of the moulding have prices; length stands in for the others. */
export type Pricing = 'priced' | 'unpriced' | 'mixed';

/** How a length to be carried or paid for is written. */
interface LongLengths {
  readonly long: (um: Um) => string;
}

interface BoughtOffer {
  readonly moulding: string;
  readonly offer: string;
  readonly count: number;
  readonly cost: number;
}

export class Costs {
  readonly #words: LongLengths;
  readonly #unit: number;
  readonly #pricing = new Map<string, Pricing>();
  readonly #lengths: ReadonlyMap<string, Um>;

  constructor({ offers, units }: Batch, words: LongLengths) {
    this.#words = words;
    this.#unit = Number(units === 'in' ? UM_PER_INCH : UM_PER_MM);
    this.#lengths = new Map(offers.map(({ id, length }) => [id, length]));
    for (const { moulding, priced } of offers) {
      const own = priced ? 'priced' : 'unpriced';
      const before = this.#pricing.get(moulding) ?? own;
      this.#pricing.set(moulding, before === own ? own : 'mixed');
    }
  }

  /** A moulding without offers has nothing to buy; any money would be real money. */
  pricing(moulding: string): Pricing {
    return this.#pricing.get(moulding) ?? 'priced';
  }

  /** Mouldings with prices for some offers and only lengths for others. */
  mixed(): readonly string[] {
    return [...this.#pricing].flatMap(([moulding, pricing]) => (pricing === 'mixed' ? [moulding] : []));
  }

  /** An amount of a moulding's cost, `12.50` or `24.1 m`. */
  of(moulding: string, amount: number): string {
    return this.pricing(moulding) === 'unpriced'
      ? this.#words.long(Math.round(amount * this.#unit))
      : money(amount);
  }

  /** `cost 12.50`, or `24.1 m of stick to buy`. */
  spent(moulding: string, amount: number): string {
    const text = this.of(moulding, amount);
    return this.pricing(moulding) === 'unpriced' ? `${text} of stick to buy` : `cost ${text}`;
  }

  /** What no plan does: `costs less`, or `buys less`. */
  less(moulding: string): string {
    return this.pricing(moulding) === 'unpriced' ? 'buys less' : 'costs less';
  }

  /** `cost 12.50`, or the length that is bought, for all that is bought. */
  totalText(buy: readonly BoughtOffer[]): string {
    const bare = buy.length > 0 && buy.every(({ moulding }) => this.pricing(moulding) === 'unpriced');
    return bare ? `${this.total(buy)} to buy` : `cost ${this.total(buy)}`;
  }

  /** Money where there are prices, and length where there are none. */
  total(buy: readonly BoughtOffer[]): string {
    const bare = buy.filter(({ moulding }) => this.pricing(moulding) === 'unpriced');
    const priced = buy.filter((one) => !bare.includes(one));
    const cents = priced.reduce((sum, { cost }) => sum + Math.round(cost * 100), 0);
    const length = bare.reduce((sum, { offer, count }) => sum + count * (this.#lengths.get(offer) ?? 0), 0);
    if (bare.length === 0) return money(cents / 100);
    const without = `${this.#words.long(length)} of stick`;
    return priced.length === 0 ? without : `${money(cents / 100)}, and ${without} without a price`;
  }
}
