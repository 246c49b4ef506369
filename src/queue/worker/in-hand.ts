/** The jobs this worker has in hand, each with a way to end it at once. */
import type { Job } from 'bullmq';

/** Why a job in hand is ended. */
export type EndReason =
  /** Cancelled, or its batch has ended otherwise. */
  | 'ended'
  /** Another attempt has taken over. */
  | 'stale'
  /** Another attempt left a finished part. */
  | 'late'
  /** It takes longer than was expected of a small batch, and others wait for its place. */
  | 'long'
  /** This worker stops and gives its work back. */
  | 'stopping';

export class JobInHand {
  readonly #abort = new AbortController();
  /** Resolves when its job has left this worker's hands. */
  readonly over: Promise<void>;
  readonly aborted: Promise<void>;
  left: () => void = () => {};
  #reason: EndReason | null = null;

  constructor(
    /** Job id of the batch. */
    readonly batch: string,
    readonly moulding: string | null,
  ) {
    this.over = new Promise((resolve) => {
      this.left = resolve;
    });
    this.aborted = new Promise((resolve) => {
      this.#abort.signal.addEventListener('abort', () => resolve(), { once: true });
    });
  }

  get signal(): AbortSignal {
    return this.#abort.signal;
  }

  get reason(): EndReason | null {
    return this.#reason;
  }

  end(reason: EndReason): void {
    this.#reason ??= reason;
    this.#abort.abort();
  }
}

export class JobsInHand {
  readonly #tickets = new Set<JobInHand>();
  readonly #stop = new AbortController();

  get size(): number {
    return this.#tickets.size;
  }

  get tickets(): readonly JobInHand[] {
    return [...this.#tickets];
  }

  get stopSignal(): AbortSignal {
    return this.#stop.signal;
  }

  /**
   * Resolves once no earlier job here is about the same: one whose lock ran out while Redis was away is found again by
   * the queue, though what it made is about to be stored.
   */
  async alone(ticket: JobInHand): Promise<void> {
    for (;;) {
      const first = this.tickets.find(
        ({ batch, moulding }) => batch === ticket.batch && moulding === ticket.moulding,
      );
      if (first === undefined || first === ticket || ticket.signal.aborted) return;
      await Promise.race([first.over, ticket.aborted]);
    }
  }

  async during<T>(ticket: JobInHand, work: () => Promise<T>): Promise<T> {
    this.#tickets.add(ticket);
    if (this.#stop.signal.aborted) ticket.end('stopping');
    try {
      return await work();
    } finally {
      this.#tickets.delete(ticket);
      ticket.left();
    }
  }

  holds(batch: string): boolean {
    return [...this.#tickets].some((ticket) => ticket.batch === batch);
  }

  /** The batch has ended, by the record. */
  ended(batch: string): void {
    for (const ticket of this.#tickets) if (ticket.batch === batch) ticket.end('ended');
  }

  stop(): void {
    this.#stop.abort();
    for (const ticket of this.#tickets) ticket.end('stopping');
  }
}

/** BullMQ's name for the attempt: 1 for the first. */
export function attemptOf(job: Job): number {
  return job.attemptsMade + 1;
}

/** Whether the queue gives the job up if this attempt fails. */
export function isLastAttempt(job: Job): boolean {
  return attemptOf(job) >= (job.opts.attempts ?? 1);
}
