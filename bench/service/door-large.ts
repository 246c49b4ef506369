/** The largest batch there is goes in and its plan comes out: how much memory the door takes for it. */
import { request } from 'node:http';
import { BATCH_BYTES } from '../../src/read/limits.js';
import { watchMemory } from '../tools/memory.js';
import { DoorProcess, http } from './door-setting.js';
import { type Figure, round, withService } from './setting.js';

const MB = 2 ** 20;
const LINES = 90_000;
const NOTE = 'A note, which no plan depends on, as a web shop writes it. ';
/** Passing a plan or a batch on may take so much, however long it is. */
const STREAM_MB = 80;
/** What handing in may take, as often as the body is long: its bytes, its text, its values and the packed text. */
const SUBMIT_TIMES = 10;
const PLAN_MS = 1_800_000;

/** `bytes` long to the byte: lines of a few sizes, with notes that make up the length. */
function largeBatch(id: string, bytes: number): Buffer {
  const lines = Math.round((LINES * bytes) / BATCH_BYTES);
  const batch = {
    schema: 'pairstop/batch@1',
    id,
    units: 'mm',
    saw: { kerf: 3, recut: 1 },
    mouldings: [{ id: 'ash', face: 30, rabbet: 6 }],
    frames: Array.from({ length: lines }, (_, i) => ({
      id: `F-${i}`,
      moulding: 'ash',
      width: 200 + 10 * (i % 8),
      height: 300 + 10 * (i % 5),
      note: '',
    })),
    offers: [{ id: 'ash-24', moulding: 'ash', length: 2_400, price: 20 }],
    options: { timeLimit: 20, urgency: 'now' },
  };
  const short = Buffer.byteLength(JSON.stringify(batch));
  const each = Math.floor((bytes - short) / lines);
  for (const frame of batch.frames) frame.note = NOTE.repeat(each / NOTE.length + 1).slice(0, each);
  const text = Buffer.from(JSON.stringify(batch));
  return Buffer.concat([text, Buffer.alloc(bytes - text.length, ' ')]);
}

/** Length of what is answered, which is not kept. */
function fetched(url: string, path: string, headers: Readonly<Record<string, string>>): Promise<number> {
  const { hostname, port } = new URL(url);
  return new Promise((resolve, reject) => {
    const asked = request({ hostname, port, path, headers }, (response) => {
      let size = 0;
      response.on('data', (chunk: Buffer) => {
        size += chunk.length;
      });
      response.on('error', reject);
      response.on('end', () =>
        response.statusCode === 200
          ? resolve(size)
          : reject(new Error(`${path}: ${response.statusCode ?? 0}`)),
      );
    });
    asked.on('error', reject);
    asked.end();
  });
}

export async function* doorLarge(full: boolean): AsyncGenerator<Figure> {
  const bytes = full ? BATCH_BYTES : Math.round(BATCH_BYTES / 6);
  yield await withService(
    [{ nowSlots: 1, heapMb: 6_144, rssMb: 8_192 }],
    async ({ redis, client, workers }) => {
      const door = await DoorProcess.start(redis.url);
      try {
        const body = largeBatch('large', bytes);
        const before = door.memory;
        door.forgetPeak();
        let began = performance.now();
        const { status, text } = await http(door.url, 'POST', '/v1/batches', { body });
        if (status !== 202) throw new Error(`${status} ${text.slice(0, 400)}`);
        const submitSeconds = (performance.now() - began) / 1_000;
        const submit = door.peak - before;
        const tree = watchMemory(workers[0]?.pid ?? 0);
        began = performance.now();
        const planLength = Buffer.byteLength(JSON.stringify(await client.result('large', { wait: PLAN_MS })));
        const planSeconds = (performance.now() - began) / 1_000;
        const workerMB = tree.end();
        const { progress } = await client.status('large');
        const given: Record<string, unknown> = {};
        let [most, wrong] = [0, 0];
        for (const [what, path, headers] of [
          ['plan', '/v1/batches/large/plan', {}],
          ['planPacked', '/v1/batches/large/plan', { 'accept-encoding': 'gzip' }],
          ['batch', '/v1/batches/large/document', {}],
          ['page', '/v1/batches/large/plan', { accept: 'text/plain' }],
          ['csv', '/v1/batches/large/plan', { accept: 'text/csv' }],
        ] as const) {
          // What the submission left is given back in the meantime, or is there to be used again.
          const start = door.memory;
          door.forgetPeak();
          began = performance.now();
          const size = await fetched(door.url, path, headers);
          const took = (performance.now() - began) / 1_000;
          const more = door.peak - start;
          // Pages and lists are made in a thread from the whole plan; documents only pass.
          if (what !== 'page' && what !== 'csv') most = Math.max(most, more);
          given[what] = { mb: round(size / MB), seconds: round(took), moreMB: round(more / MB) };
          if (what === 'plan' && size !== planLength) wrong += 1;
          if (size < 1_000) wrong += 1;
        }
        return {
          what: 'the largest batch handed in, its plan and itself fetched: memory of the door',
          batchMB: round(bytes / MB),
          beforeMB: round(before / MB),
          submitSeconds: round(submitSeconds),
          submitMoreMB: round(submit / MB),
          submitTimes: round(submit / bytes),
          promisedTimes: SUBMIT_TIMES,
          planSeconds: round(planSeconds),
          cost: progress?.cost ?? null,
          workerMB,
          given,
          promisedMB: STREAM_MB,
          wrong,
          kept: wrong === 0 && submit / bytes <= SUBMIT_TIMES && most / MB <= STREAM_MB,
        };
      } finally {
        await door.end('SIGTERM');
      }
    },
  );
}
