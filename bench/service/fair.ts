/** Small orders beside ten long ones for the same night, and whether the long ones end all the same. */
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { batchOf } from '../../tests/tools/batches.js';
import { seeded } from '../tools/random.js';
import { type Figure, percentile, round, type Setting, sleep, withService } from './setting.js';

const PROMISED_MORE_MS = 5_000;
const LONG = 10;
const SHORT_ORDERS = 40;
const FULL_ORDERS = 300;
const BETWEEN_MS = 600;
const LONGEST_MS = 900_000;

/** Three mouldings of hundreds of lengths: their plans take what time there is. */
function long(i: number): BatchDocument {
  const random = seeded(`long ${i}`);
  const mouldings = ['oak', 'elm', 'yew'];
  const document = batchOf(`long ${i}`, mouldings, { timeLimit: 10 });
  const frames = mouldings.flatMap((moulding) =>
    Array.from({ length: 300 }, (_, k) => ({
      id: `${moulding}/${k}`,
      moulding,
      width: random.int(400, 1_800) / 2,
      height: random.int(400, 1_800) / 2,
    })),
  );
  return { ...document, frames };
}

/** Eight frames each of sizes of its own: the same order under each name. */
function small(name: string, order: number): BatchDocument {
  const random = seeded(`order ${order}`);
  const document = batchOf(`${name} ${order}`, ['ash'], { frames: 8 });
  const frames = (document.frames ?? []).map((frame) => ({
    ...frame,
    width: random.int(200, 900),
    height: random.int(200, 900),
  }));
  return { ...document, frames };
}

/** Milliseconds from submitting to the plan, one small order after the other. */
async function ask({ client }: Setting, name: string, count: number): Promise<number[]> {
  const answers: number[] = [];
  for (let i = 0; i < count; i++) {
    const document = small(name, i);
    const began = performance.now();
    await client.submit(document);
    await client.result(document.id, { wait: LONGEST_MS });
    answers.push(performance.now() - began);
    await sleep(BETWEEN_MS);
  }
  return answers;
}

async function ended({ client }: Setting): Promise<number> {
  const states = await Promise.all(
    Array.from({ length: LONG }, async (_, i) => (await client.status(`long ${i}`)).state),
  );
  return states.filter((state) => state === 'done').length;
}

async function besideLong(full: boolean): Promise<Figure> {
  return withService([{ nowSlots: 2 }], async (setting) => {
    const count = full ? FULL_ORDERS : SHORT_ORDERS;
    // Some of these orders take long to prove by themselves, so each is compared with itself.
    await ask(setting, 'warm', 2);
    const idle = await ask(setting, 'idle', count);
    const began = performance.now();
    for (let i = 0; i < LONG; i++) await setting.client.submit(long(i));
    await sleep(2_000);
    const busy = await ask(setting, 'busy', count);
    const endedMeanwhile = await ended(setting);
    for (let i = 0; i < LONG; i++) await setting.client.result(`long ${i}`, { wait: LONGEST_MS });
    const times = busy.map((ms, i) => ({ order: i, idle: idle[i]!, busy: ms, more: ms - idle[i]! }));
    const more = percentile(
      times.map((time) => time.more),
      0.99,
    );
    const worst = times.sort((a, b) => b.more - a.more).slice(0, 3);
    return {
      what: `${count} orders of 8 frames beside ${LONG} long ones, all for now, two slots`,
      idleP50Ms: round(percentile(idle, 0.5)),
      idleWorstMs: round(Math.max(...idle)),
      busyP50Ms: round(percentile(busy, 0.5)),
      busyP99Ms: round(percentile(busy, 0.99)),
      busyWorstMs: round(Math.max(...busy)),
      moreP99Ms: round(more),
      promisedMoreMs: PROMISED_MORE_MS,
      worst: worst.map(({ order, ...ms }) => [order, round(ms.idle), round(ms.busy)]),
      longEndedMeanwhile: endedMeanwhile,
      longAllEndedAfterS: round((performance.now() - began) / 1_000),
      kept: more < PROMISED_MORE_MS,
    };
  });
}

/** A batch of thousands of mouldings, as small each as they come. */
async function besideMany(full: boolean): Promise<Figure> {
  return withService([{ nowSlots: 2 }], async (setting) => {
    const mouldings = Array.from({ length: full ? 5_000 : 600 }, (_, i) => `m${i}`);
    await ask(setting, 'warm', 2);
    const document = batchOf('many', mouldings, { timeLimit: 600 });
    const frames = (document.frames ?? []).map((frame, i) => ({ ...frame, width: 300 + (i % 500) }));
    await setting.client.submit({ ...document, frames });
    await sleep(2_000);
    const busy = await ask(setting, 'busy', 15);
    const { progress } = await setting.client.status('many');
    const { state } = await setting.client.status('many');
    const began = performance.now();
    await setting.client.result('many', { wait: LONGEST_MS });
    return {
      what: `15 orders of 8 frames beside one of ${mouldings.length} mouldings, two slots`,
      busyP50Ms: round(percentile(busy, 0.5)),
      busyWorstMs: round(Math.max(...busy)),
      manyThen: `${state}, ${progress?.mouldings.done ?? 0} mouldings planned`,
      manyDoneAfterFurtherS: round((performance.now() - began) / 1_000),
      promisedMs: PROMISED_MORE_MS,
      kept: Math.max(...busy) < PROMISED_MORE_MS,
    };
  });
}

/** Orders that are not small keep coming, faster than two slots plan them: the first long one ends in its turn. */
async function starving(): Promise<Figure> {
  return withService([{ nowSlots: 1 }], async (setting) => {
    const { client } = setting;
    await client.submit(batchOf('first', ['hang'], { frames: 100, timeLimit: 10 }));
    await sleep(500);
    await client.submit(batchOf('long', ['wait-500'], { frames: 100, timeLimit: 20 }));
    const submitted = performance.now();
    let done = false;
    const stream = (async () => {
      for (let i = 0; !done; i++) {
        await client.submit(batchOf(`stream ${i}`, ['wait-1500'], { frames: 100, timeLimit: 2 }));
        await sleep(1_000);
      }
    })();
    await client.result('long', { wait: LONGEST_MS });
    const seconds = (performance.now() - submitted) / 1_000;
    done = true;
    await stream;
    // Its own 20 s and what arrived within them, 20 orders of at most 2.5 s, and the one before it.
    const promised = 20 + 20 * 2.5 + 10;
    return {
      what: 'a long order while others come faster than they are planned',
      seconds: round(seconds),
      promisedSeconds: promised,
      kept: seconds < promised,
    };
  });
}

export async function* fair(full: boolean): AsyncGenerator<Figure> {
  yield await besideLong(full);
}

export async function* fairMany(full: boolean): AsyncGenerator<Figure> {
  yield await besideMany(full);
}

export async function* fairStarving(): AsyncGenerator<Figure> {
  yield await starving();
}
