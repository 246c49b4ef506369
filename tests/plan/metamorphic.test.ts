/** What must not change a plan's quality, or may only better it. Only proven values are compared. */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { dice } from './batches.js';
import { planned, steppedClock } from './kit.js';

const ROUNDS = 12;
/** Milliseconds a reading of the stepped clock takes. */
const STEP = 50;
const UM_PER_INCH = 25_400;

type Offers = NonNullable<BatchDocument['offers']>;

/** A batch whose lengths are whole numbers of `unit`, given as text that means the same in either unit. */
function batch(name: string, write: (sixteenths: number) => string): BatchDocument {
  const at = dice(name);
  const length = (low: number, high: number): string => write(at.whole(low * 16, high * 16));
  const reversible = at.chance(0.4);
  const offers: Offers = Array.from({ length: at.whole(1, 3) }, (_, i) => ({
    id: `o${i}`,
    moulding: 'm',
    length: length(80, 150),
    price: at.whole(500, 3000) / 100,
  }));
  return {
    schema: 'pairstop/batch@1',
    id: name,
    units: 'in',
    saw: { kerf: write(2), recut: write(1), stopStep: write(1) },
    mouldings: [{ id: 'm', face: write(20), rabbet: 0, reversible, endTrim: write(8) }],
    frames: Array.from({ length: at.whole(2, 5) }, (_, i) => ({
      id: `f${i}`,
      moulding: 'm',
      quantity: at.whole(1, 6),
      width: length(6, 20),
      height: length(6, 20),
      match: at.pick(['stop', 'stop', 'pair', 'frame'] as const),
    })),
    sticks: at.chance(0.5)
      ? [{ id: 'r', moulding: 'm', length: length(30, 90), quantity: at.whole(1, 3) }]
      : [],
    offers,
    options: { timeLimit: 4 },
  };
}

const inches = (sixteenths: number): string => `${Math.floor(sixteenths / 16)} ${sixteenths % 16}/16 in`;
const millimetres = (sixteenths: number): string => `${(sixteenths * UM_PER_INCH) / 16 / 1000} mm`;

/** What is proven of the least cost: it lies between these. Equal where the plan is proven optimal. */
interface Proven {
  readonly bound: number;
  readonly value: number;
}

let optimal = 0;
let all = 0;

async function cost(document: BatchDocument): Promise<Proven> {
  const { proof } = (await planned(document)).mouldings[0]!;
  all += 1;
  if (proof.status === 'optimal') optimal += 1;
  return proof;
}

function expectEqual(a: Proven, b: Proven): void {
  expect(a.bound).toBeLessThanOrEqual(b.value);
  expect(b.bound).toBeLessThanOrEqual(a.value);
}

function expectNoDearer(after: Proven, before: Proven): void {
  expect(after.bound).toBeLessThanOrEqual(before.value);
}

describe.each(Array.from({ length: ROUNDS }, (_, i) => `metamorphic ${i}`))('%s', (name) => {
  const base = batch(name, inches);
  let before: Proven = { bound: 0, value: 0 };

  beforeAll(async () => {
    before = await cost(base);
  });

  it('gives the same plan, byte for byte, a second time', async () => {
    const plans = [await planned(base, steppedClock(STEP)), await planned(base, steppedClock(STEP))];
    expect(JSON.stringify(plans[0])).toBe(JSON.stringify(plans[1]));
  });

  it('costs the same with the frames in another order, or a line split in two', async () => {
    expectEqual(await cost({ ...base, frames: base.frames.toReversed() }), before);
    const [first, ...rest] = base.frames;
    const quantity = first?.quantity ?? 1;
    if (first === undefined || quantity < 2) return;
    const split = [{ ...first, quantity: 1 }, ...rest, { ...first, id: 'again', quantity: quantity - 1 }];
    expectEqual(await cost({ ...base, frames: split }), before);
  });

  it('costs the same in millimetres', async () => {
    expectEqual(await cost(batch(name, millimetres)), before);
  });

  it('never costs more for a further offer or rack piece, or less for a dearer one', async () => {
    const [offer] = base.offers ?? [];
    if (offer === undefined) throw new Error('a batch without offers');
    const dearer = { ...offer, id: 'dearer', price: (offer.price ?? 0) + 1 };
    expectEqual(await cost({ ...base, offers: [...(base.offers ?? []), dearer] }), before);
    const longer = { ...offer, id: 'longer', length: '13 ft' };
    expectNoDearer(await cost({ ...base, offers: [...(base.offers ?? []), longer] }), before);
    const rack = { id: 'more', moulding: 'm', length: '40 in' };
    expectNoDearer(await cost({ ...base, sticks: [...(base.sticks ?? []), rack] }), before);
  });
});

afterAll(() => {
  // Intervals that are not points would let a worse plan pass.
  if (optimal < 0.8 * all) throw new Error(`only ${optimal} of ${all} plans were proven optimal`);
});
