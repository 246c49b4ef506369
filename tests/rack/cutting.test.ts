/** What cutting, receiving and counting make of a rack: places, ends and wood reckoned by hand. */
import { describe, expect, it } from 'vitest';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { PlacedRail, Plan } from '../../src/documents/plan/types.js';
import { countOf } from '../../src/rack/counting.js';
import { type CutStickOf, cutEvent } from '../../src/rack/cutting.js';
import { another, offcutId, pieceCode, pieceIdOf } from '../../src/rack/names.js';
import { receiving } from '../../src/rack/receiving.js';
import type { PieceState, Shelved } from '../../src/rack/terms.js';
import { rackPiece } from '../tools/rack.js';
import { shopBatch } from '../tools/shop.js';

const batch = checkBatch(shopBatch('B', ['ash']));
const rail = (id: string, start: number, length: number): PlacedRail => ({
  rail: id,
  frame: 'A/1',
  side: 'top',
  start,
  length,
  angle: 45,
  flipped: false,
});
/** Two rails on a piece of 1,500 mm with a trim of 10: the second ends at 814.243, and a blade of 4.243 after it. */
const stick: CutStickOf = {
  moulding: 'ash',
  stick: 'r1/1',
  length: 1_500,
  rails: [rail('A/1/top', 10, 400), rail('A/1/bottom', 414.243, 400)],
  lost: [],
  left: [{ from: 818.486, to: 1_490, use: 'offcut' }],
  offcut: 3,
};
const shelved = (
  state: PieceState,
  more: Parameters<typeof rackPiece>[3] = {},
  length = 1_500_000,
): Shelved => ({
  piece: rackPiece('r1', 'ash', length, more),
  state,
  revision: '1-0',
});
const RESERVED: PieceState = { kind: 'reserved', batch: 'B' };
const told = (cut: readonly string[], spoiled: readonly string[] = [], taken: readonly string[] = []) => ({
  batch,
  cut: new Set(cut),
  spoiled: new Set(spoiled),
  taken: new Set(taken),
  place: null,
  recut: false,
});
const ALL = ['A/1/top', 'A/1/bottom'];

describe('cutting', () => {
  it('leaves an offcut as a tape finds it: mitred where it was cut, out to the untouched end', () => {
    const event = cutEvent(told(ALL), stick, shelved(RESERVED));
    expect(event).toMatchObject({ wood: 800_000, done: true, rails: ALL });
    expect(event?.offcuts).toMatchObject([
      { id: 'B/o3', length: 1_500_000 - 818_486, ends: ['mitred', 'raw'] },
    ]);
    expect(event?.waste).toBe(1_500_000 - 800_000 - 681_514);
  });

  it('goes by the piece as it is, not as it was planned', () => {
    const shorter = cutEvent(told(ALL), stick, shelved(RESERVED, {}, 1_200_000));
    expect(shorter?.offcuts).toMatchObject([{ length: 1_200_000 - 818_486 }]);
    // Less than the 250 mm worth keeping.
    expect(cutEvent(told(ALL), stick, shelved(RESERVED, {}, 1_000_000))?.offcuts).toEqual([]);
    expect(() => cutEvent(told(ALL), stick, shelved(RESERVED, {}, 800_000))).toThrow(
      /A\/1\/bottom does not fit/,
    );
    const flawed = shelved(RESERVED, { flaws: [[500_000, 501_000]] });
    expect(() => cutEvent(told(ALL), stick, flawed)).toThrow(/A\/1\/bottom does not fit/);
  });

  it('saws an offcut off at a flaw', () => {
    const flaws = [[1_300_000, 1_320_000]] as const;
    const left = [{ from: 818.486, to: 1_300, use: 'offcut' }] as const;
    const event = cutEvent(told(ALL), { ...stick, left }, shelved(RESERVED, { flaws }));
    expect(event?.offcuts).toMatchObject([{ length: 1_300_000 - 818_486, ends: ['mitred', 'sawn'] }]);
  });

  it('begins a piece, and counts no rail twice', () => {
    const first = cutEvent(told(['A/1/top']), stick, shelved(RESERVED));
    expect(first).toMatchObject({ wood: 400_000, waste: 0, offcuts: [], done: false });
    const begun: PieceState = { kind: 'begun', batch: 'B', left: 1_100_000, rails: ['A/1/top'], spoiled: [] };
    expect(cutEvent(told(['A/1/top']), stick, shelved(begun))).toBeNull();
    const rest = cutEvent(told(ALL), stick, shelved(begun));
    expect(rest).toMatchObject({ rails: ['A/1/bottom'], wood: 400_000, done: true });
    expect(rest?.waste).toBe(1_100_000 - 400_000 - 681_514);
  });

  it('counts a spoiled rail as waste, and its replacement as a rail', () => {
    const event = cutEvent(told(ALL, ['A/1/bottom']), stick, shelved(RESERVED));
    expect(event).toMatchObject({ rails: ['A/1/top'], spoiled: ['A/1/bottom'], wood: 400_000, done: true });
    const again: CutStickOf = {
      ...stick,
      rails: [rail('A/1/top', 10, 400), rail('A/1/bottom', 819.486, 400)],
      lost: [rail('A/1/bottom', 414.243, 400)],
      left: [],
    };
    const lost = cutEvent(told(['A/1/top']), again, shelved(RESERVED));
    expect(lost).toMatchObject({ rails: ['A/1/top'], spoiled: ['A/1/bottom'], done: false });
    const begun: PieceState = {
      kind: 'begun',
      batch: 'B',
      left: 1_100_000,
      rails: ['A/1/top'],
      spoiled: ['A/1/bottom'],
    };
    expect(cutEvent(told(ALL), again, shelved(begun))).toMatchObject({
      rails: ['A/1/bottom'],
      spoiled: [],
      wood: 400_000,
      done: true,
    });
  });

  it('gives an offcut another name where the rack has had that one', () => {
    const event = cutEvent(told(ALL, [], ['B/o3', 'B/o3~2']), stick, shelved(RESERVED));
    expect(event?.offcuts.map(({ id }) => id)).toEqual(['B/o3~3']);
  });
});

