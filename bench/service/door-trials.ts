/** The door under abuse: requests spoiled by seed, and kills of the door and of Redis in the middle of rounds. */
import { Agent } from 'node:http';
import { Redis } from 'ioredis';
import { batchOf } from '../../tests/tools/batches.js';
import { type FuzzDocument, fuzzRequests, judge } from '../../tests/tools/fuzz.js';
import { DoorProcess, type HttpAnswer, http } from './door-setting.js';
import { type Figure, round, sleep, withService } from './setting.js';

const MB = 2 ** 20;
const AT_ONCE = 8;
const CHUNK = 1_000;
/** Bytes the door may grow by after the first thousands of requests have warmed it. */
const GROWTH_MB = 60;

export async function* doorFuzz(full: boolean): AsyncGenerator<Figure> {
  const count = full ? 20_000 : 4_000;
  yield await withService([{ nowSlots: 1 }], async ({ redis }) => {
    const door = await DoorProcess.start(redis.url);
    try {
      const { text } = await http(door.url, 'GET', '/v1/openapi.json');
      const document = JSON.parse(text) as FuzzDocument;
      const agent = new Agent({ keepAlive: true, maxSockets: AT_ONCE });
      const faults: string[] = [];
      const memory: number[] = [];
      const began = performance.now();
      for (let seed = 0; seed * CHUNK < count; seed++) {
        const requests = fuzzRequests(document, 1_000 + seed, CHUNK);
        let at = 0;
        const work = async (): Promise<void> => {
          for (let one = requests[at++]; one !== undefined; one = requests[at++]) {
            const fault = await judge(door.url, agent, one);
            if (fault !== null)
              faults.push(`seed ${1_000 + seed}: ${one.method} ${one.path.slice(0, 60)}: ${fault}`);
          }
        };
        await Promise.all(Array.from({ length: AT_ONCE }, work));
        memory.push(door.memory / MB);
      }
      agent.destroy();
      const warm = Math.max(...memory.slice(0, Math.ceil(memory.length / 4)));
      const growth = Math.max(...memory.slice(-3)) - warm;
      return {
        what: 'requests spoiled by seed',
        requests: count,
        faults: faults.length,
        first: faults.slice(0, 5),
        seconds: round((performance.now() - began) / 1_000),
        memoryMB: memory.map((mb) => Math.round(mb)),
        growthMB: round(growth),
        kept: faults.length === 0 && growth < GROWTH_MB,
      };
    } finally {
      await door.end('SIGTERM');
    }
  });
}

/** Asks again until there is an answer other than "later", as a client is told to. */
async function persistent(url: string, method: string, path: string, body?: string): Promise<HttpAnswer> {
  for (let tries = 0; tries < 600; tries++) {
    try {
      const headers = { prefer: 'wait=5' };
      const answer = await http(url, method, path, body === undefined ? { headers } : { body });
      const later = answer.status === 503 || (answer.status === 409 && answer.text.includes('PS_PENDING'));
      if (!later) return answer;
    } catch {
      // The door is being started again.
    }
    await sleep(100);
  }
  throw new Error(`${method} ${path}: no answer in ten minutes`);
}

/** `slice`: only so many rounds, from the `first` on, since all of them take longer than one may run at a stretch. */
export async function* doorKills(
  full: boolean,
  slice?: { readonly first: number; readonly rounds: number },
): AsyncGenerator<Figure> {
  const { first, rounds } = slice ?? { first: 0, rounds: full ? 100 : 20 };
  yield await withService([{ nowSlots: 2 }], async ({ redis }) => {
    const door = await DoorProcess.start(redis.url);
    const began = performance.now();
    let [lost, wrong, killed] = [0, 0, 0];
    try {
      for (let i = first; i < first + rounds; i++) {
        const ids = Array.from({ length: 4 }, (_, n) => `round-${i}-${n}`);
        const all = Promise.all(
          ids.map(async (id) => {
            const body = JSON.stringify(batchOf(id, ['ash'], { frames: 4, seed: i }));
            // Twice, as by a client that did not get the first answer.
            await Promise.all([
              persistent(door.url, 'POST', '/v1/batches', body),
              persistent(door.url, 'POST', '/v1/batches', body),
            ]);
            const plan = await persistent(door.url, 'GET', `/v1/batches/${id}/plan`);
            if (plan.status !== 200) lost += 1;
            else if ((JSON.parse(plan.text) as { batch: string }).batch !== id) wrong += 1;
          }),
        );
        await sleep((i * 37) % 300);
        killed += 1;
        if (i % 2 === 0) {
          await door.end('SIGKILL');
          await door.up();
        } else {
          await redis.down();
          await sleep(200);
          await redis.up();
        }
        await all;
      }
      const records = new Redis(redis.url);
      const keys = await records.keys('pairstop:store:b-round-*');
      const published = await Promise.all(keys.map((key) => records.hget(key, 'published')));
      records.disconnect();
      const doubled = published.filter((times) => times !== '1').length;
      const batches = rounds * 4;
      return {
        what: 'kill -9 of the door or of Redis in the middle of rounds of submit, wait, fetch',
        first,
        rounds,
        killed,
        batches,
        lost: lost + (batches - keys.length),
        doubled,
        wrong,
        minutes: round((performance.now() - began) / 60_000),
        kept: lost === 0 && doubled === 0 && wrong === 0 && keys.length === batches,
      };
    } finally {
      await door.end('SIGTERM');
    }
  });
}
