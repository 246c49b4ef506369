/** One refusal per rule that fields must hold between them, and what a refusal of many problems looks like. */
import { describe, expect, it } from 'vitest';
import { readBatch } from '../../src/documents/batch/read.js';
import { PairstopError } from '../../src/errors.js';
import { complaints, type Loose, type Refusal, refusesEach, set, spoiled } from './samples.js';

const CROSS: readonly Refusal[] = [
  [
    'a moulding twice',
    (b) => b.mouldings?.push({ id: 'oak', face: 9, rabbet: 0 } as unknown as Loose),
    'mouldings[2].id',
    '"oak"',
    /mouldings\[0\]\.id has this one/,
  ],
  ['a frame twice', set('frames', 2, { id: 'F1' }), 'frames[2].id', '"F1"', /frames\[0\]\.id has this one/],
  ['a stick twice', set('sticks', 1, { id: 'r1' }), 'sticks[1].id', '"r1"', /sticks\[0\]\.id has this one/],
  [
    'an offer named like a stick',
    set('offers', 0, { id: 'r2' }),
    'offers[0].id',
    '"r2"',
    /not yet used in sticks or offers/,
  ],
  [
    'a gauge twice',
    (b) =>
      Object.assign(b, {
        gauges: [
          { id: 'G', length: 1 },
          { id: 'G', length: 2 },
        ],
      }),
    'gauges[1].id',
    '"G"',
    /gauges\[0\]/,
  ],
  [
    'a frame of unknown moulding',
    set('frames', 0, { moulding: 'elm' }),
    'frames[0].moulding',
    '"elm"',
    /one of the mouldings: "oak", "flat"/,
  ],
  [
    'a stick of unknown moulding',
    set('sticks', 0, { moulding: 'elm' }),
    'sticks[0].moulding',
    '"elm"',
    /"oak", "flat"/,
  ],
  [
    'an offer of unknown moulding',
    set('offers', 0, { moulding: 'elm' }),
    'offers[0].moulding',
    '"elm"',
    /"oak", "flat"/,
  ],
  [
    'rabbet as wide as the face',
    set('mouldings', 0, { rabbet: 30 }),
    'mouldings[0].rabbet',
    '30',
    /less than the face, 30 mm/,
  ],
  [
    'reversible with a rabbet',
    set('mouldings', 0, { reversible: true }),
    'mouldings[0].rabbet',
    '6',
    /0 for reversible stock/,
  ],
  [
    'no size',
    set('frames', 0, { width: undefined, height: undefined }),
    'frames[0]',
    'no size',
    /either width and height, or sides and side/,
  ],
  [
    'both sizes',
    set('frames', 0, { sides: 4, side: 300 }),
    'frames[0]',
    'width, height, sides, side',
    /either width/,
  ],
  [
    'no height',
    set('frames', 0, { height: undefined }),
    'frames[0].height',
    'nothing',
    /either width and height/,
  ],
  [
    'sides without side',
    set('frames', 1, { side: undefined }),
    'frames[1].side',
    'nothing',
    /sides and side/,
  ],
  [
    'play as wide as the glass',
    set('frames', 0, { play: 297, playMax: undefined }),
    'frames[0].play',
    '297',
    /smallest side allows, 297 mm/,
  ],
  [
    'largest play under the play',
    set('frames', 0, { playMax: 2.5 }),
    'frames[0].playMax',
    '2.5',
    /at least the play, 3 mm/,
  ],
  // Glass 9 + play 3 - two rabbets of 6 leaves an opening of 0.
  [
    'glass that leaves no opening',
    set('frames', 0, { width: 9 }),
    'frames[0].width',
    '9',
    /more than 9 mm.*sight size/,
  ],
  [
    'rabbet size that leaves no opening',
    set('frames', 0, { width: 12, measuredBy: 'rabbet' }),
    'frames[0].width',
    '12',
    /more than 12 mm/,
  ],
  [
    'outside size that leaves no opening',
    set('frames', 0, { height: 60, measuredBy: 'outside' }),
    'frames[0].height',
    '60',
    /more than 60 mm/,
  ],
  // A hexagon's sight side is its outside side less 2·40·tan 30° = 46.19 mm.
  [
    'polygon that leaves no opening',
    set('frames', 1, { side: 46 }),
    'frames[1].side',
    '46',
    /more than 46\.2 mm/,
  ],
  ['flaw backwards', set('sticks', 0, { flaws: [[5, 4]] }), 'sticks[0].flaws[0]', '[5, 4]', /from below to/],
  [
    'flaw of no width',
    set('sticks', 0, { flaws: [[5, '5 mm']] }),
    'sticks[0].flaws[0]',
    '[5, "5 mm"]',
    /from below to/,
  ],
  [
    'flaw beyond the stick',
    set('sticks', 0, { flaws: [[5, 2400.5]] }),
    'sticks[0].flaws[0][1]',
    '2400.5',
    /up to its length 2400 mm/,
  ],
  [
    'dearer by the dozen',
    set('offers', 0, { breaks: [{ from: 12, price: 12.01 }] }),
    'offers[0].breaks[0].price',
    '12.01',
    /at most 12\.00, the price from 1 on/,
  ],
  [
    'a break twice',
    set('offers', 0, {
      breaks: [
        { from: 5, price: 3 },
        { from: 5, price: 2 },
      ],
    }),
    'offers[0].breaks[1].from',
    '5',
    /once/,
  ],
  [
    'less than a pack for sale',
    set('offers', 1, { available: 9 }),
    'offers[1].available',
    '9',
    /0, or at least one pack of 10/,
  ],
  ['too many rails', set('frames', 0, { quantity: 250_000 }), 'frames', '1000016', /at most 1000000 rails/],
  [
    'too many rack pieces',
    set('sticks', 0, { quantity: 999_998 }),
    'sticks',
    '1000001',
    /at most 1000000 rack pieces/,
  ],
];

