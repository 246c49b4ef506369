/** The door under load: submissions beside solving, listeners, slow clients, and what it adds to the typed client. */
import { Agent, request } from 'node:http';
import { connect, type Socket } from 'node:net';
import { Pool } from 'undici';
import { TIMING } from '../../src/queue/settings.js';
import { batchOf } from '../../tests/tools/batches.js';
import { DoorProcess, http } from './door-setting.js';
import { type Figure, percentile, round, type Setting, sleep, withService } from './setting.js';

const MB = 2 ** 20;
const SUBMIT_P99_MS = 25;
/** Submissions a second, begun whether or not earlier ones are answered. */
const RATES = [100, 200, 300, 400, 500];
/** Submissions that the door has answered before it is measured. */
const WARM = 3_000;
/** The worker yields to the door, as `serve --alone` has it. */
const WORKER_NICE = 10;
const MEMORY_MB = 200;
const OVERHEAD_MS = 10;
const SLOW_TIMES = 2;

async function withDoor<T>(setting: Setting, work: (door: DoorProcess) => Promise<T>): Promise<T> {
  const door = await DoorProcess.start(setting.redis.url);
  try {
    return await work(door);
  } finally {
    await door.end('SIGTERM');
  }
}

/** `clients` at once, each one request after the other; milliseconds of each. */
async function load(count: number, clients: number, one: (i: number) => Promise<void>): Promise<number[]> {
  const took: number[] = [];
  let next = 0;
  const work = async (): Promise<void> => {
    for (let i = next++; i < count; i = next++) {
      const began = performance.now();
      await one(i);
      took.push(performance.now() - began);
    }
  };
  await Promise.all(Array.from({ length: clients }, work));
  return took;
}

/** `perSecond` begun, whatever the answers take, each timed from the moment it was due. */
async function paced(count: number, perSecond: number, one: (i: number) => Promise<void>): Promise<number[]> {
  const began = performance.now();
  return Promise.all(
    Array.from({ length: count }, async (_, i) => {
      const due = began + (i * 1_000) / perSecond;
      await sleep(Math.max(0, due - performance.now()));
      await one(i);
      return performance.now() - due;
    }),
  );
}

/** What a busy web shop hands in, many times over; null: as fast as the answers come. */
async function submissions(setting: Setting, count: number, perSecond: number | null): Promise<Figure> {
  return withDoor(setting, async (door) => {
    // It shares the two cores with what it measures, so the lightest client there is.
    const pool = new Pool(door.url, { connections: 50 });
    const send = async (id: string, seed: number): Promise<void> => {
      const body = JSON.stringify(batchOf(id, ['ash'], { urgency: 'tonight', seed }));
      const headers = { 'content-type': 'application/json' };
      const answer = await pool.request({ method: 'POST', path: '/v1/batches', headers, body });
      const text = await answer.body.text();
      if (answer.statusCode !== 202) throw new Error(`${answer.statusCode} ${text}`);
    };
    // A program is compiled as it runs: what a shop meets is a door that has been open for a while.
    const warm = await load(WARM, 10, (i) => send(`before ${i}`, i));
    const before = door.processor;
    const began = performance.now();
    const one = (i: number): Promise<void> => send(`load ${i}`, i);
    const took = perSecond === null ? await load(count, 50, one) : await paced(count, perSecond, one);
    const seconds = (performance.now() - began) / 1_000;
    const doorMs = (door.processor - before) / count;
    let lost = 0;
    for (let i = 0; i < count; i++) {
      const { statusCode, body } = await pool.request({ method: 'GET', path: `/v1/batches/load%20${i}` });
      await body.dump();
      if (statusCode !== 200) lost += 1;
    }
    await pool.close();
    const p99 = percentile(took, 0.99);
    return {
      what:
        perSecond === null
          ? 'submissions by 50 connections while two solvers work, each sent as the one before is answered'
          : 'submissions over 50 connections while two solvers work, at a pace, timed from when each was due',
      count,
      lost,
      pace: perSecond,
      answeredBefore: warm.length,
      processorMsEach: round(doorMs, 2),
      perSecond: round(count / seconds),
      p50Ms: round(percentile(took, 0.5)),
      p99Ms: round(p99),
      promisedP99Ms: SUBMIT_P99_MS,
      kept: lost === 0 && p99 < SUBMIT_P99_MS,
    };
  });
}

function lastEvent(url: string, id: string, agent: Agent): Promise<string> {
  const { hostname, port } = new URL(url);
  return new Promise((resolve, reject) => {
    const asked = request({ hostname, port, path: `/v1/batches/${id}/events`, agent }, (response) => {
      let last = '';
      response.setEncoding('utf8').on('data', (chunk: string) => {
        last = /event: (\w+)\n(?![\s\S]*event: )/.exec(chunk)?.[1] ?? last;
      });
      response.on('end', () => resolve(last));
      response.on('error', reject);
    });
    asked.on('error', reject);
    asked.end();
  });
}

