/** Faults as they come upon a service, each on real processes, at random moments from a seed. */
import { FarProxy } from '../../tests/tools/far-proxy.js';
import { Killable } from '../../tests/tools/killable.js';
import type { TestRedis } from '../../tests/tools/redis.js';
import { childrenOf, isAlive, until } from '../../tests/tools/service.js';
import type { Random } from './random.js';

export const FAULT_KINDS = ['worker', 'redis', 'freeze', 'silent', 'full', 'disk', 'clock', 'log'] as const;
/** `disk`: that of Redis is full; `log`: the one that a worker's log lies on is. */
export type FaultKind = (typeof FAULT_KINDS)[number];

/** How often each comes, against the others. */
const WEIGHTS: Readonly<Record<FaultKind, number>> = {
  worker: 4,
  redis: 3,
  freeze: 2,
  silent: 1,
  full: 2,
  disk: 2,
  clock: 2,
  log: 1,
};

/** What a worker's log says when a fault begins. */
const SAID = {
  redis: /^Redis is away/,
  silent: /^Redis does not answer/,
  full: /^Redis is full/,
  disk: /^Redis cannot write/,
  clock: /machine's clock is/,
} as const;
const OVER = /^Redis serves again|clock agrees with Redis's again/;

/** Whatever a worker's log says of trouble. */
const BEGUN = new RegExp(
  Object.values(SAID)
    .map(({ source }) => source)
    .join('|'),
);

/** On a machine with much else to do a worker's first connection takes long. */
const START_MS = 60_000;
const LEFT_MS = 5_000;
/** A silent connection is dropped after 13 s, and told of before that; on a machine with much else to do all is slow. */
const NOTICED_MS = 120_000;

function sleep(ms: number): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, ms));
}

export class Trouble {
  readonly faults: FaultKind[] = [];
  readonly unnamed: string[] = [];
  /** Whole seconds each took, until its end was told. */
  readonly took: number[] = [];
  readonly #random: Random;
  readonly #redis: TestRedis;
  readonly #proxy: FarProxy;
  readonly #workers: Killable[] = [];
  /** Those whose log is on a full disk. */
  readonly #mute = new Set<Killable>();
  readonly #solvers = new Set<number>();
  #ended = false;

  private constructor(random: Random, redis: TestRedis, proxy: FarProxy) {
    this.#random = random;
    this.#redis = redis;
    this.#proxy = proxy;
  }

  /** The workers reach Redis through a proxy, whose connections can fall silent. */
  static async around(random: Random, redis: TestRedis): Promise<Trouble> {
    return new Trouble(random, redis, await FarProxy.to(redis.port));
  }

  async start(count: number): Promise<void> {
    for (let i = 0; i < count; i++) this.#workers.push(await this.#fresh());
  }

  #fresh(): Promise<Killable> {
    return Killable.start(this.#proxy.url, { startWait: START_MS });
  }

