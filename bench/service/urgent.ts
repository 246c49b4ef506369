/** A small batch for a customer at the counter, while fifty huge batches are queued for tonight. */

import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { batchOf } from '../../tests/tools/batches.js';
import { seeded } from '../tools/random.js';
import { type Figure, percentile, round, type Setting, sleep, withService } from './setting.js';

const PROMISED_MORE_MS = 2_000;
const MONSTERS = 50;
const QUESTIONS = 10;

/** Hundreds of lengths in one moulding: no plan of it is proven soon. */
function monster(i: number): BatchDocument {
  const random = seeded(`monster ${i}`);
  const document = batchOf(`monster ${i}`, ['oak'], { urgency: 'tonight', timeLimit: 3_600 });
  const frames = Array.from({ length: 400 }, (_, k) => ({
    id: `f${k}`,
    moulding: 'oak',
    width: random.int(400, 1_800) / 2,
    height: random.int(400, 1_800) / 2,
  }));
  return { ...document, frames };
}

async function ask({ client }: Setting, name: string): Promise<number[]> {
  const answers: number[] = [];
  for (let i = 0; i < QUESTIONS; i++) {
    const document = batchOf(`${name} ${i}`, ['ash'], { frames: 8 });
    const began = performance.now();
    await client.submit(document);
    await client.result(document.id, { wait: 60_000 });
    answers.push(performance.now() - began);
    await sleep(100);
  }
  return answers.slice(2);
}

export async function* urgent(): AsyncGenerator<Figure> {
  yield await withService([{ nowSlots: 2, tonightSlots: 2 }], async (setting) => {
    const idle = await ask(setting, 'idle');
    for (let i = 0; i < MONSTERS; i++) await setting.client.submit(monster(i));
    await sleep(5_000);
    const busy = await ask(setting, 'busy');
    const { queues } = await setting.client.service();
    for (let i = 0; i < MONSTERS; i++) await setting.client.cancel(`monster ${i}`);
    const more = Math.max(...busy) - percentile(idle, 0.5);
    return {
      what: `an 8-frame batch for now, ${MONSTERS} monsters queued for tonight`,
      idleP50Ms: round(percentile(idle, 0.5)),
      busyP50Ms: round(percentile(busy, 0.5)),
      busyWorstMs: round(Math.max(...busy)),
      moreWorstMs: round(more),
      monstersSolving: queues.tonight.mouldings.active,
      promisedMoreMs: PROMISED_MORE_MS,
      kept: more < PROMISED_MORE_MS && queues.tonight.mouldings.active > 0,
    };
  });
}
