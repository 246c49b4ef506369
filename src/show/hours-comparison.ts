/** What an hour is worth, as a table: a shop that does not know its rate can choose by eye. */
import type { HourPoint, HoursComparison } from '../documents/hours/schema.js';
import { money, paragraph, percent, printed, table } from '../text/page.js';
import { aboutTime, LEFT_OUT } from './hours.js';

const COLUMN = 26;

/** `up to 12.50`, `12.50 to 40.00`, `from 40.00 on`. */
export function ratesOf({ from, to }: Pick<HourPoint, 'from' | 'to'>): string {
  if (to === null) return from === 0 ? 'at any rate' : `from ${money(from)} on`;
  return from === 0 ? `up to ${money(to)}` : `${money(from)} to ${money(to)}`;
}

function sure({ proof }: HourPoint): string {
  if (proof.status === 'optimal') return 'proven';
  if (proof.status === 'unproven') return 'not proven';
  return `within ${percent((proof.value - proof.bound) / proof.value)}`;
}

export function showHours({ batch, points }: HoursComparison): string {
  const rows = points.map((point) => [
    ratesOf(point),
    money(point.cost),
    aboutTime(point.seconds),
    String(point.visits),
    String(point.stopsSet),
    sure(point),
  ]);
  const right = { align: 'right', most: COLUMN } as const;
  const left = { align: 'left', most: COLUMN } as const;
  return printed([
    `What an hour at the saw is worth: ${batch}`,
    '',
    ...table(
      [['where an hour costs', 'wood', 'sawing', 'visits', 'stops set', 'proof'], ...rows],
      [left, right, right, right, right, left],
      0,
    ),
    '',
    ...paragraph(
      'Each line is the plan that costs least, wood and sawing time together, at these costs of an hour. The proof holds for that sum at one rate of the line.',
      0,
    ),
    ...paragraph(LEFT_OUT, 0),
  ]);
}