async function streams(setting: Setting): Promise<Figure> {
  return withDoor(setting, async (door) => {
    const [batches, listeners] = [200, 500];
    for (let i = 0; i < batches; i++) {
      await http(door.url, 'POST', '/v1/batches', {
        body: JSON.stringify(batchOf(`heard-${i}`, ['ash'], { frames: 6, seed: i })),
      });
    }
    const agent = new Agent({ keepAlive: false, maxSockets: 1_000 });
    let most = 0;
    const look = setInterval(() => {
      most = Math.max(most, door.memory);
    }, 200);
    const began = performance.now();
    const all = Array.from({ length: listeners }, (_, i) =>
      lastEvent(door.url, `heard-${i % batches}`, agent),
    );
    await sleep(300);
    // Some are cancelled, so that not every end is the same.
    const cancelled = new Set<number>();
    for (let i = batches - 10; i < batches; i++) {
      const { status } = await http(door.url, 'DELETE', `/v1/batches/heard-${i}`);
      if (status === 200) cancelled.add(i);
    }
    const ends = await Promise.all(all);
    clearInterval(look);
    const wrong = ends.filter((end, i) => end !== (cancelled.has(i % batches) ? 'cancelled' : 'done')).length;
    return {
      what: '500 event streams over 200 batches',
      wrong,
      cancelled: cancelled.size,
      seconds: round((performance.now() - began) / 1_000),
      memoryMB: round(most / MB),
      promisedMB: MEMORY_MB,
      kept: wrong === 0 && most / MB < MEMORY_MB,
    };
  });
}

/** Two hundred clients that send a head slowly, half a body, or more than is accepted. */
function slowClients(url: string): Socket[] {
  const { hostname, port } = new URL(url);
  return Array.from({ length: 200 }, (_, i) => {
    const socket = connect(Number(port), hostname);
    socket.on('error', () => {});
    const head = 'POST /v1/batches HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n';
    if (i % 3 === 0) socket.write(head);
    else if (i % 3 === 1)
      socket.write(`${head}Content-Length: 60000000\r\n\r\n{"schema":${'x'.repeat(10_000)}`);
    else socket.write(`${head}Content-Length: 600000000\r\n\r\n`);
    const drip = setInterval(
      () => (socket.destroyed ? clearInterval(drip) : socket.write(i % 3 === 0 ? 'X: y\r\n' : 'x')),
      200,
    );
    socket.on('close', () => clearInterval(drip));
    return socket;
  });
}

async function slow(setting: Setting): Promise<Figure> {
  return withDoor(setting, async (door) => {
    const agent = new Agent({ keepAlive: true, maxSockets: 10 });
    await http(door.url, 'POST', '/v1/batches', { body: JSON.stringify(batchOf('asked', ['ash'])) });
    const ask = async (): Promise<void> => {
      await http(door.url, 'GET', '/v1/batches/asked', { agent });
    };
    await load(2_000, 10, ask);
    const alone = percentile(await load(4_000, 10, ask), 0.99);
    const sockets = slowClients(door.url);
    await sleep(500);
    const beside = percentile(await load(4_000, 10, ask), 0.99);
    for (const socket of sockets) socket.destroy();
    agent.destroy();
    return {
      what: "others' p99 beside 200 slow, half-open and oversized clients",
      aloneMs: round(alone, 2),
      besideMs: round(beside, 2),
      times: round(beside / alone, 2),
      promisedTimes: SLOW_TIMES,
      memoryMB: round(door.memory / MB),
      kept: beside / alone <= SLOW_TIMES,
    };
  });
}

async function overhead(setting: Setting, count: number): Promise<Figure> {
  return withDoor(setting, async (door) => {
    const { client } = setting;
    const agent = new Agent({ keepAlive: true });
    const [typed, overHttp]: [number[], number[]] = [[], []];
    // By turns, so both run on the same machine under the same load.
    for (let i = 0; i < count; i++) {
      const document = batchOf(`typed ${i}`, ['ash'], { frames: 4 });
      let began = performance.now();
      await client.submit(document);
      await client.result(document.id, { wait: 60_000 });
      typed.push(performance.now() - began);
      const body = JSON.stringify(batchOf(`http ${i}`, ['ash'], { frames: 4 }));
      began = performance.now();
      const { text } = await http(door.url, 'POST', '/v1/batches', {
        agent,
        body,
        headers: { prefer: 'wait=60' },
      });
      if (!text.includes('pairstop/plan@1')) throw new Error(text);
      overHttp.push(performance.now() - began);
    }
    agent.destroy();
    const beyond = percentile(overHttp.slice(10), 0.5) - percentile(typed.slice(10), 0.5);
    return {
      what: 'submit to plan over HTTP, beyond the typed client',
      batches: count - 10,
      typedP50Ms: round(percentile(typed.slice(10), 0.5)),
      httpP50Ms: round(percentile(overHttp.slice(10), 0.5)),
      beyondP50Ms: round(beyond),
      promisedMs: OVERHEAD_MS,
      kept: beyond < OVERHEAD_MS,
    };
  });
}

export async function* door(full: boolean): AsyncGenerator<Figure> {
  const worker = { nowSlots: 1, tonightSlots: 1, timing: TIMING };
  yield await withService([worker], (setting) => overhead(setting, full ? 110 : 60));
  yield await withService([worker], (setting) => slow(setting));
  yield await withService([{ nowSlots: 2 }], (setting) => streams(setting));
}

export async function* doorSubmissions(full: boolean): AsyncGenerator<Figure> {
  for (const perSecond of [...RATES, null]) {
    const worker = { nowSlots: 0, tonightSlots: 2, timing: TIMING, nice: WORKER_NICE };
    yield await withService([worker], (setting) => submissions(setting, full ? 2_000 : 500, perSecond));
  }
}
