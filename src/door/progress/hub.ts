/**
 * How batches get on, for any number of listeners: each batch is watched once, however many listen, and all of a
 * shop's batches over one connection to Redis.
 */
import { createHash } from 'node:crypto';
import type { WorkKind } from '../../processes/solver/tasks.js';
import type { Client } from '../../queue/client/client.js';
import type { BatchStatus } from '../../queue/client/status.js';

export interface Change {
  /** The same for the same status, in every process and after every restart. */
  readonly id: string;
  readonly status: BatchStatus;
  readonly over: boolean;
}

export interface Hearer {
  readonly change: (change: Change) => void;
  /** Nothing more comes; with what went wrong, or null after the last change. */
  readonly end: (error: unknown) => void;
}

export interface Watched {
  /** The shop's prefix. */
  readonly shop: string;
  readonly client: Client;
  readonly work: WorkKind;
  readonly id: string;
}

const ID_LENGTH = 22;

export function isOver({ state }: BatchStatus): boolean {
  return state !== 'waiting' && state !== 'running';
}

export function changeOf(status: BatchStatus): Change {
  // What only says that time has passed is no change.
  const text = JSON.stringify({ ...status, progress: { ...status.progress, elapsed: 0, finish: 0 } });
  const id = createHash('sha256').update(text).digest('base64url').slice(0, ID_LENGTH);
  return { id, status, over: isOver(status) };
}

class WatchedJob {
  readonly hearers = new Set<Hearer>();
  readonly stop = new AbortController();
  last: Change | null = null;
}

export class Hub {
  readonly #watches = new Map<string, WatchedJob>();

  /** Batches watched at this moment. */
  get size(): number {
    return this.#watches.size;
  }

  /** Streams and calls that wait. */
  get listeners(): number {
    let all = 0;
    for (const { hearers } of this.#watches.values()) all += hearers.size;
    return all;
  }

  /** Tells the present status, as soon as it is known, and each change. Call what is returned to leave. */
  hear(watched: Watched, hearer: Hearer): () => void {
    const key = `${watched.shop} ${watched.work} ${watched.id}`;
    let watch = this.#watches.get(key);
    if (watch === undefined) {
      watch = new WatchedJob();
      this.#watches.set(key, watch);
      void this.#follow(key, watch, watched);
    }
    const joined = watch;
    joined.hearers.add(hearer);
    if (joined.last !== null) hearer.change(joined.last);
    return () => {
      joined.hearers.delete(hearer);
      if (joined.hearers.size === 0) this.#drop(key, joined);
    };
  }

  /** The status once the batch is over, or after `ms`, whichever comes first. */
  async wait(watched: Watched, ms: number, signal: AbortSignal): Promise<BatchStatus | null> {
    let leave = (): void => {};
    let timer: NodeJS.Timeout | undefined;
    let last: BatchStatus | null = null;
    try {
      await new Promise<void>((resolve, reject) => {
        timer = setTimeout(resolve, ms);
        signal.addEventListener('abort', () => resolve(), { once: true });
        leave = this.hear(watched, {
          change: ({ status, over }) => {
            last = status;
            if (over) resolve();
          },
          end: (error) => (error === null ? resolve() : reject(error as Error)),
        });
      });
      return last;
    } finally {
      clearTimeout(timer);
      leave();
    }
  }

  close(): void {
    for (const [key, watch] of this.#watches) this.#drop(key, watch);
  }

  #drop(key: string, watch: WatchedJob): void {
    if (this.#watches.get(key) === watch) this.#watches.delete(key);
    watch.stop.abort();
  }

  async #follow(key: string, watch: WatchedJob, { client, work, id }: Watched): Promise<void> {
    let fault: unknown = null;
    try {
      for await (const status of client.watch(id, { work, signal: watch.stop.signal })) {
        watch.last = changeOf(status);
        for (const hearer of [...watch.hearers]) hearer.change(watch.last);
      }
    } catch (error) {
      fault = error;
    }
    this.#drop(key, watch);
    for (const hearer of [...watch.hearers]) hearer.end(fault);
    watch.hearers.clear();
  }
}
