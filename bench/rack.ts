/**
 * The rack in figures: changes a second, publishing beside 50,000 pieces, and with `--race` two hundred batches for
 * forty pieces while workers and Redis are killed. Answers are checked first: the audit balances after each part.
 * Exit 1 when an answer is wrong or a promise is not kept. `--short` is a trial of the bench itself.
 *
 *     npm run bench:rack [-- --race] [--short]
 */
import type { Plan } from '../src/documents/plan/types.js';
import { race } from '../tests/tools/race.js';
import { added, audited, happen, rackAt, rackPiece } from '../tests/tools/rack.js';
import { TestRedis } from '../tests/tools/redis.js';
import { testClient, testWorker } from '../tests/tools/service.js';
import { shopBatch } from '../tests/tools/shop.js';

const SHORT = process.argv.includes('--short');
const MANY = SHORT ? 5_000 : 50_000;
const MOULDINGS = MANY / 100;
const ROUNDS = SHORT ? 30 : 200;
/** What publishing beside the rack may add at the 99th percentile. */
const MORE_MS = 20;

function centile(all: readonly number[], share: number): number {
  const sorted = all.toSorted((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? 0;
}

function told(what: string, times: readonly number[]): void {
  const [half, most] = [centile(times, 0.5), centile(times, 0.99)];
  console.log(`${what}: median ${half.toFixed(1)} ms, 99th percentile ${most.toFixed(1)} ms`);
}

async function mustBalance(store: ReturnType<typeof rackAt>): Promise<number> {
  const began = performance.now();
  const report = await audited(store);
  if (!report.ok) throw new Error(JSON.stringify(report.findings[0]));
  return performance.now() - began;
}

async function operations(redis: TestRedis): Promise<void> {
  const raw = redis.connect();
  const store = rackAt(raw, 'operations');
  const began = performance.now();
  const pieces = Array.from({ length: MANY }, (_, i) =>
    added(rackPiece(`p${i}`, `moulding-${i % MOULDINGS}`, 400_000 + ((i * 7_919) % 2_000_000))),
  );
  await happen(store, [], pieces);
  console.log(`${MANY} pieces entered in one step: ${((performance.now() - began) / 1_000).toFixed(1)} s`);
  console.log(`their audit: ${((await mustBalance(store)) / 1_000).toFixed(1)} s`);
  for (const clients of [1, 8]) {
    const connections = Array.from({ length: clients }, () => redis.connect());
    const start = performance.now();
    await Promise.all(
      connections.map(async (connection, c) => {
        const own = rackAt(connection, 'operations');
        for (let i = 0; i < ROUNDS; i++) {
          const id = `p${c * ROUNDS + i}`;
          await happen(own, [id], [{ kind: 'moved', piece: id, place: `B${i % 9}` }]);
        }
      }),
    );
    const seconds = (performance.now() - start) / 1_000;
    console.log(`changes a second, ${clients} at once: ${((clients * ROUNDS) / seconds).toFixed(0)}`);
    for (const connection of connections) connection.disconnect();
  }
  await mustBalance(store);
  const bytes = Number(/used_memory:(\d+)/.exec(await raw.info('memory'))?.[1] ?? 0);
  console.log(`memory of Redis: ${(bytes / 2 ** 20).toFixed(0)} MB`);
  raw.disconnect();
}

/** Submit to plan: without a rack, and beside 50,000 pieces of which a hundred are of the moulding. */
async function publishing(redis: TestRedis): Promise<boolean> {
  const raw = redis.connect();
  const worker = await testWorker(redis.url, { nowSlots: 1, prefix: 'publishing' });
  const client = testClient(redis, 'publishing');
  const store = rackAt(raw, 'publishing');
  try {
    const pieces = Array.from({ length: MANY }, (_, i) =>
      added(rackPiece(`p${i}`, `moulding-${i % MOULDINGS}`, 1_750_000)),
    );
    await happen(store, [], pieces);
    const times: { without: number[]; beside: number[] } = { without: [], beside: [] };
    for (let i = 0; i < ROUNDS; i++) {
      const moulding = `moulding-${i % MOULDINGS}`;
      const { rack: _rack, ...plain } = shopBatch(`without-${i}`, [moulding]);
      const sticks = Array.from({ length: MANY / MOULDINGS }, (_, n) => ({
        id: `own-${n}`,
        moulding,
        length: 1_750,
      }));
      for (const [kind, document] of [
        ['without', { ...plain, sticks }],
        ['beside', shopBatch(`beside-${i}`, [moulding])],
      ] as const) {
        const began = performance.now();
        await client.submit(document);
        const plan: Plan = await client.result(document.id, { wait: 60_000 });
        times[kind].push(performance.now() - began);
        if (plan.status !== 'complete' || plan.buy.length > 0)
          throw new Error(`${document.id} is not cut from its pieces`);
      }
    }
    told('submit to plan, the same pieces in the batch', times.without);
    told(`submit to plan, from the rack of ${MANY}`, times.beside);
    const more = centile(times.beside, 0.99) - centile(times.without, 0.99);
    console.log(`more at the 99th percentile: ${more.toFixed(1)} ms, promised ${MORE_MS}`);
    await mustBalance(store);
    return more <= MORE_MS;
  } finally {
    await worker.stop();
    await client.close();
    raw.disconnect();
  }
}

let kept = true;
const redis = await TestRedis.start();
try {
  await operations(redis);
  kept = await publishing(redis);
} finally {
  await redis.end();
}
if (process.argv.includes('--race')) {
  const options = SHORT
    ? { batches: 40, pieces: 10, kills: 4, outages: 1 }
    : { batches: 200, pieces: 20, kills: 12, outages: 4 };
  const { batches, pieces, kills, outages } = options;
  const { faults, seconds, again, waits } = await race({ ...options, workers: 2, seed: 16 });
  console.log(
    `${batches} batches for ${2 * pieces} pieces, ${kills} workers and ${outages} Redis servers killed: ` +
      `${seconds.toFixed(0)} s, ${faults.length} faults; planned again ${again} times, waited ${waits} times`,
  );
  for (const fault of faults) console.log(fault);
  kept &&= faults.length === 0;
}
process.exit(kept ? 0 : 1);
