/** What can be asked of the pool, and what it answers. */
import type { BatchState } from '../record/steps.js';

export interface WaitingBatch {
  readonly id: string;
  readonly submitted: number;
  readonly due: string | null;
  /** Copies. */
  readonly frames: number;
}

export interface NightOfPool {
  /** Under which its plan and its sheet are fetched. */
  readonly id: string;
  readonly state: BatchState;
  readonly batches: readonly string[];
  readonly outcome: 'complete' | 'short' | null;
  readonly cost: number | null;
}

export interface NightStatus {
  /** Milliseconds since 1970, by Redis's clock; null: nothing waits. */
  readonly opened: number | null;
  readonly closes: number | null;
  /** In the order of arrival. */
  readonly waiting: readonly WaitingBatch[];
  /** That have closed and are still worked on. */
  readonly nights: readonly NightOfPool[];
  readonly settings: {
    /** Time of day; null: none is set. */
    readonly close: string | null;
    readonly zone: string;
    /** Hours a batch waits at most. */
    readonly atMost: number;
  };
}

export interface NightChoices {
  /** Time of day, `22:00`; null: none. */
  readonly close?: string | null;
  readonly zone?: string;
  /** Hours. */
  readonly atMost?: number;
}

/** All throw PS_REDIS, and PS_USAGE for settings of another kind. */
export interface NightDesk {
  status(): Promise<NightStatus>;
  /** Changes what is given, and when the pool that is open closes. */
  set(choices: NightChoices): Promise<NightStatus>;
  /** Closes the pool now. Null: nothing waits. */
  close(): Promise<{ readonly night: string; readonly batches: number } | null>;
}
