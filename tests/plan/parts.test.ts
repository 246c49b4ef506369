/** Parts of a plan: handed out while the search runs, taken up again, and put together in any order. */
import { describe, expect, it } from 'vitest';
import { checkPlan } from '../../src/check/check.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import { checkPlanDocument } from '../../src/documents/plan/read.js';
import { PairstopError } from '../../src/errors.js';
import { assemblePlan } from '../../src/plan/assemble.js';
import { planBatchHere } from '../../src/plan/here.js';
import { planMoulding } from '../../src/plan/moulding.js';
import type { Improvement, MouldingPart } from '../../src/plan/part.js';
import { unplannedPart } from '../../src/plan/short/unplanned.js';
import type { Engine } from '../../src/solve/engine.js';
import { ResolvedBatch } from '../../src/stock/resolved.js';
import { batchOf } from '../tools/batches.js';
import { randomBatch } from './batches.js';
import { engine, now, steppedClock } from './kit.js';

const SECONDS = 1000;

async function partsOf(name: string, onImproved?: (improvement: Improvement) => void) {
  const batch = checkBatch(randomBatch(name, { reversible: false }));
  const solver = engine();
  const options = { now, deadline: now() + 3 * SECONDS, seed: 1, ...(onImproved && { onImproved }) };
  return {
    batch,
    parts: batch.mouldings.map(({ id }) => planMoulding(new ResolvedBatch(batch), id, solver, options)),
  };
}

describe('parts', () => {
  it('are plain JSON, and make the same plan in any order', async () => {
    const { batch, parts } = await partsOf('parts 1');
    const copies = JSON.parse(JSON.stringify(parts)) as MouldingPart[];
    expect(assemblePlan(new ResolvedBatch(batch), copies.toReversed())).toEqual(
      assemblePlan(new ResolvedBatch(batch), parts),
    );
  });

  it('taken up without time keep what was proven before', async () => {
    let proven = 0;
    for (let i = 0; i < 6; i++) {
      const { batch, parts } = await partsOf(`kept ${i}`);
      for (const start of parts) {
        const clock = steppedClock(1);
        const again = planMoulding(new ResolvedBatch(batch), start.moulding, engine(), {
          now: clock,
          deadline: 0,
          seed: 1,
          start,
        });
        if (start.plan.status !== 'complete' || start.plan.proof.measure !== 'cost') continue;
        expect(again.plan.proof).toEqual(start.plan.proof);
        if (start.plan.proof.status === 'optimal' && start.plan.proof.value > 0) proven += 1;
      }
    }
    expect(proven).toBeGreaterThan(2);
  });

  it('whose wood is proven are only cut otherwise: the engine is not asked again', async () => {
    const batch = checkBatch(batchOf('proven before', ['ash'], { frames: 30, timeLimit: 3 }));
    const resolved = new ResolvedBatch(batch);
    const options = { now, deadline: now() + 3 * SECONDS, seed: 1 };
    const start = planMoulding(resolved, 'ash', engine(), options);
    expect(start.plan.proof.status).toBe('optimal');
    const refusing: Engine = {
      solve: () => {
        throw new Error('asked again');
      },
    };
    const again = planMoulding(resolved, 'ash', refusing, {
      ...options,
      now: steppedClock(1),
      deadline: 500,
      start,
    });
    expect(again.plan.proof).toEqual(start.plan.proof);
    expect(again.totals.stopsSet.value).toBeLessThanOrEqual(start.totals.stopsSet.value);
    expect(checkPlan(batch, assemblePlan(resolved, [again])).findings).toEqual([]);
  });

  it('are refused when one is missing', async () => {
    const { batch, parts } = await partsOf('parts 1');
    expect(() => assemblePlan(new ResolvedBatch(batch), parts.slice(1))).toThrow(PairstopError);
  });

  it('handed out on the way hold against the batch, and never get worse', async () => {
    let seen = 0;
    for (let i = 0; i < 12; i++) {
      const improvements: Improvement[] = [];
      const { batch, parts } = await partsOf(`improved ${i}`, (improvement) =>
        improvements.push(improvement),
      );
      for (const [at, { moulding }] of parts.entries()) {
        const own = improvements.filter((one) => one.moulding === moulding);
        for (const one of own) {
          const part = one.part();
          expect(part.plan.proof).toEqual(one.proof);
          expect(one.frames).toBe(one.ordered);
          const report = checkPlan(batch, assemblePlan(new ResolvedBatch(batch), parts.with(at, part)));
          expect(report.findings).toEqual([]);
        }
        const values = own.map((one) => one.proof.value);
        expect(values).toEqual(values.toSorted((a, b) => b - a));
        seen += own.length;
      }
    }
    expect(seen).toBeGreaterThan(12);
  });

  it('start a later run that is never worse', async () => {
    for (let i = 0; i < 6; i++) {
      const { batch, parts } = await partsOf(`again ${i}`);
      for (const start of parts) {
        const options = { now: steppedClock(50), deadline: 1, seed: 2, start };
        const part = planMoulding(new ResolvedBatch(batch), start.moulding, engine(), options);
        expect(part.plan.proof.value).toBeLessThanOrEqual(start.plan.proof.value);
      }
    }
  });

  it('exist for a moulding nobody ordered', async () => {
    const document = randomBatch('parts 1', { reversible: false });
    const spare = { id: 'spare', face: 1, rabbet: 0 };
    const batch = checkBatch({ ...document, mouldings: [...document.mouldings, spare] });
    const plan = planBatchHere(batch, engine(), { now });
    expect(plan.mouldings.at(-1)).toMatchObject({ moulding: 'spare', status: 'complete', sticks: [] });
    expect(checkPlan(batch, plan).findings).toEqual([]);
  });
});

