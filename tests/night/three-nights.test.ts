/**
 * Three nights of the lakeside art school and two neighbours' shops, by the commands alone, each a process of its own: what
 * they order of the same mouldings is planned as one, and each one's page says what its wood cost and what pooling saved.
 */
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, it } from 'vitest';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import type { Plan } from '../../src/documents/plan/types.js';
import type { Quote } from '../../src/documents/quote/schema.js';
import { DEMO, type Ended, runCli } from '../tools/cli.js';
import { Killable } from '../tools/killable.js';
import { TestRedis } from '../tools/redis.js';
import { until } from '../tools/service.js';

let redis: TestRedis;
let worker: Killable;
let folder: string;

beforeAll(async () => {
  redis = await TestRedis.start();
  worker = await Killable.start(redis.url, { nowSlots: 2 });
  folder = mkdtempSync(join(tmpdir(), 'pairstop-nights-'));
}, 120_000);

afterAll(async () => {
  await worker.end('SIGTERM');
  await redis.end();
  rmSync(folder, { recursive: true, force: true });
});

const run = (...args: readonly string[]): Promise<Ended> => runCli(args, '', { REDIS_URL: redis.url });

async function done(...args: readonly string[]): Promise<string> {
  const { code, out, err } = await run(...args);
  if (code !== 0) throw new Error(`pairstop ${args.join(' ')}: exit ${code}: ${err}${out}`);
  return out;
}

const demo = JSON.parse(readFileSync(DEMO, 'utf8')) as BatchDocument;

/** Some of the demo's frames as an order of its own, from the rack of the shop. */
function order(id: string, lines: readonly string[], more: Partial<BatchDocument> = {}): string {
  const { sticks: _, ...rest } = demo;
  const frames = demo.frames
    .filter((frame) => lines.includes(frame.id))
    .map((frame) => ({ ...frame, quantity: 2 }));
  const path = join(folder, `${id}.json`);
  writeFileSync(
    path,
    JSON.stringify({ ...rest, id, frames, rack: 'shop', options: { timeLimit: 4 }, ...more }),
  );
  return path;
}

async function finished(id: string): Promise<void> {
  await until(`${id} has ended`, async () => /: done/.test((await run('status', id)).out), 90_000);
}

/** Each one's page: what its wood cost, what pooling saved, how sure that is. */
async function pages(ids: readonly string[]): Promise<Plan> {
  for (const id of ids) {
    await finished(id);
    const page = await done('result', id);
    expect(page).toMatch(new RegExp(`^Batch ${id}`));
    expect(page).toMatch(/Its wood cost \d+\.\d\d\. Pooling saved -?\d+\.\d\d/);
    expect(page).toMatch(/proven/);
  }
  const file = join(folder, 'plan.json');
  await done('result', ids[0]!, '--out', file);
  const plan = JSON.parse(readFileSync(file, 'utf8')) as Plan;
  expect(plan.batches!.map(({ batch }) => batch)).toEqual(ids);
  const shares = plan.batches!.reduce((sum, { share }) => sum + Math.round(share * 100), 0);
  expect(shares).toBe(Math.round(plan.totals.cost * 100));
  return plan;
}

it('plans three nights as one each, and says what each order paid and saved', async () => {
  await done('rack', 'add', 'r1', '--moulding', 'ash-cap', '--length', '61 1/4 in');
  await done('rack', 'add', 'r2', '--moulding', 'poplar-flat', '--length', '58 in');

  // The first night closes by command.
  const school = order('school-1', ['A-101', 'P-201', 'W-302']);
  expect(await done('submit', school, '--pool', '--due', '2026-12-01')).toContain('waiting');
  await done('submit', order('baker-1', ['A-102', 'P-202']), '--pool');
  const asks = order('smith-1', ['A-103', 'W-302']);
  const quote = JSON.parse(await done('quote', asks, '--json')) as Quote;
  const alone = JSON.parse(await done('quote', asks, '--against', 'nothing', '--json')) as Quote;
  expect(quote.beside.batches).toBe(2);
  expect(quote.money.least).toBeLessThanOrEqual(alone.money.most);
  await done('submit', asks, '--pool');
  expect(await done('night')).toMatch(/3 batches wait .*needed by 2026-12-01/s);
  expect(await done('night', 'close')).toContain('night-1: closed with 3 batches');
  const first = await pages(['school-1', 'baker-1', 'smith-1']);
  expect(first.batch).toBe('night-1');
  expect(await done('status', 'school-1')).toContain('planned with night-1');
  // The plan is checked against the batch of all; against one alone the answer says how.
  const [plan, all] = [join(folder, 'plan.json'), join(folder, 'all.json')];
  const refused = await run('check', school, plan);
  expect([refused.code, refused.err]).toEqual([1, '']);
  expect(refused.out).toContain('pairstop result night-1 --batch FILE');
  await done('result', 'school-1', '--batch', all);
  expect(await done('check', all, plan)).toContain('nothing wrong');
  const sheet = join(folder, 'night.html');
  await done('result', 'night-1', '--sheet', sheet);
  expect(readFileSync(sheet, 'utf8')).toContain('Whose it is');
  await done('rack', 'audit');
  // It is cut as one, and what is over lies there for the next.
  expect((await run('cut', 'school-1', '--all')).err).toContain('night-1');
  await done('rack', 'receive', 'night-1');
  await done('cut', 'night-1', '--all');
  await done('rack', 'audit');

  // The second by itself, with one order fewer.
  await done('submit', order('school-2', ['A-102', 'P-203']), '--pool');
  await done('submit', order('baker-2', ['A-101', 'P-201']), '--pool');
  await done('submit', order('smith-2', ['P-202']), '--pool');
  await done('cancel', 'smith-2');
  expect(
    await done('night', 'set', '--close', '22:00', '--zone', 'Europe/Berlin', '--at-most', '0.0005'),
  ).toContain('22:00, Europe/Berlin');
  await pages(['school-2', 'baker-2']);
  await done('rack', 'audit');

  // The third has a batch that another saw cuts.
  expect(await run('night', 'set', '--close', '25:00')).toMatchObject({ code: 2 });
  expect((await run('night', 'set', '--zone', 'Atlantis')).err).toContain('PS_USAGE');
  await done('night', 'set', '--at-most', '24');
  await done('submit', order('school-3', ['W-302']), '--pool');
  await done('submit', order('baker-3', ['W-301']), '--pool');
  await done('submit', order('smith-3', ['W-301'], { saw: { kerf: '1/8' } }), '--pool');
  await done('night', 'close');
  const third = await pages(['school-3', 'baker-3']);
  await finished('smith-3');
  const own = await done('result', 'smith-3');
  expect(own).toContain(`Planned by itself: ${third.batch}-2`);
  expect(own).toMatch(/It is planned apart .* unlike saw/s);
  expect(await done('night')).toContain('the pool is empty');
  await done('rack', 'audit');
}, 400_000);
