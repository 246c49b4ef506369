/** Stored parts become the batch's one plan, or the reason why there is none. */
import type { Logger } from 'pino';
import { PairstopError } from '../../../errors.js';
import { ASSEMBLE_MS, assembledOf } from '../../../processes/solver/answer.js';
import type { TaskOrder } from '../../../processes/solver/pool.js';
import type { AssembleTask, BatchSource, SealedPlan } from '../../../processes/solver/tasks.js';
import type { OfferedPiece } from '../../../rack/shop-pieces.js';
import type { Urgency } from '../../../terms.js';
import { inSpan } from '../../health/spans.js';
import { batchOfJob, jobIdOf, workOf } from '../../names.js';
import { offered, pauseFor, silenceOf, takingOf } from '../../rack/taking.js';
import { fieldOf } from '../../record/fields.js';
import { type Failure, failureFrom, failureOf } from '../../record/figures.js';
import type { MemberOutcomes } from '../../record/steps.js';
import type { Store } from '../../record/store.js';
import { persist } from '../../redis/waiting.js';
import { CANCELLED, giveUp } from '../give-up.js';
import type { JobInHand } from '../in-hand.js';
import type { Service } from '../service.js';
import type { BatchAttempt } from './add-parts.js';

const CHUNK = 100;

interface StoredParts {
  readonly found: readonly { readonly moulding: string; readonly sealed: Buffer }[];
  readonly failures: readonly { readonly moulding: string; readonly failure: Failure }[];
}

const NO_TRACE: Failure = {
  code: 'PS_STALLED',
  message: 'the workers that took this moulding died every time',
  problems: [],
};

async function partsOf(store: Store, jobId: string, mouldings: readonly string[]): Promise<StoredParts> {
  const found: { moulding: string; sealed: Buffer }[] = [];
  const failures: { moulding: string; failure: Failure }[] = [];
  for (let from = 0; from < mouldings.length; from += CHUNK) {
    const some = mouldings.slice(from, from + CHUNK);
    const values = await store.read(jobId, [
      ...some.map((_, i) => fieldOf('part', from + i)),
      ...some.map((_, i) => fieldOf('failure', from + i)),
    ]);
    some.forEach((moulding, i) => {
      const sealed = values[i];
      const failed = values[some.length + i];
      if (sealed !== undefined) found.push({ moulding, sealed });
      else
        failures.push({
          moulding,
          failure: failed === undefined ? NO_TRACE : failureFrom(failed.toString()),
        });
    });
  }
  return { found, failures };
}

async function sourceOf(store: Store, jobId: string): Promise<BatchSource> {
  const [sealed] = await store.read(jobId, ['batch']);
  if (sealed === undefined) throw new PairstopError('PS_STORE', 'the batch is gone from the store');
  return { kind: 'sealed', sealed };
}

async function assemble(
  service: Service,
  urgency: Urgency,
  { jobId, fingerprint, small }: BatchAttempt,
  { found, failures }: StoredParts,
  pieces: readonly OfferedPiece[],
  ticket: JobInHand,
): Promise<SealedPlan> {
  const failed = failures.map(({ moulding, failure: { code, message } }) => ({ moulding, code, message }));
  const order = async (holds: boolean): Promise<TaskOrder<AssembleTask>> => {
    const source = holds ? null : await sourceOf(service.store, jobId);
    const task = {
      kind: 'assemble',
      work: workOf(jobId),
      batch: { key: fingerprint, source },
      parts: found,
      rack: pieces.map(({ piece }) => piece),
      failed,
    } as const;
    return { task, limit: ASSEMBLE_MS };
  };
  const outcome = await inSpan('assemble', { batch: jobId, mouldings: found.length }, () =>
    service.pools[urgency].run(order, { key: fingerprint, small, signal: ticket.signal }),
  );
  return assembledOf(outcome, () => CANCELLED);
}

