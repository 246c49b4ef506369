/** One refusal per field of the contract; each must say where, what was given, and what is allowed. */
import { describe } from 'vitest';
import { type Refusal, refusesEach, set } from './read-samples.js';

const LENGTH = /^a length of 0\.001 to 100000 mm: a number, or text such as "16 3\/8"/;

const HEAD: readonly Refusal[] = [
  [
    'unknown schema',
    (b) => Object.assign(b, { schema: 'pairstop/batch@2' }),
    'schema',
    '"pairstop/batch@2"',
    /^"pairstop\/batch@1"$/,
  ],
  ['no schema', (b) => Object.assign(b, { schema: undefined }), 'schema', 'nothing', /batch@1/],
  ['no id', (b) => Object.assign(b, { id: undefined }), 'id', 'nothing', /1 to 128 printable/],
  ['empty id', (b) => Object.assign(b, { id: '' }), 'id', '""', /1 to 128 printable/],
  ['id of spaces', (b) => Object.assign(b, { id: '  ' }), 'id', '"  "', /no space at either end/],
  [
    'long id',
    (b) => Object.assign(b, { id: 'x'.repeat(129) }),
    'id',
    `"${'x'.repeat(60)}…" (129 characters)`,
    /1 to 128/,
  ],
  [
    'id with a control character',
    (b) => Object.assign(b, { id: 'a\u0007' }),
    'id',
    '"a\\u0007"',
    /printable/,
  ],
  [
    'id with a hidden character',
    (b) => Object.assign(b, { id: 'a\u202eb' }),
    'id',
    '"a\\u202eb"',
    /printable/,
  ],
  ['id with a lone surrogate', (b) => Object.assign(b, { id: '\ud800' }), 'id', '"\\ud800"', /printable/],
  ['id a number', set('frames', 0, { id: 7 }), 'frames[0].id', '7', /the order line's id/],
  ['unknown units', (b) => Object.assign(b, { units: 'cm' }), 'units', '"cm"', /"in" or "mm"/],
  ['saw a list', (b) => Object.assign(b, { saw: [] }), 'saw', '[]', /the saw: an object/],
  ['negative kerf', (b) => Object.assign(b, { saw: { kerf: -1 } }), 'saw.kerf', '-1', /0 to 100 mm/],
  ['huge recut', (b) => Object.assign(b, { saw: { recut: 101 } }), 'saw.recut', '101', /0 to 100 mm/],
  [
    'no stop step',
    (b) => Object.assign(b, { saw: { stopStep: 0 } }),
    'saw.stopStep',
    '0',
    /0\.001 to 100 mm.*0\.5 mm in mm/,
  ],
  [
    'no mouldings',
    (b) => Object.assign(b, { mouldings: undefined }),
    'mouldings',
    'nothing',
    /1 to 100000 mouldings/,
  ],
  ['no face', set('mouldings', 0, { face: undefined }), 'mouldings[0].face', 'nothing', /0\.001 to 1000 mm/],
  [
    'no rabbet',
    set('mouldings', 0, { rabbet: undefined }),
    'mouldings[0].rabbet',
    'nothing',
    /not over the face/,
  ],
  [
    'reversible a word',
    set('mouldings', 0, { reversible: 'no' }),
    'mouldings[0].reversible',
    '"no"',
    /true or false/,
  ],
];

const LINES: readonly Refusal[] = [
  ['no frames', (b) => Object.assign(b, { frames: [] }), 'frames', '[]', /1 to 100000 frames/],
  [
    'frames an object',
    (b) => Object.assign(b, { frames: { a: 1 } }),
    'frames',
    'an object with "a"',
    /a list of/,
  ],
  [
    'a frame null',
    (b) => Object.assign(b.frames ?? {}, { 0: null }),
    'frames[0]',
    'null',
    /a frame: an object/,
  ],
  [
    'unknown key',
    set('frames', 1, { colour: 'red' }),
    'frames[1].colour',
    '"red"',
    /no such key; known here: id, moulding, quantity/,
  ],
  [
    'unknown key at the top',
    (b) => Object.assign(b, { 'my key': 1 }),
    '["my key"]',
    '1',
    /no such key; known here: schema/,
  ],
  ['zero quantity', set('frames', 0, { quantity: 0 }), 'frames[0].quantity', '0', /1 to 1000000/],
  ['broken quantity', set('frames', 0, { quantity: 1.5 }), 'frames[0].quantity', '1.5', /a whole number/],
  ['quantity as text', set('frames', 0, { quantity: '2' }), 'frames[0].quantity', '"2"', /a whole number/],
  [
    'unknown measure',
    set('frames', 0, { measuredBy: 'paper' }),
    'frames[0].measuredBy',
    '"paper"',
    /"glass" or "rabbet"/,
  ],
  [
    'unknown match',
    set('frames', 0, { match: 'all' }),
    'frames[0].match',
    '"all"',
    /"stop" or "pair" or "frame"/,
  ],
  ['negative width', set('frames', 0, { width: -297 }), 'frames[0].width', '-297', LENGTH],
  ['zero width', set('frames', 0, { width: '0' }), 'frames[0].width', '"0"', LENGTH],
  ['width that is no length', set('frames', 0, { width: 'A3' }), 'frames[0].width', '"A3"', LENGTH],
  ['width in a list', set('frames', 0, { width: [297] }), 'frames[0].width', '[297]', LENGTH],
  ['width null', set('frames', 0, { width: null }), 'frames[0].width', 'null', LENGTH],
  ['width over 100 m', set('frames', 0, { width: '100.001 m' }), 'frames[0].width', '"100.001 m"', LENGTH],
  ['width of 1e308', set('frames', 0, { width: 1e308 }), 'frames[0].width', '1e+308', LENGTH],
  ['two sides only', set('frames', 1, { sides: 2 }), 'frames[1].sides', '2', /3 to 24/],
  ['negative play', set('frames', 0, { play: -1 }), 'frames[0].play', '-1', /0 to 100000 mm/],
  ['stick of no length', set('sticks', 0, { length: undefined }), 'sticks[0].length', 'nothing', LENGTH],
  [
    'flaw of one end',
    set('sticks', 0, { flaws: [[1]] }),
    'sticks[0].flaws[0]',
    '[1]',
    /a flaw: \[from, to\]/,
  ],
  ['negative flaw', set('sticks', 0, { flaws: [[-1, 5]] }), 'sticks[0].flaws[0]', '[-1, 5]', /a flaw/],
  ['negative value', set('sticks', 0, { value: -0.01 }), 'sticks[0].value', '-0.01', /at most 2 decimals/],
  [
    'value in tenths of a cent',
    set('sticks', 0, { value: 1.005 }),
    'sticks[0].value',
    '1.005',
    /at most 2 decimals/,
  ],
  ['negative price', set('offers', 0, { price: -1 }), 'offers[0].price', '-1', /0 to 10000000/],
  ['price as text', set('offers', 0, { price: '12.00' }), 'offers[0].price', '"12.00"', /a number/],
  [
    'price beyond all',
    set('offers', 0, { price: 1e7 + 0.01 }),
    'offers[0].price',
    '10000000.01',
    /0 to 10000000/,
  ],
  ['negative available', set('offers', 0, { available: -1 }), 'offers[0].available', '-1', /0 to 1000000000/],
  ['pack of none', set('offers', 0, { pack: 0 }), 'offers[0].pack', '0', /1 to 1000000/],
  [
    'break from the first piece',
    set('offers', 1, { breaks: [{ from: 1, price: 9 }] }),
    'offers[1].breaks[0].from',
    '1',
    /2 to/,
  ],
  [
    'break without price',
    set('offers', 1, { breaks: [{ from: 4 }] }),
    'offers[1].breaks[0].price',
    'nothing',
    /price a piece/,
  ],
  ['gauge of no length', set('gauges', 0, { length: 0 }), 'gauges[0].length', '0', LENGTH],
  [
    'no time',
    (b) => Object.assign(b.options ?? {}, { timeLimit: 0 }),
    'options.timeLimit',
    '0',
    /above 0, up to 43200/,
  ],
  [
    'more than a night',
    (b) => Object.assign(b.options ?? {}, { timeLimit: 43_201 }),
    'options.timeLimit',
    '43201',
    /43200/,
  ],
  [
    'mergeStops a number',
    (b) => Object.assign(b.options ?? {}, { mergeStops: 1 }),
    'options.mergeStops',
    '1',
    /true or false/,
  ],
  [
    'negative seed',
    (b) => Object.assign(b.options ?? {}, { seed: -1 }),
    'options.seed',
    '-1',
    /0 to 9007199254740991/,
  ],
];

describe('refuses, of the batch, its saw and its mouldings,', () => {
  refusesEach(HEAD);
});

describe('refuses, of its lines and options,', () => {
  refusesEach(LINES);
});
