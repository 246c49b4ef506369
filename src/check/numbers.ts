/** The plan's numbers, from millimetres and money to whole micrometres and cents. */
import type { Cents, Um } from '../terms.js';
import type { Findings } from './report.js';

/** Whole micrometres; NaN unless `mm` is a finite length of at least 0 with at most 3 decimals. */
export function umOf(mm: number): Um {
  if (!(mm >= 0 && mm <= Number.MAX_SAFE_INTEGER / 1000)) return Number.NaN;
  const um = Math.round(mm * 1000);
  return um / 1000 === mm ? um : Number.NaN;
}

/** Whole cents; NaN unless `money` is a finite sum of at least 0 with at most 2 decimals. */
export function centsOf(money: number): Cents {
  if (!(money >= 0 && money <= Number.MAX_SAFE_INTEGER / 100)) return Number.NaN;
  const cents = Math.round(money * 100);
  return cents / 100 === money ? cents : Number.NaN;
}

/*
 * The next three read a number of the plan and report it where it is none. Its path is `list[at].key`, put together
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
  return `${um / 1000} mm`;
}

export function money(cents: Cents): string {
  return (cents / 100).toFixed(2);
}

/** `7` of `text` ending in `/7`, counting from 1, as a program writes it; 0 for anything else. */
export function copyNumber(text: string, slash: number): number {
  const digits = text.length - slash - 1;
  if (slash < 0 || digits < 1 || digits > 10) return 0;
  let copy = 0;
  for (let i = slash + 1; i < text.length; i++) {
    const digit = text.charCodeAt(i) - 48;
    if (digit < 0 || digit > 9 || (copy === 0 && digit === 0)) return 0;
    copy = copy * 10 + digit;
  }
  return copy;
}
