/** What a solver process is asked, and what it answers. All of it can be cloned between processes. */
import type { OfferAnswer, OfferQuestion } from '../../compare/question.js';
import type { PlanProof } from '../../documents/plan/types.js';
import type { Recut } from '../../documents/recut/types.js';
import type { ErrorCode, InputProblem } from '../../errors.js';
import type { Unplanned } from '../../plan/part.js';
import type { ExpectedLine, RackPiece } from '../../rack/terms.js';
import type { RecutRequest } from '../../recut/recut.js';
import type { Batch } from '../../terms.js';

/** What is asked of a batch. */
export type WorkKind = 'plan' | 'compare';

/** How long planning is likely to take. */
export interface ExpectedTimes {
  /** Milliseconds of solving, for each of the mouldings asked for. */
  readonly each: readonly number[];
  readonly small: boolean;
}

/** A batch on its way to a solver process: in the planner's terms, or sealed as it lies in the store. */
export type BatchSource =
  | { readonly kind: 'batch'; readonly batch: Batch }
  | { readonly kind: 'sealed'; readonly sealed: Uint8Array };

export interface BatchRef {
  /** Fingerprint of the batch, or any text that stands for it while its processes run. */
  readonly key: string;
  /** Null only for a process that holds the batch already. */
  readonly source: BatchSource | null;
}

/** The size of a batch, as `Holding` counts it. */
export function sizeOf(source: BatchSource): number {
  return source.kind === 'sealed' ? source.sealed.length : 0;
}

/** Reads a batch from a job's payload (see envelope.ts); answers `BatchSummary`. */
export interface ReadTask {
  readonly kind: 'read';
  readonly text: Uint8Array;
}

export interface BatchSummary {
  readonly id: string;
  /** Fingerprint of its content and of the work asked for. */
  readonly fingerprint: string;
  readonly work: WorkKind;
  readonly mouldings: readonly string[];
  readonly rails: number;
  /** Milliseconds of its time limit that may go to solving. */
  readonly solving: number;
  readonly expected: ExpectedTimes;
  /** Its wood may be searched for before how it is cut. */
  readonly woodFirst: boolean;
  /** Planned from the shop's rack. */
  readonly shop: boolean;
  /** It waits in the pool. */
  readonly pool: boolean;
  readonly urgency: 'now' | 'tonight';
  /** Milliseconds since 1970; null: at once. */
  readonly notBefore: number | null;
  readonly sealed: Uint8Array;
}

/** Plans one moulding; answers `SealedPart`. */
export interface SolveTask {
  readonly kind: 'solve';
  readonly work: WorkKind;
  readonly batch: BatchRef;
  readonly moulding: string;
  /** Milliseconds of solving. */
  readonly budget: number;
  /** `quick` takes the first sticks that fit, with no library behind it that might hang. */
  readonly effort: 'full' | 'quick';
  /** For its figures only: nobody cuts it. */
  readonly brisk?: boolean;
  /** Only the wood is searched for: runs and pairs have their turn later. */
  readonly woodOnly?: boolean;
  /** The sealed part of an earlier attempt. */
  readonly start: Uint8Array | null;
  /** What is free of this moulding on the shop's rack, where the batch is planned from it. */
  readonly rack: readonly RackPiece[];
}

export interface SealedPart {
  readonly moulding: string;
  readonly sealed: Uint8Array;
  readonly proof: PlanProof;
  /** Frames in this plan, and frames ordered. */
  readonly frames: number;
  readonly ordered: number;
  /** Some run is more than the bench holds: worth another turn. Absent of a comparison, and from earlier programs. */
  readonly overfull?: boolean | undefined;
}

