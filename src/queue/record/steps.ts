/** What each step of a batch's record is given, and what it answers. */
import type { Phase } from '../../processes/share.js';
import type { ExpectedTimes, SealedPart } from '../../processes/solver/tasks.js';
import type { Urgency } from '../../terms.js';

export const STATES = ['waiting', 'running', 'done', 'failed', 'cancelled'] as const;
export type BatchState = (typeof STATES)[number];

export interface Claim {
  /** `other`: known with other content; `cut`: and that is being cut; `night`: and in a night that has closed; `replaced`: it made room. */
  readonly outcome: 'new' | 'again' | 'same' | 'other' | 'cut' | 'night' | 'replaced' | 'newer';
  readonly fingerprint: string;
  readonly state: BatchState;
  readonly run: number;
  /** Whether the queue has a job under its id, of this run or an earlier one. */
  readonly jobExists: boolean;
  /** From 1; the earlier ones stay, see `revisionOf`. */
  readonly revision: number;
}

export interface BatchIdentity {
  readonly id: string;
  readonly fingerprint: string;
  readonly urgency: Urgency;
}

export interface BatchContent {
  readonly sealed: Uint8Array;
  readonly mouldings: readonly string[];
  /** How much memory its plan takes; absent: not told. */
  readonly rails?: number;
  /** Milliseconds. */
  readonly limit: number;
  readonly expected: ExpectedTimes;
  /** Its wood may be searched for before how it is cut; absent: it may not. */
  readonly woodFirst?: boolean;
  /** Planned from the shop's rack. */
  readonly shop: boolean;
  /** It waits for the pool, which closes then if it is empty (milliseconds since 1970); absent or null: it does not. */
  readonly pool?: number | null;
  /** Job id of what a quote may hold for it. */
  readonly hold?: string | null;
}

export type EnteredBatch =
  | {
      readonly kind: 'go';
      readonly fingerprint: string;
      readonly run: number;
      readonly fence: number;
      /** Mouldings of the batch. */
      readonly total: number;
      /** Entries that were waits for pieces, not attempts. */
      readonly granted: number;
      /** Planned from the shop's rack. */
      readonly shop: boolean;
    }
  | { readonly kind: 'other'; readonly fingerprint: string }
  | { readonly kind: 'gone' | 'newer' }
  /** It waits in the pool, or is in a night that has closed. */
  | { readonly kind: 'pooled' }
  | { readonly kind: 'ended'; readonly state: BatchState };

/** One attempt at one moulding. */
export interface Attempt {
  readonly jobId: string;
  readonly index: number;
  readonly run: number;
  readonly fence: number;
}

export interface BegunAttempt {
  readonly kind: 'go';
  readonly fence: number;
  /** Milliseconds of solving, all mouldings of the batch. */
  readonly spent: number;
  readonly waiting: number;
  /** Mouldings of this round of the batch. */
  readonly size: number;
  /** Milliseconds of solving for this round. */
  readonly limit: number;
  readonly phase: Phase;
  /** Milliseconds, of the turns of this round: taken beyond their shares; how many have ended; what those now taken have left. */
  readonly beyond: number;
  readonly ended: number;
  readonly promised: number;
  /** Of this moulding's earlier attempts; null: this is the first. */
  readonly allotted: number | null;
  readonly used: number;
  readonly best: SealedPart | null;
  readonly late: SealedPart | null;
  /** Planned from the shop's rack. */
  readonly shop: boolean;
}

export type AttemptStart = BegunAttempt | { readonly kind: 'done' | 'failed' | 'ended' | 'gone' };

export type BeatAnswer =
  | { readonly kind: 'go' | 'stale' | 'ended' }
  | { readonly kind: 'late'; readonly part: SealedPart };

export type Resolution =
  | { readonly kind: 'stale' | 'ended' }
  | { readonly kind: 'go'; readonly pieces: string };

/** What a plan takes from the shop's rack as it is published. */
export interface Taking {
  /** The change of the rack, as its scripts read it. */
  readonly change: string;
  readonly mouldings: readonly string[];
  /** Milliseconds after which a ticket that was not heard of is overlooked. */
  readonly silence: number;
}

export type Publication =
  | { readonly kind: 'published' | 'stale' | 'ended' }
  /** Ids of pieces, or keys of expected lines, that are no longer as they were. */
  | { readonly kind: 'taken'; readonly taken: readonly string[] }
  /** So many batches wait for pieces of the same mouldings, and were there before. */
  | { readonly kind: 'wait'; readonly before: number };

/** A batch that goes to the pool. */
export interface PoolPlace {
  readonly sealed: Uint8Array;
  /** When the pool closes if this is the first in it, milliseconds since 1970. */
  readonly closes: number;
}

/** What one batch of a pooled plan comes to: complete | short, and its share as money. */
export type MemberOutcomes = Readonly<Record<string, readonly [status: string, cost: number]>>;

export type CancelAnswer =
  | { readonly kind: 'state'; readonly state: BatchState }
  | { readonly kind: 'unknown' }
  /** Cancelled, and out of its night, which is to be planned with those left; none: it is cancelled too. */
  | {
      readonly kind: 'left';
      readonly night: { readonly id: string; readonly jobId: string; readonly run: number };
      readonly left: number;
    }
  /** It is planned in a night, under this id. */
  | { readonly kind: 'night'; readonly night: string }
  /** And that is being cut. */
  | { readonly kind: 'begun'; readonly night: string };

/** One batch that a night is planned as. */
export interface NightPart {
  readonly jobId: string;
  readonly id: string;
  readonly fingerprint: string;
  readonly urgency: Urgency;
  readonly content: Omit<BatchContent, 'pool' | 'hold'>;
  /** Job ids, in the order of arrival. */
  readonly members: readonly string[];
}

export type NightClosing =
  | { readonly kind: 'closed'; readonly jobId: string; readonly batches: number }
  | { readonly kind: 'early'; readonly closes: number }
  | { readonly kind: 'empty' };
