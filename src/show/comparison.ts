/** The comparison as a page: the recommendation first, then the scenarios it rests on. */

import { aboutSuppliers } from '../compare/trials/suppliers.js';
import type {
  BreakEven,
  Comparison,
  Footage,
  Growth,
  MouldingComparison,
  PriceFound,
  Scenario,
  Spare,
  SupplierRow,
  WhatIf,
} from '../documents/comparison/types.js';
import { UM_PER_INCH, UM_PER_MM, umFromMm } from '../lengths/units.js';
import type { Batch } from '../terms.js';
import {
  edges,
  money,
  named,
  paragraph,
  percent,
  plural,
  printed,
  STUCK,
  type TableColumn,
  table,
} from '../text/page.js';
import { Words } from '../words/words.js';
import { hoursAndMinutes, SAWING_COMPARED } from './hours.js';

/** Scenarios shown of each moulding: all that may be the answer, and the cheapest others. */
const ROWS_MOST = 40;

const RIGHT = { align: 'right' } as const;
const NAMES_MOST = 30;
/** Names longer than this leave the last column too little. */
const NAMES_SHORT = 24;

function columnsFor(names: readonly string[]): TableColumn[] {
  const long = names.some((name) => name.length > NAMES_SHORT);
  return [
    { most: NAMES_MOST },
    { most: 11, ...RIGHT },
    { most: 6, ...RIGHT },
    { most: 7, ...RIGHT },
    { most: 9, ...RIGHT },
    { most: long ? 9 : 12, ...RIGHT },
    { most: 7, ...RIGHT },
    { most: 30 },
  ];
}
const HEADER = ['offers', 'cost', 'sticks', 'yield', 'waste', 'offcuts (worth)', 'sawing', 'how sure'];
/** The same where length stands for money. */
const LENGTHS = HEADER.map((name) =>
  name === 'cost' ? 'bought' : name === 'offcuts (worth)' ? 'offcuts' : name,
);

/** Stands for money where there are no prices: the length of the sticks, in the batch's units. */
type Worth = (amount: number) => string;

function worthOf(words: Words, { measure, units }: Comparison): Worth {
  if (measure === 'cost') return money;
  const each = units === 'in' ? UM_PER_INCH : UM_PER_MM;
  return (amount) => words.long(Math.round(amount * Number(each)));
}

function sure(worth: Worth, { proof, planOf }: Scenario): string {
  if (proof === null) return '';
  const bought = planOf === null ? '' : planOf.length === 0 ? 'nothing' : named(planOf);
  const own =
    bought === '' ? '' : bought.length > NAMES_MOST ? ', not all bought' : `, buying only ${bought}`;
  switch (proof.status) {
    case 'optimal':
      return `proven${own}`;
    case 'within':
      return `at least ${worth(proof.bound)}${own}`;
    case 'excluded':
      return `out: at least ${worth(proof.bound)}`;
    case 'unproven':
      return `not proven${own}`;
    default:
      return proof.status satisfies never;
  }
}

function why({ short }: Scenario): string {
  if (short?.why === 'tooLong') {
    return `too short for ${named(short.frames.slice(0, 4))}${short.frames.length > 4 ? ' …' : ''}`;
  }
  return short?.why === 'notEnough' ? 'not enough of it available' : 'no plan found';
}

function titleOf({ kind, offers, supplier }: Scenario): string {
  if (kind === 'supplier') return `all from ${supplier}`;
  return kind === 'all' && offers.length > 2 ? `all ${offers.length} together` : offers.join(' + ');
}

function scenarioRow(words: Words, worth: Worth, scenario: Scenario): readonly string[] {
  const { figures, proof } = scenario;
  if (proof === null || figures === null) {
    return [titleOf(scenario), 'short', '', '', '', '', '', why(scenario)];
  }
  const { offcuts } = figures;
  return [
    titleOf(scenario),
    worth(proof.value),
    String(figures.sticks),
    percent(figures.yield),
    words.long(umFromMm(figures.wasteLength)),
    offcuts.count === 0 ? '0' : `${offcuts.count} (${worth(offcuts.worth)})`,
    figures.seconds === undefined ? '' : hoursAndMinutes(figures.seconds),
    sure(worth, scenario),
  ];
}

