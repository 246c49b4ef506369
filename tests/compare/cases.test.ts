/** Comparisons of several mouldings, where there is little or nothing to choose, and their document, page and chart. */
import { Ajv2020 } from 'ajv/dist/2020.js';
import { describe, expect, it } from 'vitest';
import { checkClaims } from '../../src/check/comparison/comparison.js';
import { compareHere } from '../../src/compare/here.js';
import { ruleOfThumb } from '../../src/compare/trials/footage.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { checkComparisonDocument } from '../../src/documents/comparison/read.js';
import { comparisonJsonSchema } from '../../src/documents/comparison/schema.js';
import { showComparison } from '../../src/show/comparison.js';
import { comparisonSvg } from '../../src/show/comparison-chart.js';
import { engine } from '../plan/kit.js';
import { cents, compared, leastCost, ORDER, offering, one, priced, under } from './kit.js';

describe('the rule of thumb', () => {
  it('is what suppliers print: 305 × 407 mm with a face of 66 mm takes 1952 mm', () => {
    // 2(w+h) + 8·face: geometry; moulding suppliers print the same rule.
    const batch = checkBatch({
      ...ORDER,
      units: 'mm',
      mouldings: [{ id: 'ash', face: 66, rabbet: 6 }],
      frames: [{ id: 'A', moulding: 'ash', width: 305, height: 407 }],
    });
    expect(ruleOfThumb(batch.frames[0]!, batch.mouldings[0]!)).toBe(1_952_000);
  });

  it('stands beside what the plan takes', async () => {
    const { footage, recommendation } = await one(ORDER);
    const net = (3 * (2 * 36 + 10) + 2 * (2 * 54 + 10)) * 25.4;
    expect(footage.net).toBeCloseTo(net, 2);
    expect(footage.length).toBeCloseTo(net * 1.15, 2);
    const lengths: Readonly<Record<string, number>> = { eight: 2438.4, ten: 3048, twelve: 3657.6 };
    const planned = recommendation.buy.reduce((sum, { offer, count }) => sum + count * lengths[offer]!, 0);
    expect(footage.planned).toBeCloseTo(planned, 2);
    expect(footage.off).toBeCloseTo((net * 1.15) / planned - 1, 3);
  });
});

