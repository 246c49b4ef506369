/** A client's connection to Redis, and how it asks: every call within the client's patience. */
import { Queue, type Telemetry } from 'bullmq';
import type { Redis } from 'ioredis';
import { PairstopError } from '../../errors.js';
import { batchQueue, type Keys, keysOf, partQueue, QUEUE_EVENTS, SMALL_PARTS, URGENCIES } from '../names.js';
import { Store } from '../record/store.js';
import { type RedisAddress, redisName } from '../redis/address.js';
import { connect, hangUp, openRedis } from '../redis/connection.js';
import { requireFit } from '../redis/durable.js';
import { told } from '../redis/outage.js';
import { persist, within } from '../redis/waiting.js';
import { whoRuns } from '../settings.js';
import { Listener } from './listener.js';
import type { ClientOptions, ClientSettings } from './options.js';

const SECOND = 1_000;
const CLOSE_MS = 2_000;

/** Who defaults to whoever runs this program. */
export type SessionOptions = Omit<ClientSettings, 'who'> & Pick<ClientOptions, 'who'>;

export class Session {
  readonly redis: Redis;
  readonly keys: Keys;
  readonly store: Store;
  readonly listener: Listener;
  /** Milliseconds any call may wait for Redis. */
  readonly patience: number;
  /** For the audit trail. */
  readonly who: string;
  readonly #address: string | RedisAddress;
  readonly prefix: string;
  readonly #telemetry: Telemetry | undefined;
  readonly #queues = new Map<string, Queue>();
  #reached = false;
  #closed = false;

  constructor({ connection, prefix, patience, retention, telemetry, who = whoRuns() }: SessionOptions) {
    this.#telemetry = telemetry;
    this.#address = connection;
    this.who = who;
    this.prefix = prefix;
    this.patience = patience;
    this.keys = keysOf(prefix);
    this.redis = openRedis(connection, 'asking');
    this.listener = new Listener(connection);
    this.store = new Store(this.redis, this.keys, retention);
  }

  /** Redis has answered before: if it is away now, that is an outage and not a slip in the settings. */
  get mayComeBack(): boolean {
    return this.#reached && !this.#closed;
  }

  /** Everything asked here is safe to ask twice, so an outage shorter than the patience is not noticed. */
  async ask<T>(what: string, ask: () => Promise<T>): Promise<T> {
    if (this.#closed) throw new PairstopError('PS_USAGE', 'this client has been closed');
    const end = Date.now() + this.patience;
    const left = (): number => Math.max(1, end - Date.now());
    return within(
      this.patience + SECOND,
      what,
      persist(this.patience, what, async () => {
        await this.#connect(left());
        try {
          const answer = await ask();
          this.#reached = true;
          return answer;
        } catch (error) {
          throw told(redisName(this.#address), what, error);
        }
      }),
    );
  }

  async #connect(wait: number): Promise<void> {
    if (this.#reached && this.redis.status === 'ready') return;
    await connect(this.redis, this.#address, wait);
    if (this.#reached) return;
    await requireFit(this.redis, this.#address);
  }

  /** To be asked for anew each time, within `ask`: after an outage it may be another. */
  queue(name: string): Queue {
    const known = this.#queues.get(name);
    if (known !== undefined) return known;
    const telemetry = this.#telemetry === undefined ? {} : { telemetry: this.#telemetry };
    const queue = new Queue(name, {
      connection: this.redis,
      prefix: this.prefix,
      ...QUEUE_EVENTS,
      ...telemetry,
    });
    queue.on('error', () => {});
    this.#queues.set(name, queue);
    // A queue asks Redis for its version once. Where that meets an outage, it refuses everything from then on: it gives
    // way to a new one.
    queue.waitUntilReady().catch(() => {
      if (this.#queues.get(name) === queue) this.#queues.delete(name);
      queue.close().catch(() => {});
    });
    return queue;
  }

  /** Those of the service, by name. */
  get queues(): Readonly<Record<string, Queue>> {
    const names = [...URGENCIES.flatMap((urgency) => [batchQueue(urgency), partQueue(urgency)]), SMALL_PARTS];
    return Object.fromEntries(names.map((name) => [name, this.queue(name)]));
  }

  async close(): Promise<void> {
    if (this.#closed) return;
    this.#closed = true;
    const closing = Promise.all([...this.#queues.values()].map((queue) => queue.close()));
    await within(CLOSE_MS, 'closing', closing).catch(() => {});
    this.listener.close();
    hangUp(this.redis);
  }
}