describe('names', () => {
  it('go through the code of a label and back, whatever is in them', () => {
    for (const id of ['r17', 'B/o3', 'Gräfin "½" 100 %', 'a%2Fb']) expect(pieceIdOf(pieceCode(id))).toBe(id);
    expect(pieceCode('B/o3')).toBe('pairstop:rack/B%2Fo3');
    expect(pieceIdOf(' r17 ')).toBe('r17');
  });

  it('stay within what an id may hold, and apart', () => {
    const long = 'x'.repeat(128);
    const names = [
      offcutId(long, 1),
      offcutId(long, 2),
      another(offcutId(long, 1), 2),
      offcutId(`${long}y`, 1),
    ];
    expect(new Set(names).size).toBe(4);
    for (const name of names) expect(name.length).toBeLessThanOrEqual(128);
  });
});

describe('receiving', () => {
  const line = { batch: 'B', offer: 'ash-24', moulding: 'ash', length: 2_400_000, count: 3 };
  const plan = {
    mouldings: [
      {
        moulding: 'ash',
        sticks: [
          { stick: 'ash-24/1', source: 'offer', ref: 'ash-24', rails: [rail('A/1/top', 10, 2_300)] },
          { stick: 'ash-24/2', source: 'offer', ref: 'ash-24', rails: [rail('A/1/left', 10, 900)] },
        ],
      },
    ],
  } as unknown as Plan;

  it('gives a poor stick to the rails that need least', () => {
    const [short] = receiving(line, plan, { count: 1, length: 2_000_000 }, new Set());
    expect(short).toMatchObject({
      stick: 'ash-24/2',
      fits: true,
      piece: { id: 'B/ash-24/2', length: 2_000_000 },
    });
    const [useless] = receiving(line, plan, { count: 1, length: 500_000 }, new Set());
    expect(useless).toMatchObject({ fits: false });
  });

  it('leaves what a pack brings beyond the plan free', () => {
    const sticks = receiving(line, plan, { count: 3 }, new Set()).map(({ piece, stick }) => [
      piece.id,
      stick,
    ]);
    expect(sticks).toEqual([
      ['B/ash-24/1', 'ash-24/1'],
      ['B/ash-24/2', 'ash-24/2'],
      ['B/ash-24/3', null],
    ]);
  });
});

describe('a stocktaking', () => {
  const there = [
    shelved({ kind: 'free' }),
    { ...shelved(RESERVED), piece: rackPiece('r2', 'ash', 900_000, { place: 'wall' }) },
    { ...shelved({ kind: 'gone' }), piece: rackPiece('r3', 'oak', 700_000) },
  ];

  it('tells what is missing, found, longer and elsewhere, and settles just that', () => {
    const counted = [
      { id: 'r2', length: 901_000, place: 'floor' },
      { id: 'r3' },
      { id: 'new', moulding: 'oak', length: 5 },
      { id: 'what' },
      { id: 'r2' },
    ];
    const { count, happenings } = countOf(there, counted, {});
    expect(count).toEqual({
      right: 0,
      missing: [{ id: 'r1', length: 1_500_000, batch: null }],
      found: [
        { id: 'r3', as: 'r3~2', length: 700_000 },
        { id: 'new', as: 'new', length: 5 },
      ],
      measured: [{ id: 'r2', was: 900_000, is: 901_000, batch: 'B' }],
      moved: [{ id: 'r2', from: 'wall', to: 'floor' }],
      unclear: ['what'],
      odd: [{ id: 'r2', what: 'counted more than once' }],
    });
    expect(happenings.map(({ kind }) => kind)).toEqual(['edited', 'added', 'added', 'removed']);
  });

  it('misses nothing outside what was counted', () => {
    expect(countOf(there, [], { moulding: 'oak' }).happenings).toEqual([]);
    expect(countOf(there, [], { place: 'wall' }).count.missing.map(({ id }) => id)).toEqual(['r2']);
  });

  it('does not believe that an offcut has grown: the sight edge was measured', () => {
    const offcut = rackPiece('B/o1', 'ash', 400_000, {
      ends: ['mitred', 'raw'],
      from: { kind: 'offcut', batch: 'B', of: 'r1' },
    });
    const known = [{ ...shelved({ kind: 'free' }), piece: offcut }];
    const counted = (length: number) => countOf(known, [{ id: 'B/o1', length, place: 'wall' }], {});
    const { count, happenings } = counted(430_000);
    expect(count.odd).toEqual([
      { id: 'B/o1', what: expect.stringMatching(/does not grow by 30 mm.*outside edge/) },
    ]);
    expect(count.measured).toEqual([]);
    expect(happenings).toEqual([{ kind: 'moved', piece: 'B/o1', place: 'wall' }]);
    // Shorter, or by as much as a cut may be out, it is believed.
    for (const length of [390_000, 405_000]) expect(counted(length).count.measured).toHaveLength(1);
    const sawn = { ...offcut, ends: ['sawn', 'raw'] as const };
    expect(countOf([{ ...known[0]!, piece: sawn }], [{ id: 'B/o1', length: 430_000 }], {}).count.odd).toEqual(
      [],
    );
  });
});
