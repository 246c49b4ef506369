/** A batch's own job: reads it, adds a job for each moulding, and when these are done publishes the one plan. */
import { DelayedError, type Job, UnrecoverableError, WaitingChildrenError, WaitingError } from 'bullmq';
import type { Logger } from 'pino';
import * as z from 'zod';
import { PairstopError } from '../../../errors.js';
import { JOB_SCHEMA } from '../../../processes/envelope.js';
import { answerOf, READ_MS } from '../../../processes/solver/answer.js';
import { mostRails } from '../../../processes/solver/memory.js';
import type { TaskOutcome } from '../../../processes/solver/pool.js';
import type { BatchSummary, ReadTask } from '../../../processes/solver/tasks.js';
import type { Urgency } from '../../../terms.js';
import { BATCH_JOB, jobIdOf } from '../../names.js';
import { holdOf } from '../../night/ask-quote.js';
import { nextClosing, scheduleClosing } from '../../night/joining.js';
import { failureOf } from '../../record/figures.js';
import type { EnteredBatch } from '../../record/steps.js';
import { persist } from '../../redis/waiting.js';
import { tooManyRails } from '../../room.js';
import { extendBatch } from '../extend.js';
import { CANCELLED, failAttempt, giveUp, handBack, isCancelled, putOff, stripJob } from '../give-up.js';
import { attemptOf, isLastAttempt, JobInHand } from '../in-hand.js';
import { freshOverview, overviewOf } from '../overview.js';
import { payloadOf } from '../raw-worker.js';
import type { Service } from '../service.js';
import { addParts } from './add-parts.js';
import { publishPlan } from './assembly.js';

/** Characters of a payload that is read in a moment. */
const SMALL_PAYLOAD = 200_000;
const STORED_MOST = 300;
/** How long a batch of a newer version is left alone before this worker looks again. */
const LEFT_FOR_MS = 15_000;
/** One that is too large is offered again soon: which worker takes it then is chance, and one of them has the memory. */
const ROOM_LEFT_MS = 3_000;

const storedSchema = z.strictObject({
  schema: z.literal(JOB_SCHEMA),
  stored: z.string().regex(/^[0-9a-f]{64}$/),
});

/** Fingerprint of a batch that lies in the record already; null where the payload still carries it. */
function storedIn(payload: string): string | null {
  if (payload.length > STORED_MOST) return null;
  try {
    return storedSchema.safeParse(JSON.parse(payload)).data?.stored ?? null;
  } catch {
    return null;
  }
}

function summaryOf(outcome: TaskOutcome<ReadTask>): BatchSummary {
  return answerOf(outcome, {
    died: (reason) => new PairstopError('PS_SOLVER', `the process that read the batch died: ${reason}`),
    late: () => new PairstopError('PS_PAYLOAD', `the batch could not be read in ${READ_MS / 1000} s`),
    aborted: () => CANCELLED,
  });
}

class BatchJob {
  readonly #service: Service;
  readonly #urgency: Urgency;
  readonly #job: Job;
  readonly #id: string;
  readonly #token: string;
  readonly #ticket: JobInHand;
  readonly #log: Logger;

  constructor(service: Service, urgency: Urgency, job: Job, token: string) {
    this.#service = service;
    this.#urgency = urgency;
    this.#job = job;
    this.#id = job.id ?? '';
    this.#token = token;
    this.#ticket = new JobInHand(this.#id, null);
    this.#log = service.log.child({ batch: this.#id.slice(0, 200), attempt: attemptOf(job) });
  }

