/** Money: whole cents inside, units of 100 cents in the documents. */
import { type Exact, exact, floorDivide } from '../lengths/exact.js';
import { UM_PER_INCH, UM_PER_MM } from '../lengths/units.js';
import type { Cents, Units } from '../terms.js';
import { money } from '../text/page.js';

/** An offer without a price: its length in the batch's units as money, to the nearest cent, half a cent up. */
export function defaultPrice(length: Exact, units: Units): Cents {
  const unit = units === 'in' ? UM_PER_INCH : UM_PER_MM;
  const halfCents = floorDivide(exact(length.num * 200n, length.den), exact(unit));
  return Number((halfCents + 1n) / 2n);
}

export function moneyFromCents(cents: Cents): number {
  return cents / 100;
}

/** Nearest whole cent, undoing `moneyFromCents`. */
export function centsFromMoney(money: number): Cents {
  return Math.round(money * 100);
}

/** 2190 cents as `21.90`. */
export function moneyText(cents: Cents): string {
  return money(moneyFromCents(cents));
}
