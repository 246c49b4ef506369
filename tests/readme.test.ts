/** The README's example of the typed client is a program that runs, on the README's own batch. */
import { execFile } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { readBatch } from '../src/documents/batch/read.js';
import { planBatch } from '../src/run/plan-batch.js';
import { TestRedis } from './tools/redis.js';
import { type TestWorker, testWorker } from './tools/service.js';

const run = promisify(execFile);
const readme = readFileSync(new URL('../README.md', import.meta.url), 'utf8');

function block(language: string, holding: string): string {
  const blocks = [...readme.matchAll(new RegExp(`^\`\`\`${language}\n(.*?)^\`\`\``, 'gms'))];
  const found = blocks.map(([, text = '']) => text).find((text) => text.includes(holding));
  if (found === undefined) throw new Error(`the README has no ${language} example with ${holding}`);
  return found;
}

const order = block('json', 'pairstop/batch@1');

let redis: TestRedis;
let worker: TestWorker;
let dir: string;

beforeAll(async () => {
  redis = await TestRedis.start();
  worker = await testWorker(redis.url);
  dir = mkdtempSync(join(tmpdir(), 'pairstop-readme-'));
  // As a program that has installed the package, but without a build.
  const source = new URL('../src/index.ts', import.meta.url).href;
  const program = block('ts', 'createClient').replace("'pairstop'", `'${source}'`);
  writeFileSync(join(dir, 'client.mts'), program);
});

afterAll(async () => {
  await worker.stop();
  await redis.end();
  rmSync(dir, { recursive: true, force: true });
});

async function client(batch: string, url: string): Promise<{ readonly out: string; readonly err: string }> {
  writeFileSync(join(dir, 'order.json'), batch);
  const { stdout, stderr } = await run(
    process.execPath,
    ['--import', import.meta.resolve('tsx'), join(dir, 'client.mts')],
    {
      cwd: dir,
      env: { ...process.env, REDIS_URL: url },
    },
  );
  return { out: stdout, err: stderr };
}

describe("the README's client", () => {
  it('watches the batch to its end and has its plan', async () => {
    const { out, err } = await client(order, redis.url);
    expect(err).toBe('');
    const plan = await planBatch(readBatch(order));
    const lines = out.trim().split('\n');
    expect(lines.at(-2)).toMatch(/^done \{ total: 1, done: 1, failed: 0 \} 0$/);
    expect(lines.at(-1)).toBe(`complete ${plan.totals.cost}`);
  });

  it('is told of a batch that is refused by its code', async () => {
    const { out, err } = await client(order.replace('"quantity": 2', '"quantity": -2'), redis.url);
    expect(out).toBe('');
    expect(err).toMatch(/^PS_BATCH .*\nframes\[0\]\.quantity of "A-101": given -2/);
  });
});
