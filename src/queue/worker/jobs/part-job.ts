/** One moulding of a batch: solved in a process of its own, its best plan so far kept in the record. */
import type { Job } from 'bullmq';
import type { Logger } from 'pino';
import * as z from 'zod';
import { PairstopError } from '../../../errors.js';
import { SMALL_MS } from '../../../processes/expected.js';
import { gapOf } from '../../../processes/progress.js';
import { solveMoulding } from '../../../processes/solve-moulding.js';
import { mostRails } from '../../../processes/solver/memory.js';
import type { SealedPart } from '../../../processes/solver/tasks.js';
import type { RackPiece } from '../../../rack/terms.js';
import type { Urgency } from '../../../terms.js';
import { inSpan } from '../../health/spans.js';
import { PART_JOB, PART_SCHEMA, SMALL_PARTS, workOf } from '../../names.js';
import { resolved } from '../../rack/taking.js';
import { failureOf, figuresOf } from '../../record/figures.js';
import type { Attempt, BegunAttempt } from '../../record/steps.js';
import { persist, within } from '../../redis/waiting.js';
import { CANCELLED, failAttempt, giveUp, handBack, isCancelled, putOff, stripJob } from '../give-up.js';
import { attemptOf, isLastAttempt, JobInHand } from '../in-hand.js';
import { rankAt } from '../rank.js';
import { payloadOf } from '../raw-worker.js';
import type { Service } from '../service.js';
import { Solving } from '../solving.js';
import { type PartPayload, partOptions } from './part-options.js';
import { turnOf } from './turn.js';

const PAYLOAD_MOST = 4_096;
const RELEASE_MS = 1_500;
/** Reading a batch that takes less is not worth asking Redis for. */
const READING_COUNTS_MS = 500;
const SECOND = 1_000;

/** Further fields are a newer version's, and do not keep this one from the work. */
const payloadSchema = z.looseObject({
  schema: z.literal(PART_SCHEMA),
  /** Job id of the batch. */
  batch: z.string().min(1),
  run: z.int().min(1),
  fingerprint: z.string().regex(/^[0-9a-f]{64}$/),
  index: z.int().min(0),
  moulding: z.string().min(1),
  rails: z.int().min(0).optional(),
});

