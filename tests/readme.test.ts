/** What the README shows is so: its client is a program that runs on its own batch, its figures are the demo's. */
import { execFile } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { naivePlan } from '../bench/tools/naive.js';
import { readBatch } from '../src/documents/batch/read.js';
import type { Plan } from '../src/documents/plan/types.js';
import { compareBatch } from '../src/processes/compare-batch.js';
import { planBatch } from '../src/processes/plan-batch.js';
import { showComparison } from '../src/show/comparison.js';
import { showPlan } from '../src/show/plan.js';
import { DEMO } from './tools/cli.js';
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

function table(first: string): readonly string[] {
  const row = readme.split('\n').find((line) => line.startsWith(`| ${first}`));
  return (row ?? '')
    .split('|')
    .slice(2, -1)
    .map((cell) => cell.trim());
}

function figures(plan: Plan): readonly string[] {
  const { totals } = plan;
  const bought = plan.mouldings
    .flatMap(({ sticks }) => sticks)
    .filter(({ source }) => source === 'offer').length;
  const stopMoves = totals.stopsSet?.value ?? totals.stopSettings;
  const visits = totals.handling?.visits ?? 0;
  const share = `${(totals.yield * 100).toFixed(1)} %`;
  return [totals.sticks, bought, totals.cost.toFixed(2), stopMoves, visits, share].map(String);
}

describe("the README's figures of the demo", () => {
  const demo = readBatch(readFileSync(DEMO));

  it('are those of its page, its plan and its cutting without a plan', async () => {
    const plan = await planBatch(demo);
    const page = showPlan(demo, plan);
    const shown = /<!-- demo page -->\n```\n([\s\S]*?)\n```/.exec(readme)?.[1] ?? '';
    const parts = shown.split('\n  …').map((part) => part.trim());
    expect(parts.length).toBeGreaterThan(3);
    let from = 0;
    for (const part of parts) {
      const at = page.indexOf(part, from);
      if (at < from) throw new Error(`the demo's page has no such part here:\n${part}`);
      from = at + part.length;
    }
    expect(table('Pairstop')).toEqual(figures(plan));
    expect(table('cut without a plan')).toEqual(figures(naivePlan(demo)!));
  });

  it('and what its walnut says of stick lengths', async () => {
    const of = <T extends { readonly moulding: string }>(list: readonly T[]): readonly T[] =>
      list.filter(({ moulding }) => moulding === 'walnut-swan');
    const walnut = {
      ...demo,
      mouldings: demo.mouldings.filter(({ id }) => id === 'walnut-swan'),
      frames: of(demo.frames),
      sticks: of(demo.sticks),
      offers: of(demo.offers),
    };
    const page = showComparison(walnut, await compareBatch(walnut)).replace(/\s+/g, ' ');
    const shown = /```\n(walnut-swan: buy[\s\S]*?)\n```/.exec(readme)?.[1] ?? 'no such block';
    expect(page).toContain(shown.replace(/\s+/g, ' '));
  });
});

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
