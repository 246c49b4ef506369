import { describe, expect, it } from 'vitest';
import { checkPlan } from '../../src/check/check.js';
import { readBatch } from '../../src/documents/batch/read.js';
import type { PairstopError } from '../../src/errors.js';
import { planBatchHere } from '../../src/plan/here.js';
import { planBatch } from '../../src/processes/plan-batch.js';
import type { BatchProgress } from '../../src/processes/progress.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { createEngine } from '../../src/solve/engine.js';
import { batchOf } from '../tools/batches.js';

const batch = readBatch(JSON.stringify(batchOf('side-by-side', ['ash', 'oak', 'elm'], { frames: 3 })));

describe('planning a batch in solver processes', () => {
  it('gives the same plan, byte for byte, as planning it here, however many processes there are', async () => {
    const here = planBatchHere(batch, createEngine({ highs: highsRuntime }), {
      now: () => performance.now(),
    });
    expect(here.mouldings.map(({ proof }) => proof.status)).toEqual(['optimal', 'optimal', 'optimal']);
    for (const processes of [1, 2]) {
      expect(JSON.stringify(await planBatch(batch, { processes }))).toBe(JSON.stringify(here));
    }
  });

  it('tells its progress, from nothing to everything', async () => {
    const seen: BatchProgress[] = [];
    const plan = await planBatch(batch, { onProgress: (progress) => seen.push(progress) });
    expect(checkPlan(batch, plan).ok).toBe(true);
    expect(seen[0]).toMatchObject({ mouldings: { total: 3, done: 0, failed: 0 }, planned: 0, gap: null });
    const last = seen.at(-1)!;
    expect(last).toMatchObject({ mouldings: { total: 3, done: 3 }, planned: 3, gap: 0 });
    expect(last.finish).toEqual({ likely: 0, latest: 0 });
    expect(last.cost?.value).toBeCloseTo(plan.totals.cost, 2);
    const done = seen.map(({ mouldings }) => mouldings.done);
    expect(done).toEqual([...done].sort((a, b) => a - b));
  });

  it('ends when it is told to', async () => {
    await expect(planBatch(batch, { signal: AbortSignal.abort() })).rejects.toMatchObject({
      code: 'PS_CANCELLED',
    });
    const stop = new AbortController();
    const planning = planBatch(batch, { signal: stop.signal, onProgress: () => stop.abort() });
    await expect(planning).rejects.toMatchObject({ code: 'PS_CANCELLED' } satisfies Partial<PairstopError>);
  });

  it('refuses frames that no stick holds before any process is started', async () => {
    const document = batchOf('too-long', ['ash']);
    const frames = document.frames.map((frame) => ({ ...frame, width: 5_000 }));
    const long = readBatch(JSON.stringify({ ...document, frames }));
    await expect(planBatch(long)).rejects.toMatchObject({ code: 'PS_BATCH' });
  });
});
