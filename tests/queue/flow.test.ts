import { Queue } from 'bullmq';
import { afterAll, describe, expect, it } from 'vitest';
import { checkPlan } from '../../src/check/check.js';
import { serviceText, statusText } from '../../src/cli/queue-text.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import { planBatchHere } from '../../src/plan/here.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import type { BatchStatus } from '../../src/queue/client/status.js';
import { jobIdOf } from '../../src/queue/names.js';
import { createEngine } from '../../src/solve/engine.js';
import { batchOf } from '../tools/batches.js';
import { openService, testClient, until } from '../tools/service.js';

const WAIT = { wait: 40_000 };

const { redis, raw, worker, client, end } = await openService({ nowSlots: 2, tonightSlots: 1 });
afterAll(end);

function field(id: string, name: string): Promise<string | null> {
  return raw.hget(`pairstop:store:${jobIdOf(id)}`, name);
}

describe('a batch through the queue', () => {
  it('gets the same plan, byte for byte, as in process, published once', async () => {
    const document = batchOf('same-plan', ['ash', 'oak', 'elm'], { frames: 3 });
    const batch = checkBatch(document);
    const here = planBatchHere(batch, createEngine({ highs: highsRuntime }), {
      now: () => performance.now(),
    });
    expect(await client.submit(document)).toMatchObject({ outcome: 'new', id: 'same-plan' });
    const plan = await client.result('same-plan', WAIT);
    expect(JSON.stringify(plan)).toBe(JSON.stringify(here));
    expect(checkPlan(batch, plan).ok).toBe(true);
    expect(await field('same-plan', 'published')).toBe('1');
    expect(await client.batch('same-plan')).toEqual(document);
  });

  it('is a flow of one job a batch and one a moulding, with small return values and the plan beside it', async () => {
    await client.submit(batchOf('flow', ['ash', 'oak']));
    await client.result('flow', WAIT);
    const prefixed = new Queue('batch-now', { connection: raw, prefix: 'pairstop' });
    const job = await prefixed.getJob(jobIdOf('flow'));
    await until('the job has ended', async () => (await job?.getState()) === 'completed');
    const children = await job?.getChildrenValues();
    expect(Object.values(children ?? {})).toEqual([{ part: 'stored' }, { part: 'stored' }]);
    expect((await prefixed.getJob(jobIdOf('flow')))?.returnvalue).toEqual({ plan: 'published' });
    expect((await prefixed.getJob(jobIdOf('flow')))?.data).toEqual({
      schema: 'pairstop/job@1',
      stored: await field('flow', 'fingerprint'),
    });
    await prefixed.close();
  });

  it('submitted again is the same job, answered from the store when done', async () => {
    const document = batchOf('again', ['ash']);
    const first = await client.submit(document);
    const [second, third] = await Promise.all([
      client.submit(document),
      client.submit(JSON.stringify(document)),
    ]);
    expect([second.outcome, third.outcome]).toEqual(['same', 'same']);
    await client.result('again', WAIT);
    const solved = worker.begun('ash');
    expect(await client.submit(document)).toEqual({ ...first, outcome: 'same', state: 'done' });
    await client.result('again', WAIT);
    expect(worker.begun('ash')).toBe(solved);
    expect(await field('again', 'published')).toBe('1');
  });

  it('says how long sawing its plan takes, and all plans together of which nothing is known to be cut', async () => {
    await client.submit(batchOf('sawn', ['ash', 'oak'], { frames: 3 }));
    const plan = await client.result('sawn', WAIT);
    const status = await client.status('sawn');
    expect(status.sawing).toBe(plan.totals.seconds);
    const text = statusText(status, Date.UTC(2026, 10, 28, 7));
    expect(text).toMatch(/^ {2}sawing {6}(about \d+ (min|h)|under a minute)/m);
    const end = new Date(Date.UTC(2026, 10, 28, 7) + 1_000 * Math.round(plan.totals.seconds!));
    expect(text).toContain(`; begun now it is cut by ${end.toISOString().slice(0, 19)}Z`);
    await client.submit(batchOf('sawn-again', ['ash'], { frames: 2 }));
    await client.result('sawn-again', WAIT);
    const { batches } = await client.list({ state: 'done', work: 'plan', limit: 1_000 });
    const takes = await Promise.all(batches.map(async ({ id }) => (await client.status(id)).sawing!));
    const service = await client.service();
    const { plans, seconds, unknown } = service.toSaw!;
    expect([plans, unknown]).toEqual([batches.length, 0]);
    expect(seconds).toBeCloseTo(
      takes.reduce((sum, one) => sum + one, 0),
      3,
    );
    expect(serviceText(service)).toMatch(
      new RegExp(
        `to saw: ${plans} plans of which nothing is known to be cut, about .*; begun now it is cut by \\d{4}-`,
      ),
    );
    // A plan of an older version does not say.
    await raw.hdel(`pairstop:store:${jobIdOf('sawn-again')}`, 'seconds');
    expect((await client.service()).toSaw).toMatchObject({ plans, unknown: 1 });
    expect((await client.status('sawn-again')).sawing).toBeNull();
  });

  it('with other content under the same id is refused, naming both fingerprints', async () => {
    const { fingerprint } = await client.submit(batchOf('taken', ['ash']));
    const error = await client.submit(batchOf('taken', ['oak'])).catch((reason: unknown) => reason);
    expect(error).toMatchObject({ code: 'PS_CONFLICT' });
    const prints = String(error).match(/[0-9a-f]{64}/g) ?? [];
    expect(prints[0]).toBe(fingerprint);
    expect(prints[1]).toMatch(/^[0-9a-f]{64}$/);
    expect(prints[1]).not.toBe(fingerprint);
    expect((await client.result('taken', WAIT)).mouldings[0]?.moulding).toBe('ash');
  });

  it.each(['1234', 'a:b', 'Frühling & Co. / "7"', '%41', 'x'.repeat(128)])(
    'may have the id %s',
    async (id) => {
      await client.submit(batchOf(id, ['ash']));
      expect((await client.result(id, WAIT)).batch).toBe(id);
    },
  );

  it('that is refused never reaches the queue', async () => {
    const document = { ...batchOf('refused', ['ash']), frames: [] };
    await expect(client.submit(document)).rejects.toMatchObject({ code: 'PS_BATCH' });
    await expect(client.submit('{"schema":')).rejects.toMatchObject({ code: 'PS_JSON' });
    await expect(client.status('refused')).rejects.toMatchObject({ code: 'PS_UNKNOWN' });
  });

  it('loses one bad moulding, not the others: it fails with the reason, their plans are kept', async () => {
    const document = batchOf('one-bad', ['ash', 'exit', 'oak']);
    await client.submit(document);
    await expect(client.result('one-bad', WAIT)).rejects.toMatchObject({
      code: 'PS_FAILED',
      message: expect.stringMatching(/1 of 3 mouldings.*"exit".*PS_SOLVER.*code 7/s) as string,
    });
    const partial = await client.result('one-bad', { partial: true });
    expect(partial.status).toBe('short');
    expect(partial.mouldings.map(({ moulding, status }) => [moulding, status])).toEqual([
      ['ash', 'complete'],
      ['exit', 'short'],
      ['oak', 'complete'],
    ]);
    expect(partial.shortfall.map(({ moulding, frames }) => [moulding, frames])).toEqual([
      ['exit', ['exit/0/1', 'exit/1/1']],
    ]);
    expect(partial.notices).toContainEqual({
      code: 'PS_NOT_PLANNED',
      path: 'mouldings[1]',
      message: expect.stringMatching(/^exit: could not be planned, PS_SOLVER: .*code 7/) as string,
    });
    expect(checkPlan(checkBatch(document), partial).findings).toEqual([]);
    const status = await client.status('one-bad');
    expect(status.mouldings.map(({ state }) => state)).toEqual(['done', 'failed', 'done']);
    // Tried the number of times it says, and no more.
    expect(worker.begun('exit')).toBe(3);
  });

  it('that failed is tried anew when submitted again, keeping the parts it has', async () => {
    const document = batchOf('anew', ['exit', 'elm']);
    await client.submit(document);
    await expect(client.result('anew', WAIT)).rejects.toMatchObject({ code: 'PS_FAILED' });
    const [elm, exit] = [worker.begun('elm'), worker.begun('exit')];
    expect(await client.submit(document)).toMatchObject({ outcome: 'again', state: 'waiting' });
    await expect(client.result('anew', WAIT)).rejects.toMatchObject({ code: 'PS_FAILED' });
    expect([worker.begun('elm'), worker.begun('exit')]).toEqual([elm, exit + 3]);
    expect((await client.status('anew')).run).toBe(2);
  });

  it('is watched from its beginning to its end', async () => {
    await client.submit(batchOf('watched', ['wait-600', 'ash']));
    const seen: BatchStatus[] = [];
    for await (const status of client.watch('watched', { timeout: 40_000 })) seen.push(status);
    const last = seen.at(-1)!;
    expect(last).toMatchObject({
      state: 'done',
      outcome: 'complete',
      progress: { mouldings: { total: 2, done: 2, failed: 0 }, gap: 0 },
    });
    expect(last.progress?.cost?.value).toBe((await client.result('watched')).totals.cost);
    expect(seen.some(({ state }) => state === 'running')).toBe(true);
    expect(last.submitted).toBeLessThanOrEqual(last.started!);
    expect(last.started).toBeLessThanOrEqual(last.finished!);
  });

  it('waits for its time', async () => {
    const notBefore = new Date(Date.now() + 2_500).toISOString();
    await client.submit(batchOf('later', ['ash'], { notBefore }));
    const { state, starts } = await client.status('later');
    expect(state).toBe('waiting');
    expect(Math.abs((starts ?? 0) - Date.parse(notBefore))).toBeLessThan(50);
    expect((await client.status('later')).state).toBe('waiting');
    await client.result('later', WAIT);
    expect((await client.status('later')).started).toBeGreaterThanOrEqual(Date.parse(notBefore) - 50);
    const far = new Date(Date.now() + 400 * 86_400_000).toISOString();
    await expect(client.submit(batchOf('far', ['ash'], { notBefore: far }))).rejects.toMatchObject({
      code: 'PS_BATCH',
    });
  });

  it('for now does not wait behind what is for tonight', async () => {
    const tonight = Array.from({ length: 6 }, (_, i) => `night-${i}`);
    for (const id of tonight) {
      await client.submit(batchOf(id, ['wait-1500'], { urgency: 'tonight' }));
    }
    await until('the night shift has begun', () => worker.begun('wait-1500') > 0);
    await client.submit(batchOf('counter', ['ash']));
    await client.result('counter', WAIT);
    const begun = await Promise.all(tonight.map(async (id) => (await client.status(id)).started));
    expect(begun).toContain(null);
    for (const id of tonight) await client.cancel(id);
  });

  it('is kept for the stated time once it has ended, and until then for as long as it takes', async () => {
    const ttl = await raw.pttl(`pairstop:store:${jobIdOf('same-plan')}`);
    expect(ttl / 86_400_000).toBeGreaterThan(29.9);
    expect(ttl / 86_400_000).toBeLessThanOrEqual(30);
    await client.submit(batchOf('running', ['wait-1500']));
    await until('it runs', async () => (await client.status('running')).state === 'running');
    expect(await raw.pttl(`pairstop:store:${jobIdOf('running')}`)).toBe(-1);
    await client.result('running', WAIT);
  });

  it('shares its time among its mouldings, and what the quick ones leave with those that follow', async () => {
    await client.submit(batchOf('shares', ['ash', 'oak', 'elm', 'fir'], { timeLimit: 8 }));
    await client.result('shares', WAIT);
    const seconds = worker.lines
      .filter((line) => line.batch === jobIdOf('shares') && line.msg === 'moulding begun')
      .map((line) => Number(line.seconds));
    expect(seconds).toHaveLength(4);
    expect(seconds[0]).toBeCloseTo(4, 2);
    expect(Math.max(...seconds)).toBeLessThanOrEqual(8);
    expect(seconds.at(-1)).toBeGreaterThan(4);
  });
});

