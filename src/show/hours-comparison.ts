/** What an hour is worth, as a table: a shop that does not know its rate can choose by eye. */
import type { HourPoint, HoursComparison } from '../documents/hours/schema.js';
import { money, paragraph, percent, printed, table } from '../text/page.js';
import { LEFT_OUT, sawingTimes } from './hours.js';

const COLUMN = 26;

/** `up to 12.50`, `12.50 to 40.00`, `from 40.00 on`, `at no rate`. */
export function ratesOf({ from, to }: Pick<HourPoint, 'from' | 'to'>): string {
  if (from === null) return 'at no rate';
  if (to === null) return from === 0 ? 'at any rate' : `from ${money(from)} on`;
  return from === 0 ? `up to ${money(to)}` : `${money(from)} to ${money(to)}`;
}

/** Whether less wood could do in the same time. */
export function sure({ wood: { status, value, bound } }: HourPoint): string {
  if (status === 'optimal') return 'proven';
  if (status === 'unproven') return 'not proven';
  return `at most ${percent((value - bound) / value)} less wood`;
}

/** What `sure` means. */
export const HOW_SURE =
  'How sure: “proven” where no plan that takes at most this time buys less wood; otherwise by how much less one could buy at most.';

/** What to read from the table, and how sure it is. */
function explained(points: readonly HourPoint[]): readonly string[] {
  if (points.length === 1)
    return [
      'Least wood and least time agree: no plan was found that takes less time for more wood, so an hour may cost what it will.',
    ];
  return [
    'Each line takes less time than the one above and buys more wood. The first column: at these costs of an hour it is the cheapest of these plans, wood and time together.',
    ...(points.some(({ from }) => from === null)
      ? [
          '“At no rate”: two of the others are cheaper turn about, whatever an hour costs; it is there for a shop that has just so much time.',
        ]
      : []),
    HOW_SURE,
  ];
}

export function showHours({ batch, points, skipped = [] }: HoursComparison): string {
  const times = sawingTimes(points.map(({ seconds }) => seconds));
  const rows = points.map((point, k) => [
    ratesOf(point),
    money(point.cost),
    times[k]!,
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
      [['where an hour costs', 'wood', 'sawing', 'visits', 'stops set', 'how sure'], ...rows],
      [left, right, right, right, right, left],
      0,
    ),
    '',
    ...explained(points).flatMap((text) => paragraph(text, 0)),
    ...paragraph(LEFT_OUT, 0),
    ...(skipped.length === 0
      ? []
      : paragraph(`Skipped, as no stick of the batch can hold them: ${skipped.join(', ')}.`, 0)),
  ]);
}