  #kind(kinds: readonly FaultKind[]): FaultKind {
    const drawn = kinds.flatMap((kind) => Array.from({ length: WEIGHTS[kind] }, () => kind));
    return this.#random.pick(drawn);
  }

  async one(kinds: readonly FaultKind[]): Promise<void> {
    const began = performance.now();
    await this.#one(kinds);
    this.took.push(Math.round((performance.now() - began) / 1_000));
  }

  /** None ends by itself, whatever comes. */
  #noteEnded(): void {
    for (const { exited, exitCode } of this.#workers) {
      if (exited) this.unnamed.push(`a worker ended by itself with code ${exitCode}`);
    }
  }

  async #replaceEnded(): Promise<void> {
    this.#noteEnded();
    for (const [i, { exited }] of this.#workers.entries()) {
      if (exited) this.#workers[i] = await this.#fresh();
    }
  }

  async #one(kinds: readonly FaultKind[]): Promise<void> {
    const random = this.#random;
    const at = random.int(0, this.#workers.length - 1);
    await this.#replaceEnded();
    const worker = this.#workers[at]!;
    for (const pid of childrenOf(worker.pid)) this.#solvers.add(pid);
    const kind = this.#kind(kinds);
    this.faults.push(kind);
    switch (kind) {
      case 'worker':
        await worker.end('SIGKILL');
        this.#workers[at] = await this.#fresh();
        return;
      case 'freeze':
        worker.signal('SIGSTOP');
        await sleep(random.int(500, 3_000));
        worker.signal('SIGCONT');
        return;
      case 'log': {
        await worker.end('SIGTERM');
        const mute = Killable.onFullDisk(this.#proxy.url, { startWait: START_MS });
        this.#workers[at] = mute;
        this.#mute.add(mute);
        return;
      }
      case 'redis':
        await this.#outage(
          kind,
          this.#workers,
          async () => this.#redis.down(),
          () => this.#redis.up(),
        );
        return;
      case 'silent':
        await this.#outage(
          kind,
          this.#workers,
          async () => this.#proxy.silence(),
          async () => {},
        );
        return;
      case 'full':
        await this.#outage(
          kind,
          this.#workers,
          () => this.#limit('1mb'),
          () => this.#limit('0'),
        );
        return;
      case 'disk':
        await this.#outage(
          kind,
          this.#workers,
          async () => this.#redis.diskFull(),
          async () => this.#redis.diskFreed(),
        );
        return;
      case 'clock': {
        const off = random.pick([-3_600_000, -90_000, 90_000, 3_600_000]);
        const one = [worker];
        await this.#outage(
          kind,
          one,
          async () => worker.stepClock(off),
          async () => worker.stepClock(0),
        );
        return;
      }
      default:
        kind satisfies never;
    }
  }

  async #limit(memory: string): Promise<void> {
    const raw = this.#redis.connect();
    await raw.config('SET', 'maxmemory', memory);
    raw.disconnect();
  }

  /** Lasts until each of these workers has told it, which must be once, and then until each has told that it is over. */
  async #outage(
    kind: keyof typeof SAID,
    workers: readonly Killable[],
    begin: () => Promise<void>,
    end: () => Promise<void>,
  ): Promise<void> {
    const telling = workers.filter((worker) => !this.#mute.has(worker));
    // On such a machine Redis may have been silent for a worker by itself: what it has begun to tell it first ends.
    const count = ({ lines }: Killable, said: RegExp): number =>
      lines.filter(({ msg }) => said.test(msg)).length;
    const isCalm = (): boolean => telling.every((worker) => count(worker, BEGUN) <= count(worker, OVER));
    await until('nothing else is being told', isCalm, NOTICED_MS).catch(() => {});
    const from = new Map(telling.map((worker) => [worker, worker.lines.length]));
    const since = (worker: Killable, said: RegExp): number =>
      worker.lines.slice(from.get(worker)).filter(({ msg }) => said.test(msg)).length;
    await begin();
    const all = (said: RegExp) => () => telling.every((worker) => since(worker, said) > 0);
    await until('it is told', all(SAID[kind]), NOTICED_MS).catch(() => {});
    await sleep(this.#random.int(0, 1_500));
    await end();
    await until('its end is told', all(OVER), NOTICED_MS).catch(() => {});
    for (const worker of telling) {
      const [began, over] = [since(worker, SAID[kind]), since(worker, OVER)];
      if (began === 1 && over === 1) continue;
      const said = worker.lines
        .slice(from.get(worker))
        .flatMap(({ msg, level, reason }) => (level >= 40 ? [`${msg} ${JSON.stringify(reason ?? '')}`] : []));
      this.unnamed.push(`${kind}: its beginning told ${began} times, its end ${over}; ${said.join(' | ')}`);
    }
  }

  /** Ends all processes; returns how many are left. */
  async end(): Promise<number> {
    if (!this.#ended) this.#noteEnded();
    for (const worker of this.#workers) for (const pid of childrenOf(worker.pid)) this.#solvers.add(pid);
    await Promise.all(this.#workers.map((worker) => worker.end('SIGTERM')));
    if (!this.#ended) await this.#proxy.end();
    this.#ended = true;
    const all = [...this.#solvers, ...this.#workers.map(({ pid }) => pid)];
    await until('all processes are gone', () => !all.some(isAlive), LEFT_MS).catch(() => {});
    return all.filter(isAlive).length;
  }
}
