/**
 * What is due of the pool is done: it is closed at its time, and each night that has closed is put together and handed to
 * the queue. Each step is safe to repeat and to be done by several workers, so a job, a sweep, or both may call this.
 */
import { PairstopError } from '../../errors.js';
import { JOB_SCHEMA } from '../../processes/envelope.js';
import { answerOf } from '../../processes/solver/answer.js';
import { mostRails } from '../../processes/solver/memory.js';
import type { ComposedNight, ComposeTask } from '../../processes/solver/tasks.js';
import { addBatch } from '../client/submit/add-batch.js';
import { batchOfJob, jobIdOf, URGENCIES } from '../names.js';
import { failureOf } from '../record/figures.js';
import type { NightPart } from '../record/steps.js';
import type { Service } from '../worker/service.js';

/** Reading as many batches as a night has takes some seconds at most. */
const COMPOSE_MS = 300_000;
/** Ids tried, where other batches have those of a night's further parts. */
const TRIES = 50;

/** Attempts of workers to put a night together, those that died included. */
const ATTEMPTS_MOST = 12;

const GIVEN_UP = new PairstopError('PS_STALLED', 'no worker lived to put the night together');
const DAMAGED = new PairstopError('PS_STORE', 'no batch of the night can be read');

async function membersOf(service: Service, jobId: string): Promise<readonly string[]> {
  const [members] = await service.store.read(jobId, ['members']);
  return members === undefined ? [] : (JSON.parse(members.toString()) as string[]);
}

async function composed(
  service: Service,
  id: string,
  further: string,
  members: readonly string[],
): Promise<ComposedNight> {
  const { store, pools, running } = service;
  const sealed = await Promise.all(
    members.map(async (job) => {
      const [fingerprint, batch] = await store.read(job, ['fingerprint', 'batch']);
      return { fingerprint: fingerprint?.toString() ?? '', sealed: batch ?? Buffer.alloc(0) };
    }),
  );
  const { zone } = (await store.night.state()).settings;
  const rails = await railsOfAPlan(service);
  const task: ComposeTask = { kind: 'compose', id, further, zone, rails, members: sealed };
  const signal = running.stopSignal;
  const urgency = service.settings.nowSlots > 0 ? 'now' : 'tonight';
  const outcome = await pools[urgency].run(() => ({ task, limit: COMPOSE_MS }), { signal });
  return answerOf<ComposeTask>(outcome, {
    died: (reason) =>
      new PairstopError('PS_SOLVER', `the process that put the night together died: ${reason}`),
    late: () =>
      new PairstopError('PS_SOLVER', `the night could not be put together in ${COMPOSE_MS / 1000} s`),
    aborted: () => new PairstopError('PS_CANCELLED', 'the worker is stopping'),
  });
}

/** Whether the night will be for now or for tonight its batches decide: a worker of either must have the memory. */
async function railsOfAPlan({ store, settings }: Service): Promise<number> {
  const most = await Promise.all(URGENCIES.map((urgency) => store.railsMost(urgency)));
  const known = most.flatMap((rails) => (rails === null ? [] : [rails]));
  return known.length === 0 ? mostRails(settings.rssMb) : Math.min(...known);
}

function partOf(
  job: string,
  { summary, members }: ComposedNight['parts'][number],
  jobs: readonly string[],
): NightPart {
  const { id, fingerprint, urgency, mouldings, rails, solving, expected, woodFirst, shop, sealed } = summary;
  return {
    jobId: job,
    id,
    fingerprint,
    urgency,
    content: { sealed, mouldings, rails, limit: solving, shop, expected, woodFirst },
    members: members.map((at) => jobs[at]!),
  };
}

/** Whether it may be otherwise the next time. */
function passes(error: unknown): boolean {
  return !(error instanceof PairstopError) || ['PS_REDIS', 'PS_CANCELLED', 'PS_SOLVER'].includes(error.code);
}

/** Puts a night together; one that cannot be, or that nobody lived to put together, ends with all its batches. */
async function make(service: Service, jobId: string): Promise<void> {
  const { store, log } = service;
  const attempts = await store.night.attempt(jobId);
  try {
    if (attempts > ATTEMPTS_MOST) throw GIVEN_UP;
    await compose(service, jobId);
  } catch (error) {
    if (error !== GIVEN_UP && passes(error)) throw error;
    log.error({ night: jobId, reason: error instanceof Error ? error.message : '' }, 'a night failed');
    await store.failBatch(jobId, null, JSON.stringify(failureOf(error)), null);
  }
}

/** Gives a night its content: what its batches make together. */
async function compose(service: Service, jobId: string): Promise<void> {
  const { store, log } = service;
  const id = batchOfJob(jobId);
  let further = id;
  for (let tries = 1; tries <= TRIES; tries++) {
    const members = await membersOf(service, jobId);
    const { parts, damaged } = await composed(service, id, further, members);
    for (const { at, message } of damaged) {
      const job = members[at]!;
      log.error({ batch: job.slice(0, 200), night: jobId }, 'a batch of the night cannot be read');
      await store.night.drop(job, jobId, JSON.stringify(failureOf(new PairstopError('PS_STORE', message))));
    }
    if (parts.length === 0) throw DAMAGED;
    const made = await store.night.compose(
      jobId,
      parts.map((part, i) => partOf(i === 0 ? jobId : jobIdOf(part.summary.id), part, members)),
    );
    if (made.kind === 'ended') return;
    if (made.kind === 'made' || made.kind === 'made before') {
      log.info({ night: jobId, batches: members.length, plans: parts.length }, 'night put together');
      return;
    }
    // Should another batch have the id of a further part, the parts get other ids.
    if (made.kind === 'taken') further = `${id}.${tries + 1}`;
  }
}

/** A night that is waiting has a job; one that lost it gets another. */
async function hand(service: Service, jobId: string): Promise<void> {
  const { store, batches, settings } = service;
  const [state, urgencyText, fingerprint, batch] = await store.read(jobId, [
    'state',
    'urgency',
    'fingerprint',
    'batch',
  ]);
  const unfinished = state?.toString() === 'waiting' || state?.toString() === 'running';
  // One that has just closed is still to be put together.
  if (!unfinished || fingerprint === undefined || batch === undefined) return;
  const urgency = urgencyText?.toString() === 'tonight' ? 'tonight' : 'now';
  const known = await batches[urgency].getJob(jobId);
  const over = known !== undefined && ['failed', 'completed', 'unknown'].includes(await known.getState());
  if (known !== undefined && !over) return;
  await addBatch(batches[urgency], store, {
    jobId,
    exists: known !== undefined,
    payload: { schema: JOB_SCHEMA, stored: fingerprint.toString() },
    delay: 0,
    retention: settings.retention,
  });
}

export async function tendNight(service: Service): Promise<{ readonly closed: string | null }> {
  const { store, log } = service;
  const closing = await store.night.close(false, 'service');
  if (closing.kind === 'closed') {
    log.info({ night: closing.jobId, batches: closing.batches }, 'the pool has closed');
  }
  for (const jobId of await store.night.open()) {
    const [batch] = await store.read(jobId, ['batch']);
    if (batch === undefined) await make(service, jobId);
  }
  // What has just been put together may be several.
  for (const jobId of await store.night.open()) await hand(service, jobId);
  return { closed: closing.kind === 'closed' ? closing.jobId : null };
}
