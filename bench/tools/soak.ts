/**
 * Many batches while faults of all kinds come at random moments, from a seed. Afterwards every batch must have exactly
 * one plan, the same as without trouble, no process may be left, and the workers' logs must have named each outage once.
 */

import { checkPlan } from '../../src/check/check.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { planBatchHere } from '../../src/plan/here.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { type Client, createClient } from '../../src/queue/client/client.js';
import { jobIdOf } from '../../src/queue/names.js';
import { createEngine, type Engine } from '../../src/solve/engine.js';
import { batchOf } from '../../tests/tools/batches.js';
import { TestRedis } from '../../tests/tools/redis.js';
import { FAULT_KINDS, type FaultKind, Trouble } from './faults.js';
import { type Random, seeded } from './random.js';

export interface SoakSettings {
  readonly seed: string;
  readonly batches: number;
  readonly faults: number;
  /** By default all. */
  readonly kinds?: readonly FaultKind[];
  readonly workers: number;
}

export interface SoakResult {
  readonly batches: number;
  readonly faults: readonly FaultKind[];
  /** Lines about faults that a worker's log lacks or has too many of. */
  readonly unnamed: readonly string[];
  /** Without a plan in the end. */
  readonly lost: number;
  /** Published other than once. */
  readonly notOnce: number;
  /** Plans that fail the check, or differ from the plan made without trouble. */
  readonly wrong: number;
  /** And how. */
  readonly howWrong: readonly string[];
  /** Plans whose search the time limit ended, on a machine with much else to do: right, but not those made in peace. */
  readonly cutShort: number;
  /** Processes alive afterwards. */
  readonly left: number;
  readonly seconds: number;
  /** Whole seconds of each fault, from its beginning until its end was told. */
  readonly took: readonly number[];
  /** From the end of the last fault to the last plan looked at. */
  readonly secondsAfter: number;
}

/** On a machine with much else to do all of it is slow: late is not lost. */
const LONGEST_MS = 600_000;
/** Whoever had its plan this soon was not at the end of its time. */
const IN_PEACE_MS = 10_000;

function sleep(ms: number): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, ms));
}

function documents(random: Random, { seed, batches }: SoakSettings): BatchDocument[] {
  const mouldings = ['ash', 'oak', 'elm', 'wait-50', 'wait-200', 'wait-600'];
  return Array.from({ length: batches }, (_, i) => {
    const from = random.int(0, mouldings.length - 1);
    const chosen = Array.from(
      { length: random.int(1, 3) },
      (_, k) => mouldings[(from + k) % mouldings.length]!,
    );
    return batchOf(`${seed} ${i}`, chosen, { frames: random.int(1, 3), timeLimit: 60 });
  });
}

/** A Redis that is full takes nothing new: whoever submits tries again. */
async function submitted(client: Client, document: BatchDocument): Promise<void> {
  for (const end = performance.now() + LONGEST_MS; ; ) {
    try {
      await client.submit(document);
      return;
    } catch (error) {
      if (performance.now() > end) throw error;
      await sleep(500);
    }
  }
}

/** Where two texts part, with what stands there; null: nowhere. */
function parting(one: string, other: string): string | null {
  if (one === other) return null;
  let at = 0;
  while (one[at] === other[at]) at += 1;
  const [from, to] = [Math.max(0, at - 60), at + 60];
  return `${one.slice(from, to)} instead of ${other.slice(from, to)}`;
}

async function judge(client: Client, redis: TestRedis, engine: Engine, document: BatchDocument) {
  const verdict = { lost: 0, notOnce: 0, wrong: 0, cutShort: 0, how: [] as string[] };
  const plan = await client.result(document.id, { wait: LONGEST_MS }).catch(() => null);
  if (plan === null) return { ...verdict, lost: 1 };
  const batch = checkBatch(document);
  const expected = planBatchHere(batch, engine, { now: () => performance.now() });
  const raw = redis.connect();
  const published = await raw.hget(`pairstop:store:${jobIdOf(document.id)}`, 'published');
  raw.disconnect();
  const differs = parting(JSON.stringify(plan), JSON.stringify(expected));
  const findings = checkPlan(batch, plan).findings.map(({ code }) => code);
  const { started, finished } = await client.status(document.id);
  const took = (finished ?? Number.POSITIVE_INFINITY) - (started ?? 0);
  // What is proven to cost as little may be handled otherwise where the clock ended the search for less of that.
  const cut =
    differs !== null &&
    took > IN_PEACE_MS &&
    plan.mouldings.every(
      ({ proof }, i) => proof.status !== 'optimal' || proof.value === expected.mouldings[i]?.proof.value,
    );
  const how = [...(differs === null || cut ? [] : [differs]), ...findings];
  return {
    lost: 0,
    notOnce: published === '1' ? 0 : 1,
    wrong: how.length > 0 ? 1 : 0,
    cutShort: cut ? 1 : 0,
    how: how.map((text) => `${document.id}: ${text}`),
  };
}

export async function soak(settings: SoakSettings): Promise<SoakResult> {
  // Each draws from a row of its own, so that a seed means the same run whatever comes first.
  const random = seeded(`${settings.seed} moments`);
  const pauses = seeded(`${settings.seed} pauses`);
  const began = performance.now();
  const redis = await TestRedis.start();
  const client = createClient({ connection: redis.url, patience: 30_000 });
  const trouble = await Trouble.around(seeded(`${settings.seed} faults`), redis);
  const engine = createEngine({ highs: highsRuntime });
  try {
    await trouble.start(settings.workers);
    const all = documents(seeded(`${settings.seed} documents`), settings);
    const submitting = (async () => {
      for (const document of all) {
        await submitted(client, document);
        await sleep(pauses.int(0, 60));
      }
    })();
    for (let i = 0; i < settings.faults; i++) {
      await sleep(random.int(50, 900));
      await trouble.one(settings.kinds ?? FAULT_KINDS);
    }
    const quiet = performance.now();
    await submitting;
    const sum = { lost: 0, notOnce: 0, wrong: 0, cutShort: 0 };
    const howWrong: string[] = [];
    for (const document of all) {
      const verdict = await judge(client, redis, engine, document);
      sum.lost += verdict.lost;
      sum.notOnce += verdict.notOnce;
      sum.wrong += verdict.wrong;
      sum.cutShort += verdict.cutShort;
      howWrong.push(...verdict.how);
    }
    await client.close();
    const left = await trouble.end();
    const seconds = (performance.now() - began) / 1_000;
    return {
      batches: all.length,
      faults: trouble.faults,
      unnamed: trouble.unnamed,
      ...sum,
      howWrong,
      left,
      seconds: Math.round(seconds),
      secondsAfter: Math.round((performance.now() - quiet) / 1_000),
      took: trouble.took,
    };
  } finally {
    await client.close();
    await trouble.end();
    await redis.end();
  }
}