describe('refuses', () => {
  refusesEach(CROSS);
});

describe('the edges of what is allowed', () => {
  it.each<[string, (batch: Loose) => void]>([
    ['rabbet almost as wide as the face', set('mouldings', 0, { rabbet: 29.9 })],
    ['an opening of a hundredth', set('frames', 0, { width: 9.01 })],
    ['the longest length', set('sticks', 0, { length: '100 m' })],
    ['a flaw to both ends', set('sticks', 0, { flaws: [[0, 2400]] })],
    ['none available', set('offers', 1, { available: 0 })],
    ['exactly one pack', set('offers', 1, { available: 10 })],
    ['a break at the same price', set('offers', 0, { breaks: [{ from: 12, price: 12 }] })],
    ['the most rails', set('frames', 0, { quantity: 249_996 })],
    ['no kerf, as with a guillotine', (b) => Object.assign(b, { saw: { kerf: 0 } })],
    ['a whole night', (b) => Object.assign(b.options ?? {}, { timeLimit: 43_200 })],
    ['largest play equal to the play', set('frames', 0, { playMax: 3 })],
    ['a square as four equal sides', set('frames', 1, { sides: 4 })],
  ])('takes %s', (_, spoil) => {
    expect(complaints(spoiled(spoil))).toEqual([]);
  });
});

describe('a batch wrong in many places', () => {
  it('is refused for all of them at once, fields and cross checks alike', () => {
    const text = spoiled((batch) => {
      set('frames', 0, { width: -1, moulding: 'elm', colour: 'red', play: 5 })(batch);
      set('frames', 2, { id: 'F2' })(batch);
      set('mouldings', 0, { rabbet: 31 })(batch);
      set('sticks', 0, { length: 1050, quantity: 0 })(batch);
      Object.assign(batch, { units: 'furlong' });
    });
    const paths = complaints(text).map((problem) => problem.path);
    expect(new Set(paths)).toEqual(
      new Set([
        'units',
        'frames[0].width',
        'frames[0].moulding',
        'frames[0].colour',
        'frames[0].playMax',
        'frames[2].id',
        'mouldings[0].rabbet',
        'sticks[0].quantity',
        'sticks[0].flaws[0][1]',
      ]),
    );
    expect(paths).toHaveLength(9);
  });

  it('lists the first 200 problems and counts the others', () => {
    const wrong = (count: number) =>
      spoiled((batch) => Object.assign(batch, { gauges: Array.from({ length: count }, () => null) }));
    expect(complaints(wrong(200))).toHaveLength(200);
    const listed = complaints(wrong(1_500));
    expect(listed).toHaveLength(201);
    expect(listed[199]?.path).toBe('gauges[199]');
    expect(listed[200]).toEqual({
      path: '',
      given: '1500 problems',
      allowed: 'none; only the first 200 are listed',
    });
    expect(complaints(wrong(90_000)).at(-1)?.given).toBe('at least 10000 problems');
  });

  it('is a PS_BATCH error whose message says every problem in a line', () => {
    const text = spoiled(set('frames', 0, { width: -1, match: 'x' }));
    let caught: unknown;
    try {
      readBatch(text);
    } catch (error) {
      caught = error;
    }
    expect(caught).toBeInstanceOf(PairstopError);
    expect(caught).toMatchObject({ code: 'PS_BATCH' });
    expect(String(caught)).toMatch(
      /the batch is refused: 2 problems\nframes\[0\]\.width of ".*": given -1; allowed: .*\nframes\[0\]\.match of ".*": given "x"; allowed: /,
    );
  });
});
