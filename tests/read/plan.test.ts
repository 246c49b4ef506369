import { Ajv2020 } from 'ajv/dist/2020.js';
import { describe, expect, it } from 'vitest';
import { batchJsonSchema } from '../../src/documents/batch/schema.js';
import { readPlan } from '../../src/documents/plan/read.js';
import { planJsonSchema } from '../../src/documents/plan/schema.js';
import type { Plan } from '../../src/documents/plan/types.js';
import { PairstopError } from '../../src/errors.js';
import { EXAMPLE, type Loose, sample } from './samples.js';

/** The shape of the contract's example plan, its numbers not those of a real one. */
const PLAN: Plan = {
  schema: 'pairstop/plan@1',
  batch: 'lakeside-spring',
  units: 'in',
  status: 'complete',
  mouldings: [
    {
      moulding: 'ash-cap',
      status: 'complete',
      proof: { status: 'optimal', measure: 'cost', value: 187.2, bound: 187.2 },
      sticks: [
        {
          stick: 'r17/1',
          source: 'rack',
          ref: 'r17',
          length: 1555.75,
          rails: [
            {
              rail: 'A-101/3/top',
              frame: 'A-101/3',
              side: 'top',
              start: 12.7,
              length: 558.8,
              angle: 45,
              flipped: false,
            },
          ],
          left: [{ from: 1131.2, to: 1543.05, use: 'offcut' }],
        },
      ],
      stops: [
        {
          setting: 558.8,
          second: null,
          gauge: null,
          pairs: [{ frame: 'A-101/3', rails: ['A-101/3/top', 'A-101/3/bottom'] }],
        },
      ],
    },
  ],
  buy: [{ moulding: 'ash-cap', offer: 'ash-10', count: 8, cost: 187.2 }],
  totals: {
    sticks: 9,
    stockLength: 0,
    railLength: 0,
    offcutLength: 0,
    wasteLength: 0,
    yield: 0.91,
    cost: 187.2,
    stopSettings: 4,
    cuts: 96,
  },
  shortfall: [{ moulding: 'ash-cap', frames: ['A-101/4'], needs: 2000, cost: null }],
  notices: [{ code: 'PS_SHORT_RAILS', message: 'Clamp it.', path: 'frames[3]' }],
};

/** With the figures of handling and merging, which older plans do not have. */
function withFigures(): Plan {
  const handling = { visits: 9, layouts: 3, splitPairs: 1, offcuts: 2 };
  const way = { stopSettings: 4, sticks: 9, stockLength: 21945.6, cost: 187.2, bound: 180 };
  const merging = { unmerged: { ...way, stopSettings: 7 }, merged: way, leastSettings: 4, choices: 2 };
  return {
    ...PLAN,
    mouldings: PLAN.mouldings.map((part) => ({
      ...part,
      unplanned: { code: 'PS_SOLVER', message: 'it ended' },
      handling,
      merging,
    })),
    totals: { ...PLAN.totals, handling, unmerged: { stopSettings: 7, cost: 187.2 } },
  };
}

