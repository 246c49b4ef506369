/** What a client of the service can do, and what it answers. */

import type { Readable } from 'node:stream';
import type { BatchDocument } from '../../documents/batch/schema.js';
import type { Comparison } from '../../documents/comparison/types.js';
import type { Plan } from '../../documents/plan/types.js';
import type { Quote } from '../../documents/quote/schema.js';
import type { WorkKind } from '../../processes/solver/tasks.js';
import type { QuoteOptions } from '../night/ask-quote.js';
import type { NightDesk } from '../night/desk-api.js';
import type { RackDesk } from '../rack/desk-api.js';
import type { BatchState } from '../record/steps.js';
import type { BatchPage, PageOptions } from './list.js';
import type { BatchStatus, ServiceStatus } from './status.js';
import type { WatchOptions } from './watch.js';

export interface Submission {
  readonly id: string;
  readonly fingerprint: string;
  /** `again`: it had failed, been cancelled or lost its result, and is tried anew; `same`: it is known already. */
  /** `replaced`: the content known before under the id made room, and stays as the revision before. */
  readonly outcome: 'new' | 'again' | 'same' | 'replaced';
  readonly state: BatchState;
  /** From 1: how often the id has stood for other content. */
  readonly revision: number;
}

/** Planning and comparing a batch are two jobs, each with its own state and result. */
export interface WorkChoice {
  /** By default the plan. */
  readonly work?: WorkKind;
}

export interface SubmitOptions extends WorkChoice {
  /** Other content under the same id makes room, unless it is being cut. */
  readonly replace?: boolean;
}

export interface CancelChoice extends WorkChoice {
  /** Also out of a night that is planned and not yet begun: the others are planned again. */
  readonly replan?: boolean;
}

/** An earlier revision of a batch; by default the newest. */
export interface RevisionChoice extends WorkChoice {
  readonly revision?: number;
}

export interface ResultOptions {
  /** An earlier one; by default the newest. */
  readonly revision?: number;
  /** Milliseconds to wait for the plan; by default 0. */
  readonly wait?: number;
  /** Of a failed batch, the plan of those mouldings that have one. */
  readonly partial?: boolean;
}

/**
 * All methods throw PairstopError: PS_REDIS when Redis does not answer in time or refuses the password, PS_STORE for
 * damaged records, PS_USAGE for arguments of another kind. What waits for a batch waits through an outage too.
 */
export interface Client {
  /** Throws PS_JSON, PS_BATCH for a batch that is refused, PS_CONFLICT when its id stands for other content that neither failed nor was cancelled. */
  submit(batch: BatchDocument | string | Uint8Array, options?: SubmitOptions): Promise<Submission>;
  /**
   * What one more order adds in wood, money and hours to what waits in the pool, to what lies on the rack, or to nothing.
   * Reserves nothing unless asked. Throws PS_JSON, PS_BATCH, PS_PENDING when no worker answers in time.
   */
  quote(order: BatchDocument | string | Uint8Array, options?: QuoteOptions): Promise<Quote>;
  /** Throws PS_UNKNOWN. */
  status(id: string, asked?: RevisionChoice): Promise<BatchStatus>;
  /** The batches there are, newest first, a page at a time. */
  list(options?: PageOptions): Promise<BatchPage>;
  /** Each change until the batch is done, failed or cancelled. Throws PS_UNKNOWN, PS_PENDING after `timeout`. */
  watch(id: string, options?: WatchOptions & WorkChoice): AsyncGenerator<BatchStatus, void, undefined>;
  /** Throws PS_UNKNOWN, PS_PENDING, PS_FAILED or the batch's own error, PS_CANCELLED. */
  result(id: string, options?: ResultOptions): Promise<Plan>;
  /** Of a batch submitted to be compared; as `result`. */
  comparison(id: string, options?: ResultOptions): Promise<Comparison>;
  /** The batch as it was submitted, once a worker has taken it. Throws PS_UNKNOWN, PS_PENDING. */
  batch(id: string, asked?: RevisionChoice): Promise<BatchDocument>;
  /**
   * JSON text as it was stored, passed on without being read: the plan, the comparison, or the batch itself. It is never
   * held whole here. Throws as `result`, or as `batch`.
   */
  text(of: 'result' | 'batch', id: string, options?: ResultOptions & WorkChoice): Promise<Readable>;
  /**
   * Ends waiting or running work; answers the state it is in. A batch of a night for which the pool has closed leaves it, and
   * the others are planned without it. Throws PS_UNKNOWN, and PS_CONFLICT for a batch of a night that is planned, unless
   * `replan` is given, or that is being cut.
   */
  cancel(id: string, asked?: CancelChoice): Promise<BatchState>;
  /** The shop's rack. */
  readonly rack: RackDesk;
  /** The pool of batches that are planned as one. */
  readonly night: NightDesk;
  service(): Promise<ServiceStatus>;
  /** How many batches no worker has taken yet; costs Redis two counts, where `service` looks at every record. */
  waiting(): Promise<number>;
  close(): Promise<void>;
}
