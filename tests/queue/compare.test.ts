/** Comparisons through the queue, on a real Redis and a real worker. */
import { afterAll, describe, expect, it } from 'vitest';
import { compareHere } from '../../src/compare/here.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { jobIdOf } from '../../src/queue/names.js';
import { createEngine } from '../../src/solve/engine.js';
import { batchOf } from '../tools/batches.js';
import { openService, until } from '../tools/service.js';

const WAIT = { wait: 60_000 };
const COMPARE = { work: 'compare' } as const;

const { raw, worker, client, end } = await openService({ nowSlots: 2, tonightSlots: 1 });
afterAll(end);

describe('a comparison through the queue', () => {
  it('is the same, byte for byte, as in process, published once, in a job of its own', async () => {
    const batch = batchOf('lengths', ['ash', 'oak'], { frames: 3 });
    // Of one moulding no prices are given: what money means is decided for the whole batch.
    const offers = (batch.offers ?? []).map(({ price, ...offer }) =>
      offer.moulding === 'oak' ? offer : { ...offer, price: price ?? 0 },
    );
    const document = { ...batch, offers };
    const here = compareHere(checkBatch(document), createEngine({ highs: highsRuntime }), {
      now: () => performance.now(),
    });
    expect(await client.submit(document, COMPARE)).toMatchObject({ outcome: 'new', id: 'lengths' });
    const comparison = await client.comparison('lengths', WAIT);
    expect(JSON.stringify(comparison)).toBe(JSON.stringify(here));
    expect(await raw.hget(`pairstop:store:${jobIdOf('lengths', 'compare')}`, 'published')).toBe('1');
    expect(await client.batch('lengths', COMPARE)).toEqual(document);
    expect(await client.status('lengths', COMPARE)).toMatchObject({
      state: 'done',
      outcome: 'complete',
      progress: { cost: { value: comparison.totals.cost } },
    });
    // Nobody asked for its plan.
    await expect(client.status('lengths')).rejects.toMatchObject({ code: 'PS_UNKNOWN' });
  });

  it('stands beside the plan of the same batch, each submitted once', async () => {
    const document = batchOf('both', ['ash']);
    const [plan, comparison] = [await client.submit(document), await client.submit(document, COMPARE)];
    expect(plan.fingerprint).not.toBe(comparison.fingerprint);
    const least = (await client.comparison('both', WAIT)).totals;
    expect((await client.result('both', WAIT)).totals.cost).toBe(least.cost);
    expect(await client.submit(document, COMPARE)).toEqual({ ...comparison, outcome: 'same', state: 'done' });
    await expect(client.submit(batchOf('both', ['oak']), COMPARE)).rejects.toMatchObject({
      code: 'PS_CONFLICT',
    });
  });

  it('is cancelled at once, and refused where there is nothing to choose from', async () => {
    await client.submit(batchOf('stopped', ['hang', 'ash']), COMPARE);
    await until('it runs', () => worker.begun('hang') > 0);
    expect(await client.cancel('stopped', COMPARE)).toBe('cancelled');
    await expect(client.comparison('stopped', WAIT)).rejects.toMatchObject({ code: 'PS_CANCELLED' });
    const { offers, ...rest } = batchOf('none', ['ash']);
    const own = { ...rest, sticks: [{ id: 'long', moulding: 'ash', length: 6000, quantity: 9 }] };
    expect(offers).toHaveLength(2);
    await expect(client.submit(own, COMPARE)).rejects.toMatchObject({ code: 'PS_OFFERS' });
  });

  it('outlives a solver that dies: what it had finished is kept, and published once', async () => {
    const document = batchOf('died', ['exit-once']);
    await client.submit(document, COMPARE);
    const comparison = await client.comparison('died', WAIT);
    expect(comparison.mouldings[0]?.recommendation.cost).toBeGreaterThan(0);
    expect(worker.begun('exit-once')).toBe(2);
    expect(await raw.hget(`pairstop:store:${jobIdOf('died', 'compare')}`, 'published')).toBe('1');
  });

  it('loses one bad moulding, not the others', async () => {
    await client.submit(batchOf('one-bad', ['ash', 'exit']), COMPARE);
    await expect(client.comparison('one-bad', WAIT)).rejects.toMatchObject({ code: 'PS_FAILED' });
    const partial = await client.comparison('one-bad', { partial: true });
    expect(partial.mouldings.map(({ moulding }) => moulding)).toEqual(['ash']);
    expect(partial.status).toBe('short');
    expect(partial.notices[0]).toMatch(/^exit: could not be planned, PS_SOLVER/);
  });
});