describe('a moulding that could not be planned', () => {
  const why = { code: 'PS_SOLVER', message: 'the process\nended' };

  it('is short of every frame, beside the plans of the others', async () => {
    const cases = [{}, { reversible: true }, { reversible: false }, { scarce: true }];
    let left = 0;
    for (let i = 0; i < 16; i++) {
      const document = randomBatch(`unplanned ${i}`, cases[i % 4]!);
      const options = { ...document.options, mergeStops: i % 3 === 0 };
      const batch = checkBatch({ ...document, options });
      const solver = engine();
      const whole = batch.mouldings.map(({ id }) =>
        planMoulding(new ResolvedBatch(batch), id, solver, { now, deadline: now() + SECONDS, seed: 1 }),
      );
      for (const [at, { id }] of batch.mouldings.entries()) {
        const copies = batch.frames.filter(({ moulding }) => moulding === id);
        const names = copies.flatMap((line) =>
          Array.from({ length: line.quantity }, (_, n) => `${line.id}/${n + 1}`),
        );
        const plan = assemblePlan(
          new ResolvedBatch(batch),
          whole.with(at, unplannedPart(new ResolvedBatch(batch), { moulding: id, ...why })),
        );
        expect(checkPlan(batch, checkPlanDocument(plan)).findings).toEqual([]);
        expect(plan.mouldings[at]).toMatchObject({ moulding: id, sticks: [], stops: [] });
        expect(plan.mouldings[at]!.unplanned).toEqual({ ...why, message: 'the process ended' });
        expect(plan.shortfall.find(({ moulding }) => moulding === id)?.frames ?? []).toEqual(names);
        if (names.length > 0) expect(plan.status).toBe('short');
        if (names.length > 0) expect(plan.mouldings[at]!.proof.status).toBe('unproven');
        expect(plan.notices).toContainEqual({
          code: 'PS_NOT_PLANNED',
          path: `mouldings[${at}]`,
          message: `${id}: could not be planned, PS_SOLVER: the process ended`,
        });
        left += names.length;
      }
    }
    expect(left).toBeGreaterThan(30);
  });

  it('needs its rails in one run, with the trims of a stick', () => {
    const batch = checkBatch({
      schema: 'pairstop/batch@1',
      id: 'run',
      units: 'mm',
      saw: { kerf: 3, stopStep: 1 },
      mouldings: [{ id: 'ash', face: 30, rabbet: 6, endTrim: 10 }],
      frames: [{ id: 'A', moulding: 'ash', measuredBy: 'outside', width: 300, height: 400 }],
      offers: [{ id: 'o', moulding: 'ash', length: 2400, price: 20 }],
    });
    const { shortfall } = unplannedPart(new ResolvedBatch(batch), { moulding: 'ash', ...why });
    // Rails of 1400, two trims, and between four rails three mitred cuts, each 3·√2 wide along the stick.
    expect(shortfall).toMatchObject({ frames: ['A/1'], cost: null });
    expect(shortfall!.needs).toBeGreaterThanOrEqual(1400 + 2 * 10 + 3 * 3 * Math.SQRT2);
    expect(shortfall!.needs).toBeLessThan(1400 + 2 * 10 + 3 * 3 * Math.SQRT2 + 0.01);
  });

  it('must be one of the batch', async () => {
    const { batch } = await partsOf('parts 1');
    expect(() => unplannedPart(new ResolvedBatch(batch), { moulding: 'none', ...why })).toThrow(
      PairstopError,
    );
  });
});

describe('a batch', () => {
  it('with frames nothing can hold is refused before anything is planned', async () => {
    const document = randomBatch('parts 1');
    const frame = { id: 'huge', moulding: 'm0', width: '9 m', height: '9 m' };
    const batch = checkBatch({ ...document, frames: [...document.frames, frame] });
    const solver = engine();
    const plan = () => planBatchHere(batch, solver, { now });
    expect(plan).toThrow(/frames\[\d+\]\.width: given frame "huge"/);
    expect(plan).toThrow(PairstopError);
  });
});