/** Puts parts together and checks the plan; answers `SealedPlan`. */
export interface AssembleTask {
  readonly kind: 'assemble';
  readonly work: WorkKind;
  readonly batch: BatchRef;
  /** In the order of the batch's mouldings. */
  readonly parts: readonly { readonly moulding: string; readonly sealed: Uint8Array }[];
  /** The pieces of the shop's rack that these parts were planned from. */
  readonly rack: readonly RackPiece[];
  /** The mouldings that failed: where there are any, the plan is partial. */
  readonly failed: readonly Unplanned[];
}

export interface SealedPlan {
  readonly sealed: Uint8Array;
  readonly status: 'complete' | 'short';
  /** Money, as in the plan's totals. */
  readonly cost: number;
  /** What the sawing takes; null: it does not say. */
  readonly seconds: number | null;
  /** For a batch planned from the shop's rack: ids of the pieces it cuts, and what it buys. Empty for any other. */
  readonly takes: readonly string[];
  readonly buys: readonly ExpectedLine[];
  /** Of a pooled plan: what each of its batches comes to. */
  readonly members: readonly {
    readonly id: string;
    readonly status: 'complete' | 'short';
    readonly cost: number;
  }[];
}

/** Answers one question of a comparison. */
export interface AskTask {
  readonly kind: 'ask';
  readonly batch: BatchRef;
  readonly question: OfferQuestion;
  /** Milliseconds left to the comparison. */
  readonly budget: number;
}

export interface AskedAnswer {
  readonly answer: OfferAnswer;
}

/** Goes on after a mishap; answers `RecutAnswer`. */
export interface RecutBatchTask {
  readonly kind: 'recut';
  readonly batch: BatchRef;
  readonly request: Omit<RecutRequest, 'batch'>;
  /** Milliseconds of solving. */
  readonly budget: number;
}

export interface RecutAnswer {
  readonly recut: Recut;
}

/** Puts the batches of a night together; answers `ComposedNight`. */
export interface ComposeTask {
  readonly kind: 'compose';
  /** Of the first batch that is planned; further ones have `further` with `-2`, `-3` behind it. */
  readonly id: string;
  readonly further: string;
  /** The shop's, an IANA name. */
  readonly zone: string;
  /** Rails of the largest plan that the workers have the memory for. */
  readonly rails: number;
  /** In the order of arrival. */
  readonly members: readonly { readonly fingerprint: string; readonly sealed: Uint8Array }[];
}

/** One batch that is planned for several; `members` are their places in the task. */
export interface ComposedPart {
  readonly summary: BatchSummary;
  readonly members: readonly number[];
}

export interface ComposedNight {
  readonly parts: readonly ComposedPart[];
  /** Places of batches that cannot be read, and why. */
  readonly damaged: readonly { readonly at: number; readonly message: string }[];
}

export type Task = ComposeTask | ReadTask | SolveTask | AssembleTask | AskTask | RecutBatchTask;
export type TaskAnswer<T extends Task> = T extends ReadTask
  ? BatchSummary
  : T extends ComposeTask
    ? ComposedNight
    : T extends SolveTask
      ? SealedPart
      : T extends AskTask
        ? AskedAnswer
        : T extends RecutBatchTask
          ? RecutAnswer
          : SealedPlan;

/** How far a solve has got; `sealed` only when a checkpoint was due. */
export interface Improved {
  readonly moulding: string;
  readonly proof: PlanProof;
  readonly frames: number;
  readonly ordered: number;
  readonly sealed: Uint8Array | null;
}

export type SolverReply =
  | { readonly kind: 'ready' }
  /** Sent before work on the task begins: a process that stands still does not send it. */
  | { readonly kind: 'taken' }
  /** The batch is there to work on; so many rails of it are the task's. */
  | { readonly kind: 'read'; readonly rails: number }
  | { readonly kind: 'improved'; readonly improved: Improved }
  | { readonly kind: 'done'; readonly answer: TaskAnswer<Task>; readonly rss: number }
  | {
      readonly kind: 'failed';
      readonly code: ErrorCode;
      readonly message: string;
      readonly problems: readonly InputProblem[];
      readonly rss: number;
    };