describe('what may be offered', () => {
  it('an offer too short for some rail is a scenario that is short, with the order lines', async () => {
    const offers = [...ORDER.offers!, { id: 'two', moulding: 'ash', length: '2 ft', price: 3 }];
    const comparison = await compared(offering(ORDER, offers));
    const alone = comparison.mouldings[0]!.scenarios.find(
      ({ offers: ids }) => ids.length === 1 && ids[0] === 'two',
    );
    expect(alone).toMatchObject({ status: 'short', short: { why: 'tooLong', frames: ['B'] }, proof: null });
    expect(comparison.status).toBe('complete');
    expect(showComparison(checkBatch(offering(ORDER, offers)), comparison)).toContain('too short for B');
  });

  it('says so where every frame is skipped, since nothing can hold one', async () => {
    const wide = { id: 'C', moulding: 'ash', width: 20, height: 200 };
    const document = under({ skipImpossible: true }, { ...ORDER, frames: [wide] });
    await expect(compared(document)).rejects.toThrow(/frames: given only frames that nothing .* can hold/);
  });

  it('of frames that nothing can hold, skipped, it is what it would be without them', async () => {
    const offers = [...ORDER.offers!, { id: 'two', moulding: 'ash', length: '2 ft', price: 3 }];
    const wide = { id: 'C', moulding: 'ash', width: 20, height: 200 };
    const document = under(
      { skipImpossible: true },
      { ...offering(ORDER, offers), frames: [wide, ...ORDER.frames] },
    );
    const { skipped, status, notices, ...rest } = await compared(document);
    const { status: whole, notices: plain, ...without } = await compared(offering(ORDER, offers));
    expect(rest).toEqual(without);
    expect([whole, status, skipped]).toEqual(['complete', 'short', ['C']]);
    expect(plain).toEqual([]);
    expect(notices).toEqual([expect.stringMatching(/^C: skipped, 1 frame not made: it needs a rail, 202/)]);
  });

  it('not found in time is not said to be impossible', async () => {
    // A clock on which every question comes too late.
    let at = 0;
    const late = (): number => {
      at += 1_000_000;
      return at;
    };
    const comparison = compareHere(checkBatch(ORDER), engine(), { now: late });
    const [part] = comparison.mouldings;
    expect(part!.scenarios.map(({ short }) => short?.why)).toContain('unknown');
    expect(part!.recommendation.sentence).toMatch(/no purchase was found in the time there was/);
    expect(checkClaims(checkBatch(ORDER), comparison, () => false).findings).toEqual([]);
  });

  it('too few to be had is short as well; of all offers together, the comparison is', async () => {
    const few = offering(ORDER, [
      { ...ORDER.offers![0]!, available: 2 },
      { ...ORDER.offers![1]!, available: 1 },
    ]);
    const comparison = await compared(few);
    expect(comparison.status).toBe('short');
    expect(comparison.mouldings[0]!.scenarios.map(({ short }) => short?.why)).toEqual(
      Array(3).fill('notEnough'),
    );
    expect(comparison.recommendation).toContain('no purchase');
  });

  it('nothing is refused, with a catalogued error that says where', async () => {
    const { offers, ...rest } = ORDER;
    expect(offers).toBeDefined();
    const rack = { ...rest, sticks: [{ id: 'r', moulding: 'ash', length: '12 ft', quantity: 20 }] };
    await expect(compared(rack)).rejects.toMatchObject({
      code: 'PS_OFFERS',
      problems: [{ path: 'offers', given: 'no offers' }],
    });
  });

  it('nothing need be bought where the rack makes the order', async () => {
    const { recommendation, scenarios, breakEven } = await one({
      ...ORDER,
      sticks: [{ id: 'r', moulding: 'ash', length: '12 ft', quantity: 20 }],
    });
    expect(recommendation).toMatchObject({ offers: [], buy: [], cost: 0 });
    expect(recommendation.sentence).toContain('buy nothing');
    expect(breakEven).toEqual([]);
    for (const { proof, planOf } of scenarios) expect([proof?.value, planOf]).toEqual([0, []]);
  });

  it('without prices length stands in for money, and no price is asked about', async () => {
    const bare = offering(
      ORDER,
      ORDER.offers!.map(({ id, moulding, length }) => ({ id, moulding, length })),
    );
    const comparison = await compared(bare);
    expect(comparison.measure).toBe('length');
    expect(comparison.mouldings[0]!.breakEven).toEqual([]);
    expect(comparison.recommendation).toMatch(/\d\.\d.ft of stick/);
  });

  it('several mouldings are compared each by itself; the total is their sum, those without offers are said', async () => {
    const document: BatchDocument = {
      ...ORDER,
      mouldings: [
        ...ORDER.mouldings,
        { id: 'oak', face: 1, rabbet: '1/4' },
        { id: 'own', face: 1, rabbet: '1/4' },
      ],
      frames: [
        ...ORDER.frames,
        { id: 'C', moulding: 'oak', quantity: 4, width: 8, height: 10 },
        { id: 'D', moulding: 'own', width: 8, height: 10 },
      ],
      sticks: [{ id: 'r', moulding: 'own', length: '8 ft' }],
      offers: [...ORDER.offers!, { id: 'oak-8', moulding: 'oak', length: '8 ft', price: 30 }],
    };
    const comparison = await compared(document);
    expect(comparison.mouldings.map(({ moulding }) => moulding)).toEqual(['ash', 'oak']);
    const ash = (await one(ORDER)).recommendation.cost!;
    const oak = comparison.mouldings[1]!;
    expect(oak.scenarios.map(({ kind }) => kind)).toEqual(['one']);
    expect(cents(comparison.totals.cost)).toBe(cents(ash) + cents(oak.recommendation.cost!));
    expect(comparison.notices).toEqual([expect.stringContaining('own: nothing is offered')]);
  });
});

describe('suppliers', () => {
  const suppliers = [{ id: 'mill', minimumOrder: 200 }, { id: 'harbour' }];
  const document: BatchDocument = {
    ...ORDER,
    suppliers,
    offers: ORDER.offers!.map((offer, i) => ({ ...offer, supplier: i === 1 ? 'mill' : 'harbour' })),
  };

  it('each alone costs what its offers cost, raised to its minimum order', async () => {
    const comparison = await compared(document);
    const mill = await leastCost(offering(document, document.offers!.slice(1, 2)));
    const harbour = await leastCost(offering(document, [document.offers![0]!, document.offers![2]!]));
    expect(comparison.suppliers.slice(0, 2)).toEqual([
      { suppliers: ['mill'], status: 'complete', cost: mill! / 100, payable: 200, bound: 200 },
      {
        suppliers: ['harbour'],
        status: 'complete',
        cost: harbour! / 100,
        payable: harbour! / 100,
        bound: harbour! / 100,
      },
    ]);
    expect(comparison.recommendation).toMatch(/minimum orders, buy all from harbour for/);
  });

  it('must be listed', () => {
    expect(() => checkBatch({ ...document, suppliers: [{ id: 'mill' }] })).toThrow(/offers\[0\]\.supplier/);
  });
});