  async run(): Promise<{ readonly plan: string }> {
    return this.#service.running.during(this.#ticket, async () => {
      try {
        return await this.#process();
      } catch (error) {
        if (isCancelled(error)) return this.#cancelled();
        throw await this.#ended(error);
      }
    });
  }

  async #process(): Promise<{ readonly plan: string }> {
    const { store } = this.#service;
    const payload = payloadOf(this.#job);
    const stored = storedIn(payload);
    const summary = stored === null ? await this.#read(payload) : null;
    const rails = summary?.rails ?? (await this.#railsStored());
    if (stored !== null && rails > mostRails(this.#service.settings.rssMb))
      throw await this.#leaveRoom(rails);
    const entry = await this.#enter(summary?.fingerprint ?? stored ?? '', summary);
    switch (entry.kind) {
      case 'ended':
        if (entry.state === 'done') return { plan: 'stored' };
        throw CANCELLED;
      case 'newer':
        throw await this.#leave();
      case 'pooled':
        await this.#pooled();
        return { plan: 'pooled' };
      case 'gone':
        throw new PairstopError('PS_STORE', 'the batch is gone from the store');
      case 'other':
        throw new PairstopError(
          'PS_CONFLICT',
          `another batch is known under this id: content ${entry.fingerprint} there, ` +
            `${summary?.fingerprint ?? stored ?? 'another'} here`,
        );
      case 'go':
        break;
      default:
        return entry satisfies never;
    }
    const { run, fence, fingerprint, total, granted, shop } = entry;
    const overview =
      summary !== null && fence === 1
        ? freshOverview(summary.mouldings, summary.solving, summary.expected, summary.woodFirst)
        : await overviewOf(store, this.#id, total);
    const small = overview.expected?.small ?? false;
    const batch = { jobId: this.#id, run, fence, fingerprint, granted, shop, small, rails };
    const reopened = await extendBatch(store, batch, overview, this.#service.slots(this.#urgency));
    const added = await addParts(this.#service, this.#urgency, this.#job, batch, overview, reopened);
    if (stored === null) await this.#job.updateData({ schema: JOB_SCHEMA, stored: fingerprint });
    if (added > 0 && (await this.#job.moveToWaitingChildren(this.#token))) {
      this.#log.info({ mouldings: added }, 'batch divided into mouldings');
      throw new WaitingChildrenError();
    }
    const mouldings = overview.mouldings.map(({ moulding }) => moulding);
    const published = await publishPlan(
      this.#service,
      this.#urgency,
      batch,
      mouldings,
      this.#ticket,
      this.#log,
    );
    const { plan } = published;
    if (typeof plan === 'string') return { plan };
    // Not yet: it waits for its turn, or is planned again from what is free now.
    throw await putOff(this.#job, this.#token, Date.now() + plan.again);
  }

  async #read(payload: string): Promise<BatchSummary> {
    const { settings, pools } = this.#service;
    if (this.#job.name !== BATCH_JOB) {
      const name = JSON.stringify(this.#job.name.slice(0, 60));
      throw new PairstopError('PS_PAYLOAD', `not a batch's job: name ${name}; allowed: "${BATCH_JOB}"`);
    }
    if (payload.length > settings.payload) {
      const most = `at most ${settings.payload} (PAIRSTOP_PAYLOAD_MB)`;
      throw new PairstopError('PS_PAYLOAD', `a payload of ${payload.length} characters; allowed: ${most}`);
    }
    const task: ReadTask = { kind: 'read', text: Buffer.from(payload) };
    const { signal } = this.#ticket;
    const small = payload.length <= SMALL_PAYLOAD;
    const outcome = await pools[this.#urgency].run(() => ({ task, limit: READ_MS }), { small, signal });
    const summary = summaryOf(outcome);
    if (jobIdOf(summary.id, summary.work) !== this.#id) {
      const allowed = `${JSON.stringify(jobIdOf(summary.id, summary.work))} for this batch`;
      throw new PairstopError(
        'PS_PAYLOAD',
        `job id ${JSON.stringify(this.#id.slice(0, 200))}; allowed: ${allowed}`,
      );
    }
    if (summary.urgency !== this.#urgency) {
      const where = `a batch with urgency "${summary.urgency}" on the queue for "${this.#urgency}"`;
      throw new PairstopError('PS_PAYLOAD', `${where}; allowed: its own queue`);
    }
    await this.#requireRoom(summary.rails);
    if (summary.notBefore !== null && summary.notBefore > (await this.#now())) {
      this.#log.info({ notBefore: new Date(summary.notBefore).toISOString() }, 'batch waits for its time');
      throw await putOff(this.#job, this.#token, summary.notBefore);
    }
    return summary;
  }

  /** Of a batch that was read before; 0 where an older version did. */
  async #railsStored(): Promise<number> {
    const { settings, store, running } = this.#service;
    const [rails] = await persist(
      settings.timing.outage,
      'a batch cannot be entered',
      () => store.read(this.#id, ['rails']),
      running.stopSignal,
    );
    return Number(rails?.toString() ?? 0) || 0;
  }

  /** What is too much for this worker is left to another that has the memory, or refused where none has. */
  async #requireRoom(rails: number): Promise<void> {
    const { store, settings } = this.#service;
    const own = mostRails(settings.rssMb);
    if (rails <= own) return;
    const most = Math.max(own, (await store.railsMost(this.#urgency)) ?? 0);
    if (rails > most) throw tooManyRails(rails, most);
    throw await this.#leaveRoom(rails);
  }

  /** One that was read is not refused any more: whoever had the memory for it may only be starting again. */
  async #leaveRoom(rails: number): Promise<Error> {
    const most = mostRails(this.#service.settings.rssMb);
    this.#log.info({ rails, most }, 'batch left to a worker with more memory');
    return putOff(this.#job, this.#token, (await this.#now()) + ROOM_LEFT_MS);
  }

  /** It waits in the pool: its own job is over, since the night's plans it. */
  async #pooled(): Promise<void> {
    const { store, night, log } = this.#service;
    await stripJob(this.#service, this.#job, 'pooled');
    try {
      await scheduleClosing(night, store);
    } catch (error) {
      log.warn({ reason: error instanceof Error ? error.message : '' }, 'the sweep will close the pool');
    }
    this.#log.info('batch waits in the pool');
  }

  async #enter(fingerprint: string, summary: BatchSummary | null): Promise<EnteredBatch> {
    const { settings, store, running } = this.#service;
    const identity = { id: summary?.id ?? '', fingerprint, urgency: this.#urgency };
    const content =
      summary === null
        ? null
        : {
            sealed: summary.sealed,
            mouldings: summary.mouldings,
            rails: summary.rails,
            limit: summary.solving,
            expected: summary.expected,
            woodFirst: summary.woodFirst,
            shop: summary.shop,
            pool: summary.pool ? await nextClosing(store) : null,
            hold: summary.shop && summary.work === 'plan' ? jobIdOf(holdOf(summary.id)) : null,
          };
    return persist(
      settings.timing.outage,
      'a batch cannot be entered',
      () => store.enter(this.#id, identity, this.#job.timestamp, content),
      running.stopSignal,
    );
  }

  /** By Redis's clock, as every time of a batch. */
  #now(): Promise<number> {
    const { settings, store, running } = this.#service;
    return persist(settings.timing.outage, 'the time', () => store.now(), running.stopSignal);
  }

  /** Its record is that of a newer version: a worker of that version takes it, or this one once it is upgraded. */
  async #leave(): Promise<Error> {
    this.#log.warn({ code: 'PS_VERSION' }, 'batch of a newer version left to newer workers');
    return putOff(this.#job, this.#token, (await this.#now()) + LEFT_FOR_MS);
  }

  /** A cancelled batch is no failure of the queue's: its job is over. */
  async #cancelled(): Promise<{ readonly plan: string }> {
    if (this.#ticket.reason === 'stopping') throw await handBack(this.#job, this.#token);
    this.#service.metrics.batchEnded('cancelled');
    await stripJob(this.#service, this.#job, 'PS_CANCELLED');
    this.#log.info('batch ended: it is cancelled or over');
    return { plan: 'cancelled' };
  }

  /** What the queue is told. */
  async #ended(error: unknown): Promise<Error> {
    const { store, settings, errors } = this.#service;
    if (
      error instanceof WaitingChildrenError ||
      error instanceof DelayedError ||
      error instanceof WaitingError
    ) {
      return error;
    }
    if (this.#ticket.reason === 'stopping') {
      this.#log.info('batch handed back');
      return handBack(this.#job, this.#token);
    }
    if (error instanceof UnrecoverableError || !(error instanceof PairstopError)) {
      return error instanceof Error ? error : failAttempt(error);
    }
    const again = ['PS_SOLVER', 'PS_REDIS'].includes(error.code) && !isLastAttempt(this.#job);
    this.#log.warn({ code: error.code, again }, 'batch failed');
    await errors.add(error.code, error.message, this.#id, null);
    if (again) return failAttempt(error);
    if (error.code !== 'PS_CONFLICT') {
      const failure = JSON.stringify(failureOf(error));
      await persist(settings.timing.outage, 'a failure cannot be stored', () =>
        store.failBatch(this.#id, null, failure, null),
      );
    }
    this.#service.metrics.batchEnded('failed');
    await stripJob(this.#service, this.#job, error.code);
    return giveUp(error);
  }
}

export async function processBatch(
  service: Service,
  urgency: Urgency,
  job: Job,
  token: string | undefined,
): Promise<{ readonly plan: string }> {
  if (token === undefined) throw new PairstopError('PS_INTERNAL', 'a job was taken without its lock');
  return new BatchJob(service, urgency, job, token).run();
}
