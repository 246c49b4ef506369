/** Batches planned from the shop's rack through real queues: published and reserved in one step, or planned again. */
import type { Redis } from 'ioredis';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { checkPlan } from '../../src/check/check.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import type { Plan } from '../../src/documents/plan/types.js';
import { checkComparison } from '../../src/processes/check-comparison.js';
import { compareBatch } from '../../src/processes/compare-batch.js';
import { planBatch } from '../../src/processes/plan-batch.js';
import type { Client } from '../../src/queue/client/client.js';
import { keysOf } from '../../src/queue/names.js';
import type { RackStore } from '../../src/rack/store/rack-store.js';
import { added, audited, happen, rackAt, rackPiece } from '../tools/rack.js';
import { type OpenService, openService, until } from '../tools/service.js';
import { shopBatch, shopPieces, takenBy } from '../tools/shop.js';

const WAIT = { wait: 50_000 };

let service: OpenService;
let raw: Redis;
let client: Client;
let rack: RackStore;

beforeAll(async () => {
  service = await openService({ nowSlots: 2 });
  ({ raw, client } = service);
  rack = rackAt(raw, 'pairstop');
});

afterAll(() => service.end());

async function planned(document: BatchDocument): Promise<Plan> {
  await client.submit(document);
  const plan = await client.result(document.id, WAIT);
  const report = checkPlan(checkBatch(document), plan);
  if (!report.ok) throw new Error(JSON.stringify(report.findings));
  return plan;
}

const refsOf = (plan: Plan): string[] =>
  plan.mouldings.flatMap(({ sticks }) =>
    sticks.flatMap(({ source, ref }) => (source === 'rack' ? [ref] : [])),
  );

async function stateOf(id: string): Promise<string | null> {
  return raw.hget(keysOf('pairstop').rack.states, id);
}

const sound = { ok: true, findings: [] };