describe('the document', () => {
  it('agrees with its exported schema and with its reader, and is the same for the same seed', async () => {
    const document = under({ maxLength: '9 ft', shortBy: '1/2', spare: '10 %', grow: [1, 3] });
    const [comparison, again] = [await compared(document), await compared(document)];
    expect(JSON.stringify(again)).toBe(JSON.stringify(comparison));
    const json: unknown = JSON.parse(JSON.stringify(comparison));
    const validate = new Ajv2020({ strict: false }).compile(comparisonJsonSchema());
    expect(validate(json) ? [] : validate.errors).toEqual([]);
    expect(checkComparisonDocument(json)).toEqual(comparison);
    expect(validate({ ...comparison, extra: 1 })).toBe(false);
    expect(() => checkComparisonDocument({ ...comparison, units: 'ft' })).toThrow(/units/);
  });

  it('has figures that add up', async () => {
    const { scenarios } = await one(ORDER);
    expect(scenarios.some(({ figures }) => figures!.offcuts.count > 0)).toBe(true);
    let alone = 0;
    for (const { figures, proof, buy } of scenarios) {
      const { split, stockLength, railLength, wasteLength, offcuts } = figures!;
      expect(cents(split.rail) + cents(split.waste) + cents(split.offcut)).toBe(cents(proof!.value));
      expect(railLength + wasteLength + offcuts.length).toBeCloseTo(stockLength, 2);
      expect(figures!.sticks).toBe(buy.reduce((sum, { count }) => sum + count, 0));
      const [only, ...others] = buy;
      if (only === undefined || others.length > 0) continue;
      // One length alone: money goes by length.
      const rate = proof!.value / stockLength;
      expect(split.offcut).toBeCloseTo(offcuts.length * rate, 1);
      expect(split.rail).toBeCloseTo(railLength * rate, 1);
      alone += 1;
    }
    expect(alone).toBeGreaterThan(2);
  });

  it('is a page with the recommendation first, no wider than a page, and a chart that says every bar', async () => {
    const offers = ORDER.offers!.map((offer, i) => (i === 0 ? { ...offer, id: 'a<b>&"c"' } : offer));
    const document = under(
      { maxLength: '9 ft', shortBy: '1/2', spare: '10 %', grow: [1, 3] },
      offering(ORDER, offers),
    );
    const comparison = await compared(document);
    const page = showComparison(checkBatch(document), comparison);
    expect(page.startsWith('ash: buy ')).toBe(true);
    for (const line of page.split('\n')) expect(line.length).toBeLessThanOrEqual(100);
    const svg = comparisonSvg(comparison);
    expect(svg).toContain('role="img" aria-labelledby="title desc"');
    expect(svg).toContain('a&lt;b&gt;&amp;&quot;c&quot;');
    expect(svg).not.toContain('a<b>');
    const titles = svg.match(/<g role="img"><title>/g) ?? [];
    expect(titles).toHaveLength(comparison.mouldings[0]!.scenarios.length);
    // Told apart without colour: two fills beside plain grey, none but greys.
    expect([...new Set(svg.match(/url\(#\w+\)/g))].sort()).toEqual(['url(#offcut)', 'url(#waste)']);
    const colours = svg.match(/#[0-9a-f]{3,6}\b/g) ?? [];
    for (const colour of colours) expect(new Set(colour.slice(1).match(/../g) ?? [colour[1]]).size).toBe(1);
  });

  it('has a lower price of an offer alone never above the recommendation', async () => {
    const cheap = await one(priced(ORDER, 'twelve', 1));
    expect(cheap.recommendation.offers).toEqual(['twelve']);
    expect(cheap.breakEven.find(({ offer }) => offer === 'twelve')?.aloneTies).toBeNull();
  });
});
