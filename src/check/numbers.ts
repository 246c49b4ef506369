/** The plan's numbers, from millimetres and money to whole micrometres and cents. */
import { centsFromMoney, moneyFromCents } from '../documents/money.js';
import { mmFromUm, umFromMm } from '../lengths/units.js';
import type { Cents, Um } from '../terms.js';
import type { Findings } from './report.js';

/** Whole micrometres; NaN unless `mm` is a finite length of at least 0 with at most 3 decimals. */
export function umOf(mm: number): Um {
  if (!(mm >= 0 && mm <= mmFromUm(Number.MAX_SAFE_INTEGER))) return Number.NaN;
  const um = umFromMm(mm);
  return mmFromUm(um) === mm ? um : Number.NaN;
}

/** Whole cents; NaN unless `money` is a finite sum of at least 0 with at most 2 decimals. */
export function centsOf(money: number): Cents {
  if (!(money >= 0 && money <= moneyFromCents(Number.MAX_SAFE_INTEGER))) return Number.NaN;
  const cents = centsFromMoney(money);
  return moneyFromCents(cents) === money ? cents : Number.NaN;
}

/*
 * The next three read a number of the plan and report it if it is not one. Its path, `list[at].key`, is put together
 * only then: a plan may hold millions of numbers.
 */

export function lengthAt(mm: number, findings: Findings, list: string, at: number, key: string): Um {
  const um = umOf(mm);
  if (!Number.isNaN(um)) return um;
  findings.add('CHECK_NUMBER', `${list}[${at}].${key}`, String(mm), 'mm, 0 or more, at most 3 decimals');
  return um;
}

export function moneyAt(money: number, findings: Findings, list: string, at: number, key: string): Cents {
  const cents = centsOf(money);
  if (!Number.isNaN(cents)) return cents;
  findings.add('CHECK_NUMBER', `${list}[${at}].${key}`, String(money), 'money, 0 or more, whole cents');
  return cents;
}

export function countAt(count: number, findings: Findings, list: string, at: number, key: string): number {
  if (Number.isSafeInteger(count) && count >= 0) return count;
  findings.add('CHECK_NUMBER', `${list}[${at}].${key}`, String(count), 'a whole number, 0 or more');
  return Number.NaN;
}

export function mm(um: number): string {
  return `${mmFromUm(um)} mm`;
}
