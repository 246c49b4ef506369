/**
 * Writes the records of today's code to the file named on the command line, as `tests/fixtures/records-*.jsonl` keeps
 * them for every version: run it with the code as it was, before a change to what is stored.
 *
 * One batch in each state: done, done as a comparison, failed with a partial plan, cancelled, waiting for now and
 * for tonight, and one whose worker was killed in the middle of a solve and left a checkpoint and a heartbeat.
 */
import { writeFileSync } from 'node:fs';
import { batchOf } from './batches.js';
import { Killable } from './killable.js';
import { TestRedis } from './redis.js';
import { testClient, testWorker, until } from './service.js';
import { dumpShop } from './shop-dump.js';

const [file] = process.argv.slice(2);
if (file === undefined) throw new Error('which file?');
const redis = await TestRedis.start();
const raw = redis.connect();
const client = testClient(redis);
try {
  const first = await testWorker(redis.url, { attempts: 1 });
  await client.submit(batchOf('done', ['ash', 'oak']));
  await client.submit(batchOf('compared', ['ash']), { work: 'compare' });
  await client.submit(batchOf('failed', ['ash', 'memory']));
  await client.submit(batchOf('cancelled', ['wait-20000']));
  await client.result('done', { wait: 30_000 });
  await client.comparison('compared', { wait: 30_000 });
  await client.result('failed', { wait: 60_000, partial: true });
  await client.cancel('cancelled');
  await first.stop();
  const killed = await Killable.start(redis.url);
  await client.submit(batchOf('begun', ['wait-1500', 'pine'], { timeLimit: 60 }));
  await until(
    'a checkpoint is stored',
    async () => (await raw.hexists('pairstop:store:b-begun', 'b:0')) === 1,
  );
  await killed.end();
  await client.submit(batchOf('waiting', ['ash']));
  await client.submit(batchOf('tonight', ['ash'], { urgency: 'tonight' }));
  writeFileSync(file, await dumpShop(raw));
} finally {
  await client.close();
  raw.disconnect();
  await redis.end();
}
