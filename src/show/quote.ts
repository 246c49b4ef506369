/** A quote on one short page. */
import type { Quote, QuoteRange } from '../documents/quote/schema.js';
import type { Batch } from '../terms.js';
import { edges, PAGE, paragraph, plural, printed, table } from '../text/page.js';
import { costText } from '../words/pooled.js';
import { Words } from '../words/words.js';
import { aboutTime } from './hours.js';

function besideText({ against, beside }: Quote): string {
  const pieces = beside.pieces === 0 ? '' : `${plural(beside.pieces, 'free piece')} of the rack`;
  switch (against) {
    case 'nothing':
      return 'by itself';
    case 'rack':
      return pieces === '' ? 'by itself; the rack has no free piece of its mouldings' : `from ${pieces}`;
    case 'night': {
      const pool =
        beside.batches === 0
          ? 'by itself: nothing waits in the pool that it could be planned with'
          : `on top of ${plural(beside.batches, 'batch', 'batches')} in the pool, ${plural(beside.frames, 'frame')} in its mouldings`;
      return pieces === '' ? pool : `${pool}; ${pieces}`;
    }
    default:
      return against satisfies never;
  }
}

function rangeText(range: QuoteRange, cost: (amount: number) => string): string {
  const { value, least, most } = range;
  if (least === most) return `${cost(value)}, proven`;
  return `${cost(value)}; proven: between ${cost(least)} and ${cost(most)}`;
}

/** Lines of at most 100 columns. */
export function showQuote(batch: Batch, quote: Quote): string {
  const words = new Words(batch);
  const cost = costText(batch, words);
  const long = (mm: number): string => words.long(Math.round(mm * 1000));
  const { missing, seconds, labour, held } = quote;
  const hours = seconds < 0 ? `${aboutTime(-seconds)} less` : aboutTime(seconds);
  const sure = 'the difference of the two plans as found, each stop set once; not proven';
  const own = `${aboutTime(quote.railSeconds ?? 0)}, in whatever plan: cuts, swings of the saw and labels`;
  const paid = labour === undefined ? '' : `, ${cost(labour)} at its rate`;
  const short =
    missing.length === 0
      ? []
      : paragraph(`SHORT: ${plural(missing.length, 'frame')} cannot be made, ${missing.join(', ')}.`, 0, 2);
  const rows = quote.mouldings.map(({ moulding, money }) => [moulding, rangeText(money, cost)]);
  return printed([
    ...edges(`Quote: ${quote.batch}`, plural(quote.frames, 'frame')),
    '='.repeat(PAGE),
    ...paragraph(`Planned ${besideText(quote)}. It adds:`, 0),
    ...short,
    ...table(
      [
        ['wood to buy', rangeText(quote.money, cost)],
        [
          'sticks',
          `${quote.sticks}, ${long(quote.stockLength)} in all, ${long(quote.rackLength)} of it from the rack`,
        ],
        ['rails', long(quote.railLength)],
        ['at the saw', `${hours}${paid}; ${sure}`],
        ...(quote.railSeconds === undefined ? [] : [['its own rails', own]]),
      ],
      [{ most: 14 }, { most: 84 }],
      2,
    ),
    ...(rows.length > 1
      ? ['', 'Wood to buy, moulding by moulding', ...table(rows, [{ most: 30 }, { most: 66 }], 2)]
      : []),
    ...(held === null
      ? []
      : [
          '',
          ...paragraph(
            `${plural(held.pieces.length, 'piece')} of the rack held as ${held.id} until ${new Date(held.until).toISOString().slice(0, 16)}Z; an order submitted by then is planned from them.`,
            0,
          ),
        ]),
  ]);
}
