/** What the store holds of a batch: its end, its result, the batch itself; each by its record, that of a revision too. */
import type { Readable } from 'node:stream';
import { PairstopError } from '../../errors.js';
import { storedText } from '../../processes/documents.js';
import type { WorkKind } from '../../processes/solver/tasks.js';
import { jobIdOf, revisionOf } from '../names.js';
import { errorFrom } from '../record/figures.js';
import { isOutage } from '../redis/outage.js';
import type { ResultOptions, RevisionChoice, WorkChoice } from './client-api.js';
import { requireId, requireRevision, requireWait, requireWork } from './options.js';
import { unknown } from './refused.js';
import type { Session } from './session.js';
import { type BatchEnd, batchEnd } from './status.js';
import { awaitEnd, type Inquiry } from './watch.js';

/** A document as it is stored, and the fingerprint of the batch it is sealed with. */
export interface StoredDocument {
  readonly fingerprint: string;
  readonly sealed: Buffer;
}

/** Throws PS_USAGE. */
export function jobOf(id: string, work: WorkKind): string {
  requireId(id);
  requireWork(work);
  return jobIdOf(id, work);
}

export class StoredDocuments {
  readonly #session: Session;

  constructor(session: Session) {
    this.#session = session;
  }

  inquiry<T>(id: string, work: WorkKind, ask: () => Promise<T>): Inquiry<T> {
    const again = (error: unknown): boolean => this.#session.mayComeBack && isOutage(error);
    return { ask, again, command: `pairstop status ${id}${work === 'plan' ? '' : ' --compare'}` };
  }

  /** What a batch's record is stored under; an earlier revision has one of its own. Throws PS_USAGE, PS_UNKNOWN. */
  async recordOf(id: string, { work = 'plan', revision }: RevisionChoice): Promise<string> {
    const jobId = jobOf(id, work);
    if (revision === undefined) return jobId;
    requireRevision(revision);
    const { store } = this.#session;
    const [newest] = await this.#session.ask('asking for the revision', () =>
      store.read(jobId, ['revision']),
    );
    return Number(newest?.toString() ?? 1) === revision ? jobId : revisionOf(jobId, revision);
  }

  /** Throws PS_PENDING, PS_CANCELLED, PS_STORE, and what a failed batch failed with. */
  async result(
    work: WorkKind,
    id: string,
    { wait = 0, partial = false, revision }: ResultOptions,
  ): Promise<StoredDocument> {
    const jobId = await this.recordOf(id, revision === undefined ? { work } : { work, revision });
    requireWait('wait', wait);
    const inquiry = this.inquiry(id, work, () => this.#end(jobId, id));
    const end = await awaitEnd(id, inquiry, this.#session.listener, this.#session.keys.events(jobId), wait);
    const { state, fingerprint, failure } = end;
    switch (state) {
      case 'waiting':
      case 'running':
        throw new PairstopError(
          'PS_PENDING',
          `batch ${JSON.stringify(id)} has no result yet: it is ${state}`,
        );
      case 'cancelled':
        throw new PairstopError('PS_CANCELLED', `batch ${JSON.stringify(id)} has been cancelled`);
      case 'failed':
        if (partial) return { fingerprint, sealed: await this.#document(jobId, id, 'partial') };
        throw errorFrom(failure ?? { code: 'PS_FAILED', message: 'the batch has failed', problems: [] });
      case 'done': {
        const night = await this.#nightOf(jobId);
        if (night === null) return { fingerprint, sealed: await this.#document(jobId, id, 'plan') };
        const of = await this.#end(night, id);
        return { fingerprint: of.fingerprint, sealed: await this.#document(night, id, 'plan') };
      }
      default:
        return state satisfies never;
    }
  }

  /** Throws PS_PENDING where no worker has taken it yet. */
  async batch(id: string, choice: RevisionChoice): Promise<StoredDocument> {
    const jobId = await this.recordOf(id, choice);
    const { fingerprint } = await this.#end(jobId, id);
    const [sealed] = await this.#session.ask('fetching the batch', () =>
      this.#session.store.read(jobId, ['batch']),
    );
    if (sealed === undefined) {
      throw new PairstopError('PS_PENDING', `no worker has taken batch ${JSON.stringify(id)} yet`);
    }
    return { fingerprint, sealed };
  }

  /** Its text, unpacked as it is read. */
  async text(
    of: 'result' | 'batch',
    id: string,
    { work = 'plan', ...options }: ResultOptions & WorkChoice,
  ): Promise<Readable> {
    const { fingerprint, sealed } =
      of === 'batch' ? await this.batch(id, { work, ...options }) : await this.result(work, id, options);
    const result = work === 'plan' ? 'plan' : 'comparison';
    return storedText(of === 'batch' ? 'batch' : result, fingerprint, sealed);
  }

  /** Job id of the night that a batch is planned in. */
  async #nightOf(jobId: string): Promise<string | null> {
    const [night] = await this.#session.ask('asking for the night', () =>
      this.#session.store.read(jobId, ['night']),
    );
    return night?.toString() ?? null;
  }

  async #end(jobId: string, id: string): Promise<BatchEnd> {
    const end = await this.#session.ask('asking for the result', () => batchEnd(this.#session.store, jobId));
    if (end === null) throw unknown(id);
    return end;
  }

  async #document(jobId: string, id: string, field: 'plan' | 'partial'): Promise<Buffer> {
    const [sealed] = await this.#session.ask('fetching the result', () =>
      this.#session.store.read(jobId, [field]),
    );
    if (sealed !== undefined) return sealed;
    const of = `of batch ${JSON.stringify(id)}`;
    if (field === 'partial') throw new PairstopError('PS_UNKNOWN', `no partial plan ${of} is stored`);
    throw new PairstopError(
      'PS_STORE',
      `the result ${of} is gone; submit the batch again to have it made anew`,
    );
  }
}
