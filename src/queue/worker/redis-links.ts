/** A worker's connections to Redis: one that asks, one for BullMQ, one that hears of cancelled batches. */
import type { Redis } from 'ioredis';
import type { Logger } from 'pino';
import { clockOffset } from '../redis/clock.js';
import { connect, hangUp, keepHearing, openRedis } from '../redis/connection.js';
import { requireDurable, requireFit, weaknesses } from '../redis/durable.js';
import { OutageLog } from '../redis/outage-log.js';
import type { WorkerSettings } from '../settings.js';

/** A setting of Redis's can be changed while it runs: it is looked at again every so many heartbeats, once a minute. */
const LOOK_AGAIN_BEATS = 12;

export class RedisLinks {
  readonly asking: Redis;
  readonly working: Redis;
  readonly outages: OutageLog;
  readonly #listening: Redis;
  readonly #settings: WorkerSettings;
  readonly #log: Logger;
  readonly #stops: (() => void)[] = [];
  #reconnects = 0;
  #weak: readonly string[] = [];
  #offset = 0;

  constructor(settings: WorkerSettings, log: Logger) {
    this.#settings = settings;
    this.#log = log;
    const { redis } = settings;
    this.asking = openRedis(redis, 'asking');
    this.working = openRedis(redis, 'working');
    this.#listening = openRedis(redis, 'asking');
    this.outages = new OutageLog(log, redis);
    for (const link of [this.asking, this.working, this.#listening]) {
      link.on('reconnecting', () => {
        this.#reconnects += 1;
      });
    }
  }

  get reconnects(): number {
    return this.#reconnects;
  }

  /** What makes this Redis unsafe to keep batches in, as of the last look. */
  get weak(): readonly string[] {
    return this.#weak;
  }

  /** `hear` is called with the job id of each batch that is said to be cancelled. */
  async start(channel: string, hear: (jobId: string) => void): Promise<void> {
    const { redis, startWait, allowVolatile, timing } = this.#settings;
    await connect(this.asking, redis, startWait, this.#log);
    await requireFit(this.asking, redis);
    this.#weak = await requireDurable(this.asking, redis, allowVolatile, this.#log);
    await connect(this.working, redis, startWait, this.#log);
    await connect(this.#listening, redis, startWait, this.#log);
    this.#listening.on('message', (_channel, jobId) => hear(jobId));
    await this.#listening.subscribe(channel);
    for (const link of [this.asking, this.working, this.#listening]) link.on('error', this.outages.note);
    this.#stops.push(keepHearing(this.#listening), keepHearing(this.working));
    const timer = setInterval(() => void this.#lookAgain(), LOOK_AGAIN_BEATS * timing.heartbeat);
    this.#stops.push(() => clearInterval(timer));
  }

  /** After each heartbeat: Redis serves, and has said what time it is. */
  well(): void {
    this.outages.well();
    const offset = clockOffset();
    if (Math.abs(offset - this.#offset) < 1_000) return;
    this.#offset = offset;
    const seconds = Math.round(Math.abs(offset) / 1_000);
    const said = `this machine's clock is ${seconds} s ${offset < 0 ? 'fast' : 'slow'}; Redis's is used`;
    if (offset === 0) this.#log.info("this machine's clock agrees with Redis's again");
    else this.#log.warn({ offset }, said);
  }

  close(): void {
    for (const stop of this.#stops) stop();
    this.outages.end();
    for (const link of [this.#listening, this.asking, this.working]) hangUp(link);
  }

  async #lookAgain(): Promise<void> {
    try {
      const found = await weaknesses(this.asking);
      if (found.join() !== this.#weak.join()) {
        if (found.length > 0) this.#log.warn({ weaknesses: found }, 'this Redis may forget batches');
        else this.#log.info('this Redis no longer forgets batches');
      }
      this.#weak = found;
    } catch {
      // Told as an outage.
    }
  }
}
