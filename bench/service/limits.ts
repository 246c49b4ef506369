/** Cancelling, the time limit of a library that hangs, and what a killed worker leaves behind. */
import { jobIdOf } from '../../src/queue/names.js';
import { batchOf } from '../../tests/tools/batches.js';
import { childrenOf, isAlive, until } from '../../tests/tools/service.js';
import { type Figure, round, type Setting, withService } from './setting.js';

const ROUNDS = 10;

async function begun({ redis }: Setting, id: string): Promise<void> {
  const raw = redis.connect();
  const key = `pairstop:store:${jobIdOf(id)}`;
  await until('it is solved', async () => (await raw.hget(key, 'b:0')) !== null);
  raw.disconnect();
}

async function cancelling(setting: Setting): Promise<Figure> {
  const times: number[] = [];
  for (let i = 0; i < ROUNDS; i++) {
    const id = `cancel ${i}`;
    await setting.client.submit(batchOf(id, ['hang'], { timeLimit: 600 }));
    await begun(setting, id);
    const before = setting.workers.flatMap(({ pid }) => childrenOf(pid));
    const told = performance.now();
    await setting.client.cancel(id);
    await until('the solver is gone', () => before.some((pid) => !isAlive(pid)));
    times.push(performance.now() - told);
  }
  const worst = Math.max(...times);
  return { what: 'cancel to the end of a synchronous solve', worstMs: round(worst), kept: worst < 1_000 };
}

async function timeLimit({ client }: Setting): Promise<Figure> {
  const over: number[] = [];
  for (const [i, moulding] of ['hang', 'mute', 'hang', 'mute'].entries()) {
    const id = `limit ${i}`;
    await client.submit(batchOf(id, [moulding], { timeLimit: 2 }));
    await client.result(id, { wait: 60_000 });
    const { started, finished } = await client.status(id);
    over.push((finished ?? Number.POSITIVE_INFINITY) - (started ?? 0) - 2_000);
  }
  const worst = Math.max(...over);
  return { what: 'over the time limit while the library hangs', worstMs: round(worst), kept: worst < 2_000 };
}

async function killing(setting: Setting): Promise<Figure> {
  await setting.client.submit(batchOf('killed', ['hang'], { timeLimit: 600 }));
  await begun(setting, 'killed');
  const [worker] = setting.workers;
  const solvers = childrenOf(worker?.pid ?? 0);
  const told = performance.now();
  await worker?.end('SIGKILL');
  await until('the solvers are gone', () => !solvers.some(isAlive));
  const took = performance.now() - told;
  return { what: 'solvers alive after their worker was killed', ms: round(took), kept: took < 1_000 };
}

export async function* limits(): AsyncGenerator<Figure> {
  yield* await withService([{ nowSlots: 1 }], async (setting) => [
    await cancelling(setting),
    await timeLimit(setting),
    await killing(setting),
  ]);
}
