import { describe, expect, it } from 'vitest';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { exact, toNumber } from '../../src/lengths/exact.js';
import { bladeUm, mitreAngle, needAcross, reachUm } from '../../src/rails/mitre.js';
import { railsOf, settingFor } from '../../src/rails/rails.js';
import { dice } from '../plan/batches.js';

function batchOf(
  frame: Partial<BatchDocument['frames'][number]>,
  moulding: Partial<BatchDocument['mouldings'][number]> = {},
  extra: Partial<BatchDocument> = {},
) {
  const document = {
    schema: 'pairstop/batch@1',
    id: 'rails',
    units: 'mm',
    mouldings: [{ id: 'm', face: 20, rabbet: 0, ...moulding }],
    frames: [{ id: 'f', moulding: 'm', ...frame }],
    offers: [{ id: 'o', moulding: 'm', length: '12 m' }],
    ...extra,
  };
  return checkBatch(document);
}

/** Outside lengths, in millimetres, in the order width, height. */
function settings(...given: Parameters<typeof batchOf>): readonly number[] {
  const batch = batchOf(...given);
  return railsOf(batch, 0, batch.mouldings[0]!).map((rail) => rail.setting / 1000);
}

describe('rails of rectangles', () => {
  // ISO 216: A0 841×1189, A1 594×841, A2 420×594, A3 297×420, A4 210×297, A5 148×210 mm.
  const ISO_216 = [
    [841, 1189],
    [594, 841],
    [420, 594],
    [297, 420],
    [210, 297],
    [148, 210],
  ] as const;

  it.each(ISO_216)('frames ISO 216 glass of %i × %i mm', (width, height) => {
    // By hand: outside = glass + play − 2·rabbet + 2·face = glass + 3 − 12 + 40.
    const play = '3 mm';
    expect(settings({ width, height, play }, { rabbet: 6 })).toEqual([width + 31, height + 31]);
  });

  // Suppliers' rule for the moulding of one frame, no rabbet and no play: 2(w + h) + 8·face.
  it('needs 1952 mm for 305 × 407 mm with a face of 66 mm', () => {
    const [width = 0, height = 0] = settings({ width: 305, height: 407, play: 0 }, { face: 66 });
    expect(2 * (width + height)).toBe(1952);
  });

  it.each(ISO_216)('keeps the footage rule for %i × %i mm', (width, height) => {
    for (const face of [12, 33.5, 66]) {
      const [a = 0, b = 0] = settings({ width, height, play: 0 }, { face });
      expect(2 * (a + b)).toBe(2 * (width + height) + 8 * face);
    }
  });

  it('gives one frame the same rails from its glass, rabbet, sight or outside size', () => {
    const moulding = { face: 31, rabbet: 6 };
    const by = (measuredBy: 'glass' | 'rabbet' | 'sight' | 'outside', width: number, height: number) =>
      settings({ measuredBy, width, height, play: 3 }, moulding);
    // Glass 200 × 300: rabbet 203 × 303, sight 191 × 291, outside 253 × 353.
    expect(by('glass', 200, 300)).toEqual([253, 353]);
    expect(by('rabbet', 203, 303)).toEqual([253, 353]);
    expect(by('sight', 191, 291)).toEqual([253, 353]);
    expect(by('outside', 253, 353)).toEqual([253, 353]);
  });

  it('names the sides of each length', () => {
    const batch = batchOf({ width: 100, height: 200 });
    const rails = railsOf(batch, 0, batch.mouldings[0]!);
    expect(rails.map((rail) => rail.sides)).toEqual([
      ['top', 'bottom'],
      ['right', 'left'],
    ]);
  });
});