describe('a batch planned from the rack of the shop', () => {
  it('reserves the pieces it cuts, and says what they were', async () => {
    await happen(
      rack,
      [],
      [
        ...shopPieces('pine', 2).map(added),
        added(rackPiece('pine-bad', 'pine', 1_750_000, { flaws: [[100_000, 1_650_000]] })),
        added(rackPiece('fir-1', 'fir', 1_750_000)),
      ],
    );
    const plan = await planned(shopBatch('first', ['pine']));
    expect(refsOf(plan)).toHaveLength(1);
    expect(plan.rack).toEqual([
      { id: refsOf(plan)[0], moulding: 'pine', length: 1_750, ends: ['raw', 'raw'], flaws: [], value: null },
    ]);
    expect(plan.buy).toEqual([]);
    expect(await stateOf(refsOf(plan)[0] ?? '')).toBe('reserved first');
    expect(await audited(rack)).toMatchObject(sound);
  });

  it('takes none that another holds, and expects what it buys', async () => {
    const plans = [await planned(shopBatch('second', ['pine'])), await planned(shopBatch('third', ['pine']))];
    expect(takenBy(plans).size).toBe(1);
    expect(plans[1]?.buy).toEqual([{ moulding: 'pine', offer: 'pine-24', count: 1, cost: 20 }]);
    expect(await rack.expected('third')).toEqual([
      { batch: 'third', offer: 'pine-24', moulding: 'pine', length: 2_400_000, count: 1 },
    ]);
    expect(await audited(rack)).toMatchObject(sound);
  });

  it('is short where nothing is free and nothing is for sale', async () => {
    const plan = await planned(shopBatch('none', ['pine', 'fir'], { offers: false }));
    expect(plan.status).toBe('short');
    expect(plan.shortfall.map(({ moulding }) => moulding)).toEqual(['pine']);
    expect(await stateOf('fir-1')).toBe('reserved none');
  });

  it('frees its pieces when it is cancelled, and plans anew when it is submitted again', async () => {
    expect(await client.cancel('none')).toBe('cancelled');
    expect(await stateOf('fir-1')).toBe('free');
    expect(await client.cancel('third')).toBe('cancelled');
    expect(await rack.expected()).toEqual([]);
    const plan = await planned(shopBatch('none', ['pine', 'fir'], { offers: false }));
    expect(refsOf(plan)).toEqual(['fir-1']);
    expect(await audited(rack)).toMatchObject(sound);
  });

  it('plans a moulding with sticks of its own from them alone', async () => {
    await happen(rack, [], shopPieces('yew', 2).map(added));
    const plan = await planned({
      ...shopBatch('own', ['yew'], { offers: false }),
      sticks: [{ id: 'mine', moulding: 'yew', length: 2_000 }],
    });
    expect(refsOf(plan)).toEqual(['mine']);
    expect(plan.rack).toEqual([]);
    expect(await stateOf('yew-1')).toBe('free');
  });

  it('is planned again where its pieces go between solving and publishing', async () => {
    await happen(
      rack,
      [],
      [...shopPieces('wait-700', 1).map(added), added(rackPiece('larch-1', 'larch', 1_750_000))],
    );
    await client.submit(shopBatch('slow', ['wait-700', 'larch']));
    const begun = async (): Promise<boolean> => Number(await raw.hget('pairstop:store:b-slow', 'n:0')) > 0;
    while (!(await begun())) await new Promise((resolve) => setTimeout(resolve, 10));
    await happen(rack, ['wait-700-1'], [{ kind: 'removed', how: 'removed', piece: 'wait-700-1' }]);
    const plan = await client.result('slow', WAIT);
    expect(refsOf(plan)).toEqual(['larch-1']);
    expect(plan.buy).toMatchObject([{ offer: 'wait-700-24' }]);
    // The moulding whose pieces were all there is not solved again.
    expect([service.worker.begun('wait-700'), service.worker.begun('larch')]).toEqual([2, 1]);
    expect(await raw.hget('pairstop:store:b-slow', 'published')).toBe('1');
    expect(await audited(rack)).toMatchObject(sound);
  });

  it('holds nothing any more once its record has expired', async () => {
    await happen(rack, [], shopPieces('birch', 1).map(added));
    await planned(shopBatch('forgotten', ['birch'], { frames: 2 }));
    expect(await stateOf('birch-1')).toBe('reserved forgotten');
    expect(await rack.expected('forgotten')).toHaveLength(1);
    await raw.pexpire('pairstop:store:b-forgotten', 1);
    await until('its piece is free', async () => (await stateOf('birch-1')) === 'free');
    expect(await rack.expected('forgotten')).toEqual([]);
    expect(await audited(rack)).toMatchObject(sound);
  });

  it('is refused where nobody knows the rack', async () => {
    const batch = checkBatch(shopBatch('alone', ['pine']));
    await expect(planBatch(batch)).rejects.toMatchObject({ code: 'PS_RACK' });
    await expect(compareBatch(batch)).rejects.toMatchObject({ code: 'PS_RACK' });
  });

  it('is compared with what is free, and reserves nothing', async () => {
    await happen(rack, [], shopPieces('elm', 1).map(added));
    const document = shopBatch('weigh', ['elm'], { frames: 2 });
    await client.submit(document, { work: 'compare' });
    const comparison = await client.comparison('weigh', WAIT);
    expect(comparison.mouldings[0]?.recommendation.cost).toBe(20);
    expect(await stateOf('elm-1')).toBe('free');
    // It says what was free, so it can be checked without the rack.
    expect(comparison.rack).toMatchObject([{ id: 'elm-1', moulding: 'elm', length: 1750 }]);
    const batch = checkBatch(document);
    expect((await checkComparison(batch, comparison)).findings).toEqual([]);
    const { rack: _, ...silent } = comparison;
    const codes = (await checkComparison(batch, silent)).findings.map(({ code }) => code);
    expect(codes).toContain('CHECK_MAKES');
  });
});
