/**
 * What an offcut's length is: along the outside edge, the one that rails have their long points on ("long point to long
 * point, i.e. along the outside edge"). The wood is drawn as polygons from the kerf and the angle alone. Of profiled stock
 * the saw leaves an offcut longer at the sight edge, by face · tan θ at each end that a rail was cut from: measured there,
 * wood would be counted twice, and a rail would be planned that is not there.
 */
import fc from 'fast-check';
import { expect, it } from 'vitest';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import type { PlannedStick } from '../../src/documents/plan/types.js';
import { cutEvent } from '../../src/rack/cutting.js';
import { planned } from '../plan/kit.js';
import { rackPiece } from '../tools/rack.js';
import { bladeOf, type Polygon, separation, type Trapezoid, woodOf } from '../tools/spoil-polygons.js';

const KERF = 3;
/** Places are whole micrometres, and the blade's width is rounded up to one. */
const ROUNDED = 0.0025;

interface Given {
  readonly face: number;
  readonly sides: number;
  readonly reversible: boolean;
  readonly size: number;
  readonly length: number;
  readonly flaw: number | null;
  readonly trim: number;
}

const given: fc.Arbitrary<Given> = fc.record({
  face: fc.integer({ min: 15, max: 60 }),
  sides: fc.constantFrom(3, 4, 6, 8),
  reversible: fc.boolean(),
  size: fc.integer({ min: 220, max: 420 }),
  length: fc.integer({ min: 1_400, max: 4_200 }),
  flaw: fc.option(fc.integer({ min: 300, max: 1_100 })),
  trim: fc.integer({ min: 0, max: 20 }),
});

function order(
  { face, sides, reversible, trim }: Given,
  size: number,
  stick: NonNullable<BatchDocument['sticks']>[number],
): BatchDocument {
  return {
    schema: 'pairstop/batch@1',
    id: 'wood',
    units: 'mm',
    saw: { kerf: KERF, recut: 1, stopStep: 1 },
    mouldings: [{ id: 'ash', face, rabbet: 0, reversible, endTrim: trim, keepOver: 120 }],
    frames: [{ id: 'A', moulding: 'ash', measuredBy: 'outside', sides, side: size }],
    sticks: [stick],
  };
}

const shapes = (stick: PlannedStick): Trapezoid[] =>
  stick.rails.map(({ start, length, flipped, angle }) => ({
    start,
    length,
    flipped,
    sides: Math.round(180 / angle),
  }));

/** The offcut between the cuts beside it, as it lies there: corners low left, low right, high right, high left. */
function drawn(
  stick: PlannedStick,
  { from, to }: { from: number; to: number },
  face: number,
  flaws: readonly (readonly [number, number])[],
) {
  const all = shapes(stick);
  const before = all
    .filter(({ start }) => start < from)
    .sort((a, b) => b.start + b.length - (a.start + a.length))[0];
  const after = all.filter(({ start }) => start >= to).sort((a, b) => a.start - b.start)[0];
  const flawBefore = flaws.findLast(([, end]) => end <= from)?.[1] ?? 0;
  const flawAfter = flaws.find(([start]) => start >= to)?.[0] ?? stick.length;
  // The far side of the blade: high, then low.
  const [, , farHigh, farLow] =
    before !== undefined && before.start + before.length > flawBefore
      ? bladeOf(before, face, KERF, 'right')
      : [];
  const [, , nearHigh, nearLow] =
    after !== undefined && after.start < flawAfter ? bladeOf(after, face, KERF, 'left') : [];
  return {
    lowLeft: farLow?.[0] ?? flawBefore,
    highLeft: farHigh?.[0] ?? flawBefore,
    lowRight: nearLow?.[0] ?? flawAfter,
    highRight: nearHigh?.[0] ?? flawAfter,
    mitredLeft: farLow !== undefined,
    mitredRight: nearLow !== undefined,
  };
}