describe('readPlan', () => {
  it('gives back the figures of handling and merging, and refuses others', () => {
    const plan = withFigures();
    expect(readPlan(JSON.stringify(plan))).toEqual(plan);
    const text = JSON.stringify(plan)
      .replace('"splitPairs":1', '"splitPairs":-1')
      .replace('"choices":2', '"tried":2');
    expect(() => readPlan(text)).toThrow(/handling\.splitPairs: given -1/);
    expect(() => readPlan(text)).toThrow(/merging\.tried/);
  });

  it('gives back the plan that was written', () => {
    expect(readPlan(JSON.stringify(PLAN))).toEqual(PLAN);
    expect(readPlan(new TextEncoder().encode(JSON.stringify(PLAN, null, 2)))).toEqual(PLAN);
  });

  it('refuses every problem at once, each with its path', () => {
    const recut = JSON.stringify({ schema: 'pairstop/recut@1', lost: [], mouldings: [{}] });
    expect(() => readPlan(recut)).toThrow(
      /^the plan is refused: one problem\nschema: given "pairstop\/recut@1"; allowed: "pairstop\/plan@1"$/,
    );
    const plan = JSON.parse(JSON.stringify(PLAN)) as Loose;
    Object.assign(plan, { status: 'done', extra: 1 });
    Object.assign(plan.mouldings?.[0]?.sticks?.[0]?.rails?.[0] ?? {}, { length: -1, flipped: undefined });
    Object.assign(plan.totals ?? {}, { cuts: 1.5 });
    let caught: unknown;
    try {
      readPlan(JSON.stringify(plan));
    } catch (error) {
      caught = error;
    }
    expect(caught).toBeInstanceOf(PairstopError);
    expect(caught).toMatchObject({
      code: 'PS_PLAN',
      problems: [
        { path: 'extra', given: '1' },
        {
          path: 'status',
          given: '"done"',
          allowed: expect.stringContaining('"complete" or "short"') as string,
        },
        { path: 'mouldings[0].sticks[0].rails[0].length', given: '-1' },
        { path: 'mouldings[0].sticks[0].rails[0].flipped', given: 'nothing' },
        { path: 'totals.cuts', given: '1.5' },
      ],
    });
  });

  it.each(['', '{', '[]', 'null', '[[', '{"a":1,"a":1}', JSON.stringify(sample())])('refuses %j', (text) => {
    expect(() => readPlan(text)).toThrow(PairstopError);
  });
});

/** Ajv, a validator of JSON Schema (draft 2020-12) that is not ours. */
function validator(schema: object) {
  return new Ajv2020({
    strict: true,
    strictRequired: false,
    allErrors: true,
    formats: { date: true, 'date-time': true },
  }).compile(schema);
}

describe('the exported JSON Schemas, tried with Ajv', () => {
  const batch = validator(batchJsonSchema());
  const plan = validator(planJsonSchema());

  it('take the documents that are read', () => {
    expect(batch(JSON.parse(EXAMPLE))).toBe(true);
    expect(batch(sample())).toBe(true);
    expect(plan(PLAN)).toBe(true);
    expect(plan(withFigures())).toBe(true);
    expect(plan({ ...PLAN, totals: { ...PLAN.totals, unmerged: {} } })).toBe(false);
  });

  it.each<[string, (document: Loose) => void]>([
    ['an unknown key', (b) => Object.assign(b, { colour: 1 })],
    ['an unknown key of a frame', (b) => Object.assign(b.frames?.[0] ?? {}, { colour: 1 })],
    ['no frames', (b) => Object.assign(b, { frames: [] })],
    ['a width that is true', (b) => Object.assign(b.frames?.[0] ?? {}, { width: true })],
    ['a negative width', (b) => Object.assign(b.frames?.[0] ?? {}, { width: -1 })],
    ['both forms of a frame', (b) => Object.assign(b.frames?.[0] ?? {}, { sides: 4, side: 9 })],
    ['a size too many', (b) => Object.assign(b.frames?.[0] ?? {}, { side: 9 })],
    ['half a size', (b) => Object.assign(b.frames?.[0] ?? {}, { width: undefined })],
    ['a wrong word', (b) => Object.assign(b.frames?.[0] ?? {}, { match: 'none' })],
    ['a flaw of one end', (b) => Object.assign(b.sticks?.[0] ?? {}, { flaws: [[1]] })],
    ['a flaw of three ends', (b) => Object.assign(b.sticks?.[0] ?? {}, { flaws: [[1, 2, 3]] })],
  ])('refuse %s', (_, spoil) => {
    const document = sample();
    spoil(document);
    expect(batch(JSON.parse(JSON.stringify(document)))).toBe(false);
  });

  it('refuse a plan that is not one', () => {
    expect(plan({ ...PLAN, units: 'ft' })).toBe(false);
    expect(plan({ ...PLAN, totals: {} })).toBe(false);
  });

  it('say what every field of a batch allows, and the defaults of the contract', () => {
    const text = JSON.stringify(batchJsonSchema());
    for (const said of [
      '"default":"1/8 in"',
      '"default":"12 in"',
      '"default":"glass"',
      '0.5 mm in mm batches',
    ]) {
      expect(text).toContain(said);
    }
    const { properties } = batchJsonSchema();
    for (const field of Object.values(properties as Record<string, { description?: string }>)) {
      expect(field.description).toBeTruthy();
    }
  });
});