function scenarios(words: Words, worth: Worth, { scenarios: all }: MouldingComparison): readonly string[] {
  const cost = (one: Scenario): number => one.proof?.value ?? Number.POSITIVE_INFINITY;
  const sorted = [...all].sort((a, b) =>
    cost(a) === cost(b) ? a.offers.length - b.offers.length : cost(a) < cost(b) ? -1 : 1,
  );
  const shown = sorted.filter((one, i) => i < ROWS_MOST || one.kind !== 'two');
  const left = sorted.length - shown.length;
  return [
    ...table(
      [worth === money ? HEADER : LENGTHS, ...shown.map((one) => scenarioRow(words, worth, one))],
      columnsFor(shown.map(titleOf)),
      2,
    ),
    ...(left === 0 ? [] : [`  and ${plural(left, 'dearer pair')}`]),
  ];
}

function price(found: PriceFound | null, none: string): string {
  return found === null ? none : `${money(found.price)}${found.proven ? '' : '?'}`;
}

function stays({ known, from, to, bought }: BreakEven): string {
  if (!known) return 'not known';
  if (!bought) return from === null ? 'at any price' : `from ${price(from, '')} up`;
  if (from === null && to === null) return 'at any price';
  if (from === null) return `up to ${price(to, '')}`;
  return to === null ? `from ${price(from, '')} up` : `${price(from, '')} to ${price(to, '')}`;
}

function breakEven(rows: readonly BreakEven[]): readonly string[] {
  if (rows.length === 0) return [];
  const cells = rows.map((row) => [
    row.offer,
    money(row.price),
    row.bought ? 'yes' : '',
    row.bought && row.aloneTies === null ? '-' : price(row.aloneTies, 'at no price'),
    stays(row),
  ]);
  const open = rows.some(({ from, to, aloneTies }) =>
    [from, to, aloneTies].some((one) => one?.proven === false),
  );
  return [
    '',
    '  Prices',
    ...table(
      [['offer', 'price', 'bought', 'alone ties at', 'the answer stays with its price'], ...cells],
      [{ most: 30 }, { most: 12, ...RIGHT }, { most: 6 }, { most: 14, ...RIGHT }, { most: 40 }],
      2,
    ),
    ...(open
      ? ["  ?: not proven, the price lies between this one and the offer's own (alone: this one or higher)."]
      : []),
    ...(rows.some(({ known }) => !known)
      ? ['  not known: the recommended purchase itself is not proven to cost least.']
      : []),
  ];
}

function asked(words: Words, { what, length }: WhatIf): string {
  switch (what) {
    case 'maxLength':
      return `sticks up to ${words.stock(umFromMm(length ?? 0))} only`;
    case 'singlePieces':
      return 'single pieces at the single price';
    case 'shortBy':
      return `sticks ${words.tape(umFromMm(length ?? 0))} short`;
    default:
      return what satisfies never;
  }
}

function whatIfLine(words: Words, worth: Worth, one: WhatIf): string {
  const about = `${asked(words, one)}: `;
  const enough =
    one.stillEnough === null
      ? ''
      : `; the pieces recommended would ${one.stillEnough ? 'still do' : 'not do'}`;
  if (one.cost === null || one.difference === null) return `${about}the order cannot be made${enough}`;
  const by =
    one.difference === 0
      ? 'no difference'
      : `${worth(Math.abs(one.difference))} ${one.difference > 0 ? 'more' : 'less'}`;
  const buy = named(one.buy.map(({ count, offer }) => `${count} × ${offer}`));
  const sureness =
    one.bound !== null && one.bound >= one.cost ? 'proven' : `at least ${worth(one.bound ?? 0)}`;
  return `${about}${worth(one.cost)}, ${by}; buy ${buy} (${sureness})${enough}`;
}

function whatIfs(words: Words, worth: Worth, rows: readonly WhatIf[]): readonly string[] {
  if (rows.length === 0) return [];
  return ['', '  What if', ...rows.flatMap((one) => paragraph(whatIfLine(words, worth, one), 2, 4))];
}

function spareLines(spare: Spare | null): readonly string[] {
  if (spare === null) return [];
  const { share, levels, odds, pieces, more, runs, seed, undecided, model } = spare;
  const most = odds.at(-1)?.pieces ?? pieces;
  const needs = levels.map(({ of100, pieces: found }, i) => {
    const sticks = found === null ? `more than ${most}` : String(found);
    return i === 0 ? `${sticks} sticks make this order in ${of100} of 100 runs` : `${sticks} in ${of100}`;
  });
  const further = more.length === 0 ? '' : `; further ones are ${named(more)}`;
  const open = undecided === 0 ? '' : `; in ${undecided} of them fewer might do`;
  const text =
    `With ${percent(share)} of the sticks bad, ${needs.join(', ')} ` +
    `(${pieces} if all are good${further}; ${runs} runs, seed ${seed}${open}). ${model}`;
  return ['', '  Spare sticks', ...paragraph(text, 2)];
}

