/** What a client can do with the rack of its shop, and what it answers. */
import type { Plan } from '../../documents/plan/types.js';
import type { Recut } from '../../documents/recut/types.js';
import type { RackAudit } from '../../rack/audit.js';
import type { CountedPiece, CountScope, RackCount } from '../../rack/counting.js';
import type { JournalEntry } from '../../rack/events.js';
import type { DeliveredSticks } from '../../rack/receiving.js';
import type { KeptBeside } from '../../rack/store/rack-store.js';
import type { ExpectedLine, PieceState, RackPiece } from '../../rack/terms.js';
import type { Told } from '../../recut/told-lines.js';
import type { Units } from '../../terms.js';

/** Who does it and why, for the journal. */
export interface RackSigned {
  /** By default the user of this process. */
  readonly who?: string;
  readonly why?: string;
}

/** Of lengths that a person gave. */
export interface RackMeasured extends RackSigned {
  /** What they were given in, so that people are answered alike. */
  readonly units?: Units;
}

/** A piece and how it stands. */
export interface RackItem extends RackPiece {
  readonly state: PieceState;
}

export interface RackFilter {
  readonly moulding?: string;
  readonly place?: string;
  /** Of what is reserved or begun, what is for this batch. */
  readonly batch?: string;
  /** Also what is used up or gone. */
  readonly all?: boolean;
}

/** A piece to be entered; what is not given is nothing, the ends raw. */
export type NewPiece = Pick<RackPiece, 'id' | 'moulding' | 'length'> &
  Partial<Pick<RackPiece, 'ends' | 'flaws' | 'value' | 'place'>>;

export type PieceChanges = Partial<
  Pick<RackPiece, 'moulding' | 'length' | 'ends' | 'flaws' | 'value' | 'place'>
>;

export interface ReceiveOptions extends RackSigned, Partial<DeliveredSticks> {
  /** By default every offer of which something is expected. */
  readonly offer?: string;
  /** Nothing more will come of it. */
  readonly close?: boolean;
}

export interface RackDelivery {
  readonly batch: string;
  readonly received: readonly {
    readonly id: string;
    readonly offer: string;
    readonly length: number;
    /** The stick of the plan it is for; null: for none, it is free. */
    readonly stick: string | null;
    /** Whether it holds what is to be cut from that stick. */
    readonly fits: boolean;
  }[];
  readonly dropped: readonly { readonly offer: string; readonly count: number }[];
  /** What is still to come. */
  readonly expected: readonly ExpectedLine[];
}

export interface CutOptions extends RackSigned {
  /** What has been cut; by default everything. */
  readonly told?: readonly Told[];
  /** One run alone. */
  readonly run?: number;
  readonly moulding?: string;
  /** Rails that came out bad: their wood is waste. */
  readonly spoiled?: readonly string[];
  /** The work after a mishap, in place of the plan. */
  readonly recut?: Recut;
  /** Where offcuts are put. */
  readonly place?: string;
  /** Offcuts to keep of sticks the rack never had, the batch's own, enter it too. */
  readonly offcuts?: boolean;
}

export interface RackRecutOptions extends RackSigned {
  /** Ids of the lost rails, or of frames. */
  readonly lost: readonly string[];
  /** What has been cut; null: everything up to the last lost rail in the order of the plan. */
  readonly told?: readonly Told[] | null;
  /** Flaws found at the saw, and lost rails whose sound wood is used again. */
  readonly flaws?: readonly Told[];
  readonly reuse?: readonly Told[];
  /** The plan or the recut in hand; by default the plan of the batch. */
  readonly work?: Plan | Recut;
  /** Seconds, where less than the batch allows. */
  readonly timeLimit?: number;
  /** Where the recut is kept: it is written in the step that reserves its pieces. */
  readonly keep?: (recut: Recut) => Promise<KeptBeside>;
}

/** What a telling of cuts came to. Lengths in micrometres, as everywhere in the rack. */
export interface RackCutting {
  readonly batch: string;
  readonly rails: number;
  readonly spoiled: number;
  readonly used: readonly string[];
  readonly begun: readonly string[];
  readonly offcuts: readonly RackPiece[];
  /** Reserved, and not needed after all. */
  readonly released: readonly string[];
  readonly waste: number;
  /** Sticks of the batch's own that were cut: the rack does not know them. */
  readonly own: readonly string[];
  /** Offcuts of these that were on the rack already. */
  readonly entered: readonly string[];
}

export interface CountOptions extends RackSigned, CountScope {
  /** Write the differences as events; without it they are only told. */
  readonly settle?: boolean;
}

/** All methods throw PairstopError: PS_RACK for what the rack does not allow, beside what every call of a client may throw. */
export interface RackDesk {
  /** What lies there, by moulding and id. */
  list(filter?: RackFilter): Promise<readonly RackItem[]>;
  expected(): Promise<readonly ExpectedLine[]>;
  /**
   * The units to answer people in: those in which most pieces were described, by hand, or by the batch that they were
   * bought for or are left over from. Inches where it is even.
   */
  units(): Promise<Units>;
  /** All of them, or none where one cannot be entered. */
  add(pieces: readonly NewPiece[], how?: RackMeasured & { readonly imported?: boolean }): Promise<void>;
  edit(id: string, changes: PieceChanges, how?: RackMeasured): Promise<RackItem>;
  move(ids: readonly string[], place: string | null, how?: RackSigned): Promise<void>;
  remove(ids: readonly string[], how?: RackSigned): Promise<void>;
  /** From the first entry on. Throws PS_RACK for a piece the rack has never had. */
  history(id: string): Promise<readonly JournalEntry[]>;
  audit(): Promise<RackAudit>;
  receive(batch: string, options?: ReceiveOptions): Promise<RackDelivery>;
  cut(batch: string, options?: CutOptions): Promise<RackCutting>;
  /**
   * Goes on after a bad cut of a batch planned from the rack: draws on what is free too, and reserves it in one step.
   * What its plan no longer needs stays reserved until the cutting is told.
   */
  recut(batch: string, options: RackRecutOptions): Promise<Recut>;
  count(counted: readonly CountedPiece[], options?: CountOptions): Promise<RackCount>;
  /** The whole rack, line by line (see src/rack/backup.ts). */
  backup(): AsyncGenerator<string, void, undefined>;
  /** Throws PS_RACK where the shop has a rack already; answers the number of entries. */
  restore(text: string): Promise<number>;
}
