import { execFile } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { hostname, tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { checkPlan } from '../../src/check/check.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import { readPlan } from '../../src/documents/plan/read.js';
import { entryAt } from '../../src/processes/solver/entry.js';
import { showPlan } from '../../src/show/plan.js';
import { batchOf } from '../tools/batches.js';
import { TestRedis } from '../tools/redis.js';
import { type TestWorker, testWorker } from '../tools/service.js';

// The commands run side by side, and on a loaded machine processes are slow to start.
vi.setConfig({ testTimeout: 120_000 });

const run = promisify(execFile);
const { file, execArgv } = entryAt(new URL('../../src/cli/main.ts', import.meta.url));

let redis: TestRedis;
let worker: TestWorker;
let dir: string;

beforeAll(async () => {
  redis = await TestRedis.start();
  worker = await testWorker(redis.url);
  dir = mkdtempSync(join(tmpdir(), 'pairstop-cli-'));
});

afterAll(async () => {
  await worker.stop();
  await redis.end();
  rmSync(dir, { recursive: true, force: true });
});

interface Ended {
  readonly code: number;
  readonly out: string;
  readonly err: string;
}

async function pairstop(args: readonly string[], env: Readonly<Record<string, string>> = {}): Promise<Ended> {
  const options = { env: { ...process.env, REDIS_URL: redis.url, ...env } };
  try {
    const { stdout, stderr } = await run(process.execPath, [...execArgv, file, ...args], options);
    return { code: 0, out: stdout, err: stderr };
  } catch (error) {
    const { code, stdout, stderr } = error as { code: number; stdout: string; stderr: string };
    return { code, out: stdout, err: stderr };
  }
}

function written(id: string, mouldings: readonly string[], more: object = {}): string {
  const path = join(dir, `${id}.json`);
  writeFileSync(path, JSON.stringify({ ...batchOf(id, mouldings), ...more }));
  return path;
}

describe.concurrent('the commands of the queue', () => {
  // First and by itself: it counts what waits.
  it.sequential('status without an id tells of workers and queues, and worker --check whether one is alive here', async () => {
    const status = await pairstop(['status']);
    expect(status.out).toContain('workers alive: 1');
    expect(status.out).toContain(hostname());
    expect(status.out).toMatch(/now, mouldings +0 waiting/);
    expect((await pairstop(['worker', '--check'])).code).toBe(0);
    expect((await pairstop(['worker', '--check'], { PAIRSTOP_PREFIX: 'elsewhere' })).code).toBe(1);
  });

  it('submit, wait, fetch: the plan is that of the command without a queue', async () => {
    const path = written('cli-batch', ['ash', 'oak']);
    const out = join(dir, 'queue.json');
    const waited = await pairstop(['submit', '--wait', path, '--out', out]);
    expect(waited).toMatchObject({ code: 0, err: '' });
    const direct = await pairstop(['plan', path, '--out', join(dir, 'direct.json')]);
    expect(waited.out).toBe(direct.out);
    expect(readFileSync(out, 'utf8')).toBe(readFileSync(join(dir, 'direct.json'), 'utf8'));
    const fetched = await pairstop(['result', 'cli-batch', '--json']);
    expect(fetched.out).toBe(readFileSync(out, 'utf8'));
  });

  it('submit says what the batch is known as, and status how it is doing', async () => {
    const path = written('cli-twice', ['ash']);
    expect((await pairstop(['submit', path])).out).toMatch(
      /^cli-twice: waiting \(new\), fingerprint [0-9a-f]{64}\n$/,
    );
    await pairstop(['submit', '--wait', path]);
    expect((await pairstop(['submit', path])).out).toMatch(/^cli-twice: done \(same\)/);
    const status = await pairstop(['status', 'cli-twice']);
    expect(status.out).toMatch(/^cli-twice: done\n/);
    expect(status.out).toMatch(/mouldings {3}1 of 1 done/);
    expect(JSON.parse((await pairstop(['status', 'cli-twice', '--json'])).out)).toMatchObject({
      result: { state: 'done' },
    });
  });

  it('exit 3 and the plan of what can be cut where stock is short', async () => {
    const sticks = [{ id: 'r1', moulding: 'ash', length: 2_400 }];
    const path = written('cli-short', ['ash'], { offers: [], sticks });
    const out = join(dir, 'short.json');
    expect((await pairstop(['submit', '--wait', path, '--out', out])).code).toBe(3);
    const batch = checkBatch(JSON.parse(readFileSync(path, 'utf8')));
    const plan = readPlan(readFileSync(out));
    expect(plan.status).toBe('short');
    expect(checkPlan(batch, plan).ok).toBe(true);
  });

  it('exit 2 for what is refused, 1 for the rest, each with its code', async () => {
    const bad = written('cli-bad', ['ash'], { frames: [] });
    expect(await pairstop(['submit', bad])).toMatchObject({
      code: 2,
      err: expect.stringContaining('PS_BATCH') as string,
    });
    await pairstop(['submit', '--wait', written('cli-taken', ['ash'])]);
    const other = await pairstop(['submit', written('cli-taken', ['oak'])]);
    expect(other).toMatchObject({ code: 2, err: expect.stringContaining('PS_CONFLICT') as string });
    const unknown = await pairstop(['result', 'cli-nobody']);
    expect(unknown).toMatchObject({ code: 1, err: expect.stringContaining('PS_UNKNOWN') as string });
    const setting = await pairstop(['status'], { PAIRSTOP_NOW_SLOTS: 'x' });
    expect(setting).toMatchObject({ code: 2, err: expect.stringContaining('PAIRSTOP_NOW_SLOTS') as string });
    const timeout = await pairstop(['submit', '--wait', '--timeout', '-1', bad]);
    expect(timeout).toMatchObject({ code: 2, err: expect.stringContaining('--timeout') as string });
  });

  it('a batch that fails fails the command with its reason, and its other mouldings can be had', async () => {
    const path = written('cli-partial', ['ash', 'exit']);
    const failed = await pairstop(['submit', '--wait', path]);
    expect(failed).toMatchObject({ code: 1, err: expect.stringMatching(/PS_FAILED.*"exit"/) as string });
    expect((await pairstop(['status', 'cli-partial'])).out).toMatch(/exit: failed/);
    const partial = await pairstop(['result', 'cli-partial', '--partial', '--json']);
    expect(partial.code).toBe(3);
    const batch = checkBatch(JSON.parse(readFileSync(path, 'utf8')));
    const plan = readPlan(partial.out);
    expect(checkPlan(batch, plan).findings).toEqual([]);
    const page = await pairstop(['result', 'cli-partial', '--partial']);
    expect(page).toMatchObject({ code: 3, out: showPlan(batch, plan) });
    expect(page.out).toMatch(/^Partial cut plan: cli-partial +2 of 4 frames/);
  });

  it('cancel ends a batch, once', async () => {
    const path = written('cli-cancel', ['mute']);
    await pairstop(['submit', path]);
    expect(await pairstop(['cancel', 'cli-cancel'])).toMatchObject({
      code: 0,
      out: 'cli-cancel: cancelled\n',
    });
    expect((await pairstop(['result', 'cli-cancel'])).err).toContain('PS_CANCELLED');
  });

  it('list pages through the batches, submit --replace revises one, and who waits alone is told', async () => {
    const alone = { PAIRSTOP_PREFIX: 'alone' };
    const path = written('cli-listed', ['ash']);
    const waited = await pairstop(['submit', '--wait', '--timeout', '1', path], alone);
    expect(waited.code).toBe(1);
    expect(waited.err).toContain('no worker is alive; waiting until one is');
    const other = written('cli-listed', ['oak']);
    const refused = await pairstop(['submit', other], alone);
    expect(refused.err).toContain('submit --replace');
    expect((await pairstop(['submit', '--replace', other], alone)).out).toMatch(
      /^cli-listed: waiting \(replaced, revision 2\)/,
    );
    expect((await pairstop(['status', 'cli-listed', '--revision', '1'], alone)).out).toContain('cancelled');
    const listed = await pairstop(['list', '--state', 'waiting', '--since', '1h'], alone);
    expect(listed.out).toMatch(/^\S+Z {2}cli-listed +waiting, revision 2\n$/);
    expect(await pairstop(['list', '--state', 'lost'], alone)).toMatchObject({ code: 2 });
  });
});