function growth(worth: Worth, rows: readonly Growth[]): readonly string[] {
  if (rows.length === 0) return [];
  const cells = rows.map(({ times, status, buy, cost, bound, costPerOrder, yield: share, bestAlone }) => [
    `${times} ×`,
    cost === null ? (status === 'short' ? 'short' : 'no time') : worth(cost),
    costPerOrder === null ? '' : worth(costPerOrder),
    share === null ? '' : percent(share),
    bestAlone ?? '-',
    cost === null ? '' : named(buy.map(({ count, offer }) => `${count} × ${offer}`)),
    cost === null ? '' : bound === cost ? 'proven' : `at least ${worth(bound ?? 0)}`,
  ]);
  return [
    '',
    '  Growing orders',
    ...table(
      [
        [
          'order',
          worth === money ? 'cost' : 'bought',
          'an order',
          'yield',
          'best alone',
          'best of all',
          'how sure',
        ],
        ...cells,
      ],
      [
        { most: 7, ...RIGHT },
        { most: 12, ...RIGHT },
        { most: 10, ...RIGHT },
        { most: 7, ...RIGHT },
        { most: 14 },
        { most: 34 },
        { most: 20 },
      ],
      2,
    ),
  ];
}

function footage(
  words: Words,
  { net, wasteShare, length, planned, off, sticks }: Footage,
): readonly string[] {
  const rule = `${words.long(umFromMm(net))} and ${percent(wasteShare, 0)} for waste, ${words.long(umFromMm(length))}`;
  const far =
    off === null
      ? ''
      : `, ${percent(Math.abs(off))} ${off >= 0 ? 'too much' : 'too little'} for this order, which takes ${words.long(umFromMm(planned))} of sticks`;
  const inSticks =
    sticks === null ? '' : `; ${sticks.rule} × ${sticks.offer} against ${sticks.planned} planned`;
  return [
    '',
    ...paragraph(`Rule of thumb, 2(w+h) + 8·face a frame (common practice): ${rule}${far}${inSticks}.`, 2),
  ];
}

function suppliers(worth: Worth, rows: readonly SupplierRow[]): readonly string[] {
  if (rows.length === 0) return [];
  const cells = rows.map(({ suppliers: ids, cost, payable, bound }, i) => [
    i < rows.length - 1 ? `all from ${ids[0]}` : 'as recommended',
    cost === null ? 'short' : worth(cost),
    payable === null ? '' : worth(payable),
    payable === null ? '' : bound === payable ? 'proven' : `at least ${worth(bound ?? 0)}`,
  ]);
  return [
    '',
    'Suppliers',
    ...table(
      [['where', 'cost', 'with minimum order', 'how sure'], ...cells],
      [{ most: 50 }, { most: 12, ...RIGHT }, { most: 18, ...RIGHT }, { most: 24 }],
      2,
    ),
  ];
}

export function showComparison(batch: Batch, comparison: Comparison): string {
  const words = new Words(batch);
  const { mouldings, totals, measure, notices } = comparison;
  const worth = worthOf(words, comparison);
  const unit = measure === 'cost' ? '' : ' of stick, no prices given';
  const total = `total ${worth(totals.cost)}${unit}${STUCK}${STUCK}${totals.bound >= totals.cost ? 'proven' : `at least ${worth(totals.bound)}`}`;
  const timed = mouldings.some((one) => one.scenarios.some(({ figures }) => figures?.seconds !== undefined));
  return printed([
    ...comparison.mouldings.flatMap(({ recommendation }) => paragraph(recommendation.sentence, 0, 2)),
    ...aboutSuppliers(comparison.suppliers).flatMap((sentence) => paragraph(sentence, 0, 2)),
    ...(mouldings.length === 1 ? [] : edges(`${plural(mouldings.length, 'moulding')}`, total)),
    ...mouldings.flatMap((one) => [
      '',
      one.moulding,
      ...scenarios(words, worth, one),
      ...breakEven(one.breakEven),
      ...whatIfs(words, worth, one.whatIf),
      ...spareLines(one.spare),
      ...growth(worth, one.growth),
      ...footage(words, one.footage),
    ]),
    ...suppliers(worth, comparison.suppliers),
    ...(timed ? ['', ...paragraph(SAWING_COMPARED, 0)] : []),
    ...notices.flatMap((notice) => ['', ...paragraph(notice, 0, 2)]),
  ]);
}
