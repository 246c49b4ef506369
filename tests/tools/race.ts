/** Many batches race for few pieces of the rack while workers and Redis are killed; what must hold at the end. */
import { checkPlan } from '../../src/check/check.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { Plan } from '../../src/documents/plan/types.js';
import { keysOf } from '../../src/queue/names.js';
import { Killable } from './killable.js';
import { added, audited, happen, rackAt } from './rack.js';
import { TestRedis } from './redis.js';
import { testClient } from './service.js';
import { shopBatch, shopPieces, takenBy } from './shop.js';

export interface RaceOptions {
  readonly batches: number;
  /** Of each of two mouldings. */
  readonly pieces: number;
  readonly workers: number;
  readonly kills: number;
  /** Of Redis, beside those of workers. */
  readonly outages: number;
  readonly seed: number;
}

export interface RaceResult {
  /** What should not be, in words; empty when all held. */
  readonly faults: readonly string[];
  readonly seconds: number;
  /** Mouldings planned again because pieces had gone. */
  readonly again: number;
  readonly waits: number;
}

const MOULDINGS = ['ash', 'oak'] as const;
const WAIT_MS = 240_000;

const pause = (ms: number): Promise<void> => new Promise((resolve) => setTimeout(resolve, ms));

export async function race(options: RaceOptions): Promise<RaceResult> {
  const { batches, pieces, workers, kills, outages, seed } = options;
  let random = seed;
  const next = (below: number): number => {
    random = (Math.imul(random, 1_664_525) + 1_013_904_223) >>> 0;
    return random % below;
  };
  // Only what is written before it is answered is there after a kill.
  const redis = await TestRedis.start({ args: ['--appendfsync', 'always'] });
  const raw = redis.connect();
  const client = testClient(redis, 'pairstop', 60_000);
  const running: Killable[] = [];
  const faults: string[] = [];
  try {
    const rack = rackAt(raw, 'pairstop');
    await happen(rack, [], MOULDINGS.flatMap((moulding) => shopPieces(moulding, pieces)).map(added));
    const settings = { nowSlots: 2 };
    for (let i = 0; i < workers; i++) running.push(await Killable.start(redis.url, settings));
    const began = performance.now();
    const documents = Array.from({ length: batches }, (_, i) =>
      shopBatch(`race-${i}`, i % 3 === 0 ? MOULDINGS : [MOULDINGS[i % 2]!]),
    );
    const submitted = Promise.all(documents.map((document) => client.submit(document)));
    let [again, waits] = [0, 0];
    const harvest = (worker: Killable): void => {
      again += worker.lines.filter(({ msg }) => msg.startsWith('pieces are gone')).length;
      waits += worker.lines.filter(({ msg }) => msg.startsWith('plan waits')).length;
    };
    for (let i = 0; i < kills + outages; i++) {
      await pause(300 + next(900));
      if (i % Math.max(1, Math.ceil((kills + outages) / Math.max(1, outages))) === 1 && outages > 0) {
        await redis.down();
        await pause(next(600));
        await redis.up();
      } else {
        const [victim] = running.splice(next(running.length), 1);
        await victim?.end('SIGKILL');
        if (victim !== undefined) harvest(victim);
        running.push(await Killable.start(redis.url, settings));
      }
    }
    await submitted;
    const plans: Plan[] = [];
    for (const document of documents) {
      const plan = await client.result(document.id, { wait: WAIT_MS });
      const { total, findings } = checkPlan(checkBatch(document), plan);
      if (total > 0) faults.push(`${document.id}: ${JSON.stringify(findings[0])}`);
      plans.push(plan);
    }
    const seconds = (performance.now() - began) / 1_000;
    for (const worker of running) harvest(worker);
    const taken = takenBy(plans);
    if (taken.size !== MOULDINGS.length * pieces) {
      faults.push(
        `${taken.size} of ${MOULDINGS.length * pieces} pieces are used although the rest is bought`,
      );
    }
    const keys = keysOf('pairstop');
    const states = await raw.hgetall(keys.rack.states);
    for (const [id, state] of Object.entries(states)) {
      const due = taken.has(id) ? `reserved ${taken.get(id)}` : 'free';
      if (state !== due) faults.push(`${id} is ${state}, its plan says ${due}`);
    }
    for (const { id } of documents) {
      const published = await raw.hget(keys.record(`b-${id}`), 'published');
      if (published !== '1') faults.push(`${id} was published ${published ?? '0'} times`);
    }
    const left = await raw.zcard(keys.rack.tickets);
    if (left > 0) faults.push(`${left} tickets are left`);
    const { findings } = await audited(rack);
    for (const finding of findings) faults.push(JSON.stringify(finding));
    return { faults, seconds, again, waits };
  } finally {
    for (const worker of running) await worker.end('SIGKILL');
    await client.close();
    raw.disconnect();
    await redis.end();
  }
}
