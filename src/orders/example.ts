/** The files `pairstop new` writes: a small order of our own, in CSV with remarks, that plans as it is. */
import type { Units } from '../terms.js';

export interface ExampleFile {
  readonly name: string;
  readonly text: string;
}

/** Sizes of the example, by the batch's units. */
interface ExampleSizes {
  readonly unit: string;
  readonly frames: readonly (readonly [string, string])[];
  readonly cap: readonly [string, string, string];
  readonly slim: readonly [string, string, string];
  readonly rack: readonly string[];
  readonly flaw: string;
  readonly offers: readonly (readonly [string, string])[];
  readonly saw: readonly (readonly [string, string])[];
  readonly gauge: string;
}

const INCHES: ExampleSizes = {
  unit: 'in',
  frames: [
    ['16', '20'],
    ['11', '14'],
    ['8 1/2', '11'],
    ['5', '7'],
  ],
  cap: ['1 1/4', '1/4', '18'],
  slim: ['3/4', '3/16', '12'],
  rack: ['61 1/4', '38'],
  flaw: '20 to 23 1/2',
  offers: [
    ["8'", '18.90'],
    ["10'", '23.40'],
    ["8'", '11.20'],
  ],
  saw: [
    ['kerf', '3/32'],
    ['recut', '1/16'],
    ['stop step', '1/32'],
    ['clamp below', '6'],
  ],
  gauge: '22 1/8',
};

const MILLIMETRES: ExampleSizes = {
  unit: 'mm',
  frames: [
    ['400', '500'],
    ['300', '400'],
    ['210', '297'],
    ['130', '180'],
  ],
  cap: ['32', '6.5', '450'],
  slim: ['19', '5', '300'],
  rack: ['1555', '965'],
  flaw: '510 to 600',
  offers: [
    ['2400', '18.90'],
    ['3000', '23.40'],
    ['2400', '11.20'],
  ],
  saw: [
    ['kerf', '2.4'],
    ['recut', '1.5'],
    ['stop step', '0.5'],
    ['clamp below', '150'],
  ],
  gauge: '554.5',
};

function lines(...text: readonly string[]): string {
  return `${text.join('\n')}\n`;
}

function tables(units: Units): readonly ExampleFile[] {
  const { unit, frames, cap, slim, rack, flaw, offers, saw, gauge } = units === 'in' ? INCHES : MILLIMETRES;
  const size = (at: number): string => frames[at]!.join(',');
  return [
    {
      name: 'frames.csv',
      text: lines(
        '# One row an order line. A line that begins with "# " is a remark.',
        '# "measured by" says what the size is of: glass, rabbet, sight or outside. Empty means glass.',
        '# "match" says which rails belong together: stop, pair or frame. Empty means stop.',
        '# "priority": where stock runs out, 1 is made first. A size may also stand in one column, "size": 16 x 20.',
        `id,moulding,quantity,width (${unit}),height (${unit}),measured by,match,priority,note`,
        `P-101,ash-cap,4,${size(0)},glass,,1,entrance hall`,
        `P-102,ash-cap,6,${size(1)},glass,,,`,
        `P-103,pine-slim,8,${size(2)},glass,pair,,`,
        `P-104,pine-slim,3,${size(3)},outside,,,cards`,
      ),
    },
    {
      name: 'mouldings.csv',
      text: lines(
        '# face: width across the front. rabbet: how far the lip reaches over the glass. end trim: lost at each end of a',
        '# stick. keep over: what is at least so long goes back on the rack. reversible: yes for flat stock without a rabbet.',
        `id,face (${unit}),rabbet (${unit}),end trim (${unit}),keep over (${unit}),reversible`,
        `ash-cap,${cap[0]},${cap[1]},${units === 'in' ? '1/2' : '12'},${cap[2]},no`,
        `pine-slim,${slim[0]},${slim[1]},${units === 'in' ? '1/4' : '6'},${slim[2]},no`,
      ),
    },
    {
      name: 'rack.csv',
      text: lines(
        '# What lies on the rack. A flaw is a span from the left end that no rail may touch.',
        `id,moulding,length (${unit}),quantity,flaws (${unit})`,
        `r1,ash-cap,${rack[0]},1,${flaw}`,
        `r2,ash-cap,${rack[1]},2,`,
      ),
    },
    {
      name: 'offers.csv',
      text: lines(
        '# What can be bought: a stick length and its price. Optional: available, pack, breaks ("25 at 21.90"), supplier.',
        `id,moulding,length (${unit}),price`,
        `ash-8,ash-cap,${offers[0]!.join(',')}`,
        `ash-10,ash-cap,${offers[1]!.join(',')}`,
        `pine-8,pine-slim,${offers[2]!.join(',')}`,
      ),
    },
    {
      name: 'saw.csv',
      text: lines(
        '# The saw, and what else is said once. A number without a unit counts in "units".',
        'setting,value',
        `units,${units}`,
        'id,pavilion-show',
        ...saw.map((pair) => pair.join(',')),
        'time limit,20',
      ),
    },
    {
      name: 'gauges.csv',
      text: lines(
        '# Gauge sticks the shop keeps: each sets the stop again without measuring.',
        `id,length (${unit})`,
        `G-1,${gauge}`,
      ),
    },
  ];
}

const ABOUT = (folder: string): string => `An order for Pairstop
=====================

The tables are CSV: any spreadsheet opens and writes them. Comma, semicolon and tab are read alike; with a semicolon or
a tab a decimal comma is read too. Columns may stand in any order. A length is a number with the unit of its header, or
says its own: 16 3/8 in, 8', 405 mm, 40.5 cm. In a spreadsheet set columns with fractions to "text", or it makes dates of them.

  pairstop plan ${folder}                    the plan, for the saw
  pairstop compare ${folder}                 which stick lengths to buy
  pairstop batch ${folder} --out order.json  the same order as one JSON file, for programs

frames.csv      what is ordered
mouldings.csv   the profiles
rack.csv        what lies on the rack
offers.csv      what can be bought
saw.csv         the saw, the options
gauges.csv      gauge sticks; may be left out, like rack.csv and saw.csv
order.json      the whole order once more, as a program would send it
`;

/** Every example file but `order.json`, which is made of them. */
export function exampleFiles(units: Units, folder: string): readonly ExampleFile[] {
  return [...tables(units), { name: 'about.txt', text: ABOUT(folder) }];
}
