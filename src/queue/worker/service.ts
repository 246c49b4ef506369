/** What the parts of a worker share. */
import type { Queue } from 'bullmq';
import type { Logger } from 'pino';
import type { SolverPool } from '../../processes/solver/pool.js';
import type { Turnstile } from '../../processes/solver/turnstile.js';
import type { RackStore } from '../../rack/store/rack-store.js';
import type { Urgency } from '../../terms.js';
import type { WorkerMetrics } from '../health/metrics.js';
import type { Keys } from '../names.js';
import type { ErrorList } from '../record/errors-list.js';
import type { Store } from '../record/store.js';
import type { WorkerSettings } from '../settings.js';
import type { JobsInHand } from './in-hand.js';

export interface Service {
  readonly settings: WorkerSettings;
  readonly keys: Keys;
  readonly store: Store;
  readonly rack: RackStore;
  readonly log: Logger;
  readonly running: JobsInHand;
  readonly errors: ErrorList;
  readonly metrics: WorkerMetrics;
  readonly pools: Readonly<Record<Urgency, SolverPool>>;
  readonly parts: Readonly<Record<Urgency, Queue>>;
  /** For mouldings of small batches for now. */
  readonly small: Queue;
  /** Who solves waits here for a slot, before the clock of its batch runs. */
  readonly turnstiles: Readonly<Record<Urgency, Turnstile>>;
  /** Whether all living workers serve that queue: those of version 0.1.0 do not. */
  readonly passing: () => boolean;
  readonly batches: Readonly<Record<Urgency, Queue>>;
  /** Of the jobs that close the pool. */
  readonly night: Queue;
  /** Mouldings of this urgency that all living workers together can solve at a time. */
  readonly slots: (urgency: Urgency) => number;
}