describe('asking after a batch', () => {
  it('nobody submitted, or that has no plan yet, is an error of its own', async () => {
    await expect(client.result('nobody')).rejects.toMatchObject({ code: 'PS_UNKNOWN' });
    await expect(client.cancel('nobody')).rejects.toMatchObject({ code: 'PS_UNKNOWN' });
    await client.submit(batchOf('slow', ['wait-3000']));
    await expect(client.result('slow')).rejects.toMatchObject({ code: 'PS_PENDING' });
    await expect(client.result('slow', { wait: 200 })).rejects.toMatchObject({ code: 'PS_PENDING' });
    await client.cancel('slow');
    await expect(client.result('slow')).rejects.toMatchObject({ code: 'PS_CANCELLED' });
    expect(await client.cancel('slow')).toBe('cancelled');
  });

  it('and after the service: workers, queues, last errors', async () => {
    const service = await client.service();
    expect(service.workers).toMatchObject([
      { id: worker.id, slots: { now: 2, tonight: 1 }, pid: process.pid },
    ]);
    expect(service.errors.map(({ code }) => code)).toContain('PS_FAILED');
    expect(service.queues.now.batches.failed).toBeGreaterThan(0);
  });

  it('another shop, under its own prefix, sees nothing of it', async () => {
    const other = testClient(redis, 'other-shop');
    await expect(other.status('same-plan')).rejects.toMatchObject({ code: 'PS_UNKNOWN' });
    expect((await other.service()).workers).toEqual([]);
    await other.close();
  });
});

describe('the log', () => {
  it('names batch, moulding and attempt, and nothing of the frames', () => {
    const begun = worker.lines.filter(({ msg }) => msg === 'moulding begun');
    expect(begun.length).toBeGreaterThan(0);
    for (const line of begun) {
      expect(line).toMatchObject({
        batch: expect.stringMatching(/^b-/) as string,
        moulding: expect.any(String) as string,
      });
      expect(line.attempt).toBeGreaterThan(0);
    }
    const text = JSON.stringify(worker.lines.filter(({ level }) => level >= 30));
    expect(text).not.toMatch(/ash\/0|"width"|"rail"/);
  });
});