function whyFailed(failures: StoredParts['failures'], total: number): PairstopError {
  const problems = failures.map(({ moulding, failure }) => ({
    path: `moulding ${JSON.stringify(moulding)}`,
    given: `${failure.code}: ${failure.message}`,
    allowed: 'a plan',
  }));
  const [first] = problems;
  const of = `${failures.length} of ${total} mouldings could not be planned`;
  return new PairstopError('PS_FAILED', `${of}; ${first?.path ?? ''}: ${first?.given ?? ''}`, problems);
}

/** What the batches of a pooled plan come to, by their job ids; null: it is of one batch. */
function outcomesOf({ members }: SealedPlan): MemberOutcomes | null {
  if (members.length === 0) return null;
  return Object.fromEntries(members.map(({ id, status, cost }) => [jobIdOf(id), [status, cost]]));
}

/** Published, or by whom else; or in how many milliseconds the batch's job is to look again. */
export interface PublishedPlan {
  readonly plan: string | { readonly again: number };
}

/** Publishes the plan, or fails the batch and keeps a plan that is short of the mouldings that have none. */
export async function publishPlan(
  service: Service,
  urgency: Urgency,
  batch: BatchAttempt,
  mouldings: readonly string[],
  ticket: JobInHand,
  log: Logger,
): Promise<PublishedPlan> {
  const { store, rack, settings, running, errors, metrics } = service;
  const { jobId, run, fence } = batch;
  const silence = silenceOf(settings.timing);
  const keep = <T>(what: string, ask: () => Promise<T>): Promise<T> =>
    persist(settings.timing.outage, what, ask, running.stopSignal);
  if (batch.granted > 0) {
    const turn = await keep('a batch cannot ask for its turn', () => store.turn(jobId, run, fence, silence));
    if (turn.kind === 'ended') throw CANCELLED;
    if (turn.kind === 'wait') return { plan: { again: pauseFor(turn.before) } };
  }
  const parts = await keep('parts cannot be read', () => partsOf(store, jobId, mouldings));
  const { found, failures } = parts;
  const rounds = batch.shop
    ? await keep('pieces cannot be read', () => offered(store, jobId, mouldings))
    : [];
  const pieces = rounds.flat();
  if (failures.length > 0) {
    const error = whyFailed(failures, found.length + failures.length);
    const partial =
      found.length === 0 ? null : await assemble(service, urgency, batch, parts, pieces, ticket);
    const failure = JSON.stringify(failureOf(error));
    await keep('a failure cannot be stored', () =>
      store.failBatch(jobId, run, failure, partial?.sealed ?? null),
    );
    metrics.batchEnded('failed');
    log.warn({ failed: failures.length, planned: found.length }, 'batch failed');
    await errors.add(error.code, error.message, jobId, null);
    throw giveUp(error);
  }
  const began = performance.now();
  const plan = await assemble(service, urgency, batch, parts, pieces, ticket);
  const seconds = Math.round(performance.now() - began) / 1_000;
  metrics.assembled(urgency, seconds);
  const outcome = await keep('a plan cannot be published', async () => {
    const taking = batch.shop ? await takingOf(rack, batchOfJob(jobId), plan, pieces, silence) : null;
    return store.publish(jobId, run, fence, plan, taking, outcomesOf(plan));
  });
  switch (outcome.kind) {
    case 'ended':
      throw CANCELLED;
    case 'wait':
      log.info({ before: outcome.before }, 'plan waits: other batches were first to wait for these pieces');
      return { plan: { again: pauseFor(outcome.before) } };
    case 'taken': {
      const taken = new Set(outcome.taken);
      const again = rounds.flatMap((some, i) => (some.some(({ piece }) => taken.has(piece.id)) ? [i] : []));
      log.info(
        { taken: taken.size, mouldings: again.length },
        'pieces are gone: planned again from what is free',
      );
      const replanned = await keep('a batch cannot be planned again', () =>
        store.replan(jobId, run, fence, again),
      );
      if (replanned === 'ended') throw CANCELLED;
      return { plan: { again: 0 } };
    }
    case 'published':
    case 'stale':
      if (outcome.kind === 'published') metrics.batchEnded(plan.status);
      log.info({ outcome: outcome.kind, status: plan.status, cost: plan.cost, seconds }, 'plan published');
      return { plan: outcome.kind };
    default:
      return outcome satisfies never;
  }
}