const NEWER = /^\{"schema":"pairstop\/part@([2-9]|\d\d+)"/;
/** How long a job of a newer version is left alone before this worker looks again. */
const LEFT_FOR_MS = 15_000;
/** One of a batch that is too large for this worker is offered again soon. */
const ROOM_LEFT_MS = 3_000;

/** A job of a newer version begins with its schema, as JSON.stringify writes it. */
function isNewer(job: Job): boolean {
  return job.name === PART_JOB && NEWER.test(payloadOf(job));
}

function readPayload(job: Job): PartPayload {
  const text = payloadOf(job);
  const refuse = (given: string): PairstopError =>
    new PairstopError('PS_PAYLOAD', `not a moulding's job: ${given}; allowed: what a batch's own job adds`);
  if (job.name !== PART_JOB) throw refuse(`name ${JSON.stringify(job.name.slice(0, 60))}`);
  if (text.length > PAYLOAD_MOST) throw refuse(`a payload of ${text.length} characters`);
  try {
    const { data } = payloadSchema.safeParse(JSON.parse(text));
    if (data !== undefined) return data;
  } catch {
    // Refused below.
  }
  throw refuse('another payload');
}

class PartJob {
  readonly #service: Service;
  readonly #urgency: Urgency;
  readonly #job: Job;
  readonly #token: string | undefined;
  readonly #payload: PartPayload;
  readonly #ticket: JobInHand;
  readonly #log: Logger;
  readonly #small: boolean;
  /** Milliseconds of solving in this attempt. */
  #solving = 0;

  constructor(service: Service, urgency: Urgency, job: Job, token: string | undefined, payload: PartPayload) {
    this.#service = service;
    this.#urgency = urgency;
    this.#job = job;
    this.#token = token;
    this.#payload = payload;
    this.#ticket = new JobInHand(payload.batch, payload.moulding);
    this.#small = job.queueName === SMALL_PARTS;
    const { batch, moulding } = payload;
    this.#log = service.log.child({ batch, moulding, attempt: attemptOf(job) });
  }

  async run(): Promise<{ readonly part: string }> {
    const { running, turnstiles } = this.#service;
    return running.during(this.#ticket, async () => {
      await running.alone(this.#ticket);
      const turnstile = turnstiles[this.#urgency];
      if (await turnstile.enter(this.#small, this.#ticket.signal)) {
        try {
          return await this.#inSlot();
        } finally {
          turnstile.leave(this.#small);
        }
      }
      if (this.#ticket.reason === 'stopping') throw await handBack(this.#job, this.#token);
      return { part: 'cancelled' };
    });
  }

  async #inSlot(): Promise<{ readonly part: string }> {
    const { store, settings } = this.#service;
    const { batch, index, run, moulding } = this.#payload;
    const begun = await persist(
      settings.timing.outage,
      'a moulding cannot be begun',
      () => store.attempts.begin(batch, index, run, moulding),
      this.#ticket.signal,
    );
    if (begun.kind !== 'go') {
      if (begun.kind === 'done') return { part: 'stored' };
      if (begun.kind === 'ended') return { part: 'cancelled' };
      if (begun.kind === 'gone') {
        throw giveUp(new PairstopError('PS_STORE', 'the batch of this moulding is gone from the store'));
      }
      throw giveUp(new PairstopError('PS_FAILED', 'this moulding failed before'));
    }
    const attempt: Attempt = { jobId: batch, index, run, fence: begun.fence };
    try {
      return await this.#attempt(attempt, begun);
    } catch (error) {
      // A cancelled moulding is no failure of the queue's: its job is over.
      const { reason } = this.#ticket;
      if (isCancelled(error) && reason !== 'stopping' && reason !== 'long') {
        this.#service.metrics.mouldingEnded('cancelled');
        this.#log.info('moulding ended: its batch is cancelled or over');
        return { part: 'cancelled' };
      }
      if (this.#ticket.reason === 'long') return this.#giveWay(attempt);
      throw await this.#ended(attempt, error);
    }
  }

  /** Goes on where large batches are solved, from the best plan so far; its batch waits for that job too. */
  async #giveWay(attempt: Attempt): Promise<{ readonly part: string }> {
    const { store, settings, parts, running } = this.#service;
    const { id = '', parent, timestamp } = this.#job;
    await persist(
      settings.timing.outage,
      'a moulding cannot give way',
      async () => {
        await store.attempts.release(attempt);
        const rank = rankAt(timestamp + SMALL_MS, await store.ranksFrom(this.#urgency));
        const of = { id: this.#payload.batch, queue: parent?.queueKey ?? '' };
        const options = partOptions(settings, `${id}.long`, of, rank);
        await parts[this.#urgency].add(PART_JOB, this.#payload, options);
      },
      running.stopSignal,
    );
    this.#log.info('moulding takes longer than expected of a small batch: it gives way');
    return { part: 'long' };
  }

  async #attempt(attempt: Attempt, begun: BegunAttempt): Promise<{ readonly part: string }> {
    const log = this.#log;
    if (begun.late !== null) return this.#finish(attempt, begun.late, 0);
    const { budget, woodOnly } = turnOf(begun, this.#service.slots(this.#urgency));
    const allotted = begun.allotted ?? budget;
    // Where this is lost, others may have a longer turn than there is time for.
    if (begun.allotted === null)
      void this.#service.store.attempts.allot(attempt, budget).catch(() => undefined);
    log.info({ seconds: Math.round(budget) / 1000, resumed: begun.best !== null }, 'moulding begun');
    const rack = begun.shop ? await this.#pieces(attempt) : [];
    if (begun.used === 0) this.#service.metrics.waited(this.#urgency, this.#waited());
    const began = performance.now();
    let taken = Number.POSITIVE_INFINITY;
    const crowded = async (): Promise<boolean> => {
      if (!this.#small || performance.now() - taken < SMALL_MS) return false;
      const { pools, turnstiles, small } = this.#service;
      if (pools[this.#urgency].smallWaits || turnstiles[this.#urgency].smallWaits) return true;
      return (await small.getWaitingCount()) > 0;
    };
    const solving = new Solving(
      this.#service,
      attempt,
      this.#payload.moulding,
      this.#ticket,
      allotted,
      log,
      crowded,
    );
    const attributes = { batch: attempt.jobId, moulding: this.#payload.moulding };
    const solve = async (): Promise<SealedPart> => {
      const { part: solved, cut } = await solveMoulding(this.#service.pools[this.#urgency], {
        work: workOf(this.#payload.batch),
        key: this.#payload.fingerprint,
        source: async () => ({ kind: 'sealed', sealed: await this.#batch() }),
        moulding: this.#payload.moulding,
        budget: () => {
          taken = performance.now();
          return budget;
        },
        woodOnly: () => woodOnly,
        small: this.#small,
        rack,
        start: begun.best,
        signal: this.#ticket.signal,
        onImproved: (improved) => solving.improved(improved),
        onRead: () => {
          // What reading took is not taken from the other mouldings; where this is lost, they have less.
          if (performance.now() - taken < READING_COUNTS_MS) return;
          void this.#service.store.attempts.clock(attempt).catch(() => {});
        },
      });
      if (cut) log.warn('the solver did not stop at the time limit and was ended');
      return solved;
    };
    const part = await solving.during(() => inSpan('solve', attributes, solve));
    this.#solving = performance.now() - began;
    return this.#finish(attempt, part, allotted);
  }

  /** What is free on the rack; none for an attempt that is over anyway, which its next beat tells it. */
  async #pieces(attempt: Attempt): Promise<readonly RackPiece[]> {
    const { rack, store, settings } = this.#service;
    const found = await persist(
      settings.timing.outage,
      'the rack cannot be read',
      () => resolved(rack, store, attempt, this.#payload.moulding),
      this.#ticket.signal,
    );
    if (found === 'ended' || found === 'stale') {
      this.#ticket.end(found);
      throw CANCELLED;
    }
    return found.map(({ piece }) => piece);
  }

  /** Seconds since the job was due. */
  #waited(): number {
    return (Date.now() - this.#job.timestamp - this.#job.delay) / SECOND;
  }

  async #batch(): Promise<Buffer> {
    const { store, settings } = this.#service;
    const [sealed] = await persist(
      settings.timing.outage,
      'a batch cannot be read',
      () => store.read(this.#payload.batch, ['batch']),
      this.#ticket.signal,
    );
    if (sealed === undefined) throw new PairstopError('PS_STORE', 'the batch is gone from the store');
    return sealed;
  }

  /** A finished part is worth waiting for Redis; only stopping ends that. */
  async #finish(attempt: Attempt, part: SealedPart, allotted: number): Promise<{ readonly part: string }> {
    const { store, settings, running, metrics } = this.#service;
    const outcome = await persist(
      settings.timing.outage,
      'a finished part cannot be stored',
      () => store.attempts.finish(attempt, part, allotted),
      running.stopSignal,
    );
    if (outcome === 'ended') throw CANCELLED;
    const { proof } = figuresOf(part);
    const { status, value, bound, measure } = proof;
    const seconds = Math.round(this.#solving) / SECOND;
    metrics.mouldingEnded(status);
    metrics.solved(this.#urgency, seconds, gapOf(proof));
    this.#log.info({ outcome, status, measure, value, bound, seconds }, 'moulding done');
    return { part: outcome };
  }

  /** What the queue is told. */
  async #ended(attempt: Attempt, error: unknown): Promise<Error> {
    const { store, settings, errors } = this.#service;
    if (this.#ticket.reason === 'stopping') {
      await within(RELEASE_MS, 'releasing a moulding', store.attempts.release(attempt)).catch(() => {});
      this.#log.info('moulding handed back');
      return handBack(this.#job, this.#token);
    }
    if (!(error instanceof PairstopError)) return error instanceof Error ? error : failAttempt(error);
    const again = ['PS_SOLVER', 'PS_REDIS'].includes(error.code) && !isLastAttempt(this.#job);
    this.#log.warn({ code: error.code, reason: error.message, again }, 'moulding failed');
    await errors.add(error.code, error.message, attempt.jobId, this.#payload.moulding);
    if (again) {
      await store.attempts.release(attempt).catch(() => {});
      return failAttempt(error);
    }
    this.#service.metrics.mouldingEnded('failed');
    const failure = JSON.stringify(failureOf(error));
    await persist(settings.timing.outage, 'a failure cannot be stored', () =>
      store.attempts.fail(attempt, failure),
    );
    return giveUp(error);
  }
}

export async function processPart(
  service: Service,
  urgency: Urgency,
  job: Job,
  token: string | undefined,
): Promise<{ readonly part: string }> {
  if (isNewer(job)) {
    service.log.warn(
      { job: job.id, code: 'PS_VERSION' },
      'moulding of a newer version left to newer workers',
    );
    throw await putOff(job, token, (await service.store.now()) + LEFT_FOR_MS);
  }
  let payload: PartPayload;
  try {
    payload = readPayload(job);
  } catch (error) {
    service.log.warn({ job: job.id, code: 'PS_PAYLOAD' }, 'a job that is not ours');
    await stripJob(service, job, 'PS_PAYLOAD');
    throw giveUp(error);
  }
  // Whoever read the batch had the memory; it may only be starting again.
  if ((payload.rails ?? 0) > mostRails(service.settings.rssMb)) {
    throw await putOff(job, token, (await service.store.now()) + ROOM_LEFT_MS);
  }
  return new PartJob(service, urgency, job, token, payload).run();
}