it('is what lies there along the outside edge, and no rail is planned that is not in it', async () => {
  let [kept, mitred, used] = [0, 0, 0];
  await fc.assert(
    fc.asyncProperty(given, async (one) => {
      const { face, sides, reversible, size, length } = one;
      const flaws = one.flaw === null ? [] : [[one.flaw, one.flaw + 7] as const];
      const stick = { id: 'r1', moulding: 'ash', length, flaws: flaws.map(([a, b]) => [a, b]) };
      const document = order(one, size, stick as never);
      const plan = await planned(document);
      const [cut] = plan.mouldings[0]!.sticks;
      if (cut === undefined) return;
      const batch = checkBatch(document);
      const piece = rackPiece('r1', 'ash', length * 1000, {
        flaws: flaws.map(([a, b]) => [a * 1000, b * 1000]),
      });
      const event = cutEvent(
        {
          batch,
          cut: new Set(cut.rails.map(({ rail }) => rail)),
          spoiled: new Set(),
          taken: new Set(),
          place: null,
          recut: false,
        },
        { moulding: 'ash', stick: cut.stick, length, rails: cut.rails, lost: [], left: cut.left, offcut: 1 },
        { piece, state: { kind: 'reserved', batch: batch.id }, revision: '1-0' },
      );
      const offcuts = event?.offcuts ?? [];
      // Every micrometre once.
      const wood = (event?.wood ?? 0) + offcuts.reduce((sum, offcut) => sum + offcut.length, 0);
      expect(wood + (event?.waste ?? 0)).toBe(length * 1000);
      expect(event?.waste).toBeGreaterThanOrEqual(0);
      const lefts = cut.left.filter(({ use }) => use === 'offcut');
      expect(offcuts.map((offcut) => offcut.length)).toEqual(
        lefts.map((left) => Math.round(left.piece!.length * 1000)),
      );
      for (const [i, left] of lefts.entries()) {
        const offcut = offcuts[i]!;
        const { lowLeft, highLeft, lowRight, highRight, ...is } = drawn(cut, left, face, flaws);
        kept += 1;
        mitred += is.mitredLeft || is.mitredRight ? 1 : 0;
        expect(offcut.ends).toEqual([
          is.mitredLeft ? 'mitred' : lowLeft > 0 ? 'sawn' : 'raw',
          is.mitredRight ? 'mitred' : lowRight < length ? 'sawn' : 'raw',
        ]);
        const tape = offcut.length / 1000;
        const lean = face * Math.tan(Math.PI / sides);
        const [low, high] = [lowRight - lowLeft, highRight - highLeft];
        if (reversible) {
          // Either edge may be the outside one: what both have.
          const both = Math.min(lowRight, highRight) - Math.max(lowLeft, highLeft);
          expect(both - tape).toBeGreaterThanOrEqual(-1e-6);
          expect(both - tape).toBeLessThan(2 * ROUNDED);
        } else {
          expect(low - tape).toBeGreaterThanOrEqual(-1e-6);
          expect(low - tape).toBeLessThan(2 * ROUNDED);
          // The sight edge is longer, so a tape there would find wood that no rail can have.
          const ends = Number(is.mitredLeft) + Number(is.mitredRight);
          expect(high - low).toBeCloseTo(ends * lean, 6);
        }
        // Back on the rack, and planned from: every rail and its blade lie in the wood that is there.
        const from = is.mitredLeft ? Math.max(lowLeft, reversible ? highLeft : lowLeft) : lowLeft;
        const shape: Polygon = [
          [lowLeft - from, 0],
          [lowRight - from, 0],
          [highRight - from, face],
          [highLeft - from, face],
        ];
        const next = order(one, Math.max(40, Math.floor((tape - 60) / sides)), {
          id: 'o1',
          moulding: 'ash',
          length: tape,
          ends: [...offcut.ends],
        });
        // Some are too short for any frame of this face.
        const again = await planned(next).catch(() => null);
        used += again?.status === 'complete' ? 1 : 0;
        for (const rail of again?.mouldings[0]?.sticks[0] === undefined
          ? []
          : shapes(again.mouldings[0].sticks[0])) {
          for (const [x, y] of woodOf(rail, face)) {
            const share = y / face;
            const [leftmost, rightmost] = [
              shape[0]![0] + share * (shape[3]![0] - shape[0]![0]),
              shape[1]![0] + share * (shape[2]![0] - shape[1]![0]),
            ];
            expect(x).toBeGreaterThanOrEqual(leftmost - 1e-6);
            expect(x).toBeLessThanOrEqual(rightmost + 1e-6);
          }
        }
        for (const rail of shapes(cut)) {
          const full: Polygon = [
            [left.from, 0],
            [left.to, 0],
            [left.to, face],
            [left.from, face],
          ];
          expect(separation(full, woodOf(rail, face))).toBeGreaterThanOrEqual(-1e-6);
        }
      }
    }),
    { seed: 16, numRuns: 120 },
  );
  expect(kept).toBeGreaterThan(60);
  expect(mitred).toBeGreaterThan(30);
  expect(used).toBeGreaterThan(20);
}, 60_000);

it('would promise, measured at the sight edge, a rail that does not fit', async () => {
  const profiled: Given = {
    face: 40,
    sides: 4,
    reversible: false,
    size: 300,
    length: 1_600,
    flaw: null,
    trim: 0,
  };
  const plan = await planned(order(profiled, 300, { id: 'r1', moulding: 'ash', length: 1_600 }));
  const [stick] = plan.mouldings[0]!.sticks;
  const left = stick!.left.find(({ use }) => use === 'offcut');
  const { lowLeft, highLeft } = drawn(stick!, left!, 40, []);
  expect(lowLeft - highLeft).toBeCloseTo(40, 6);
  const tape = left!.piece!.length;
  // Four rails, three joints, and the corner the saw is brought back onto: more than is there, less than the sight edge.
  const size = Math.floor((tape - 3 * (4.243 + 1) - 1) / 4) + 5;
  const as = (length: number) =>
    planned(order(profiled, size, { id: 'o1', moulding: 'ash', length, ends: ['mitred', 'raw'] }));
  expect((await as(tape + 40)).status).toBe('complete');
  expect((await as(tape)).status).toBe('short');
});