describe('the stop step', () => {
  it('keeps 16 1/8 in on its step of 1/32 in', () => {
    const [width] = settings(
      { measuredBy: 'outside', width: '16 1/8 in', height: '20 in' },
      {},
      { saw: { stopStep: '1/32 in' } },
    );
    expect(width).toBe(409.575);
  });

  it('keeps every mark of an inch scale, whatever its own rounding to micrometres', () => {
    for (let n = 64; n < 64 * 40; n++) {
      const mark = exact(BigInt(n) * 25_400n, 32n);
      const setting = settingFor(needAcross(mark, exact(0n), 4), exact(25_400n, 32n));
      expect(setting - toNumber(mark)).toBeGreaterThanOrEqual(0);
      expect(setting - toNumber(mark)).toBeLessThan(1);
    }
  });

  it('rounds up to the next step and no further', () => {
    const at = dice('the next step');
    for (let i = 0; i < 2000; i++) {
      const step = exact(BigInt(at.whole(128, 40_000)), BigInt(at.pick([1, 2, 3, 7, 64])));
      const need = at.whole(1, 3_000_000);
      const setting = settingFor(need, step);
      const n = Math.round(setting / toNumber(step));
      expect(setting).toBeGreaterThanOrEqual(need);
      expect(setting).toBe(Math.ceil((n * Number(step.num)) / Number(step.den)));
      expect(Math.ceil(((n - 1) * Number(step.num)) / Number(step.den))).toBeLessThan(need);
    }
  });
});

describe('regular frames', () => {
  // Geometry: the mitre is 180°/n.
  it.each([
    [4, 45],
    [5, 36],
    [6, 30],
    [8, 22.5],
  ])('cuts a ring of %i at %f°', (sides, angle) => expect(mitreAngle(sides)).toBe(angle));

  it('widens by the face on every side of the ring', () => {
    // Geometry of a regular n-gon: side = 2·apothem·tan(π/n); the face widens the apothem, so sides grow by 2F·tan.
    for (const sides of [3, 5, 6, 7, 8, 12]) {
      const [setting = 0] = settings({ measuredBy: 'sight', sides, side: 100 }, { face: 20 });
      const tan = Math.tan(Math.PI / sides);
      const apothem = 100 / (2 * tan) + 20;
      const outside = 2 * apothem * tan;
      expect(setting).toBeGreaterThanOrEqual(outside);
      expect(setting - outside).toBeLessThan(0.5);
    }
  });

  it('gives a ring of four equal sides the rails of a square', () => {
    const [ring] = settings({ sides: 4, side: 200 }, { rabbet: 5 });
    expect(settings({ width: 200, height: 200 }, { rabbet: 5 })).toEqual([ring, ring]);
  });

  it('lists all sides of the ring', () => {
    const batch = batchOf({ sides: 5, side: 100 });
    const [rail] = railsOf(batch, 0, batch.mouldings[0]!);
    expect(rail?.sides).toEqual(['side1', 'side2', 'side3', 'side4', 'side5']);
  });
});

describe('the blade along the stick', () => {
  // Geometry: a kerf square to the blade takes k/cos θ; at 45° k·√2, 1/8 in → 0.1768 in, 3/32 in → 0.1326 in.
  it.each([
    [exact(3175n), 0.1768],
    [exact(3n * 25_400n, 32n), 0.1326],
  ])('takes k·√2 at 45°', (kerf, inches) => expect(bladeUm(kerf, 4) / 25_400).toBeCloseTo(inches, 4));

  it('rounds up by less than a micrometre', () => {
    const at = dice('blade');
    for (let i = 0; i < 500; i++) {
      const sides = at.pick([3, 4, 5, 6, 8, 12]);
      const kerf = exact(BigInt(at.whole(0, 6_000_000)), BigInt(at.pick([1, 32, 1000])));
      const over = bladeUm(kerf, sides) - toNumber(kerf) / Math.cos(Math.PI / sides);
      expect(over).toBeGreaterThanOrEqual(-1e-6);
      expect(over).toBeLessThan(1.000_01);
    }
  });

  it('is exact where cos θ is: 60° doubles the kerf', () => {
    expect(bladeUm(exact(3175n), 3)).toBe(6350);
    expect(bladeUm(exact(0n), 5)).toBe(0);
  });

  it('brackets F·tan θ', () => {
    const face = exact(31_750n);
    expect(reachUm(face, 4)).toEqual({ down: 31_750, up: 31_750 });
    for (const sides of [3, 5, 6, 8]) {
      const { down, up } = reachUm(face, sides);
      const reach = 31_750 * Math.tan(Math.PI / sides);
      expect(down).toBe(Math.floor(reach));
      expect(up).toBe(Math.ceil(reach));
    }
  });
});
