/** What a pooled plan says of its batches: whose rails are whose, what each pays, and what pooling saved. */
import * as z from 'zod';
import { choiceField, dueField, flagField } from '../../read/fields.js';
import { LINES, RAILS } from '../../read/limits.js';
import { list } from '../../read/walk.js';
import { id, label, money, totalMm, whole } from '../fields.js';

/** Money for wood. Its batches by themselves, in the order of arrival, each taking what it cuts. */
export interface CostAlone {
  /** As planned. */
  readonly cost: number;
  /** Proven: no plan costs less. */
  readonly bound: number;
}

export interface WoodAlone extends CostAlone {
  readonly sticks: number;
  readonly stockLength: number;
}

/** Cost alone less cost in the pool. */
export interface PoolSaving {
  /** Against the plans alone as they were found. */
  readonly value: number;
  /** Proven: at least so much, whatever the plans alone; below 0 where nothing is proven. */
  readonly least: number;
}

export interface ShareOfMoulding {
  readonly moulding: string;
  /** Copies ordered, and made. */
  readonly frames: number;
  readonly made: number;
  readonly railLength: number;
  readonly share: number;
  /** What it pays at most, since it would pay that alone; null where it would not be whole alone. */
  readonly limit: number | null;
  /** Null: not planned in the time. */
  readonly alone: (WoodAlone & { readonly made: number }) | null;
}

export interface PlannedBatch {
  readonly batch: string;
  readonly due?: string | undefined;
  /** Order lines: id in this plan, and id in the batch. */
  readonly lines: readonly { readonly frame: string; readonly line: string }[];
  readonly frames: number;
  readonly made: number;
  /** Frame copies that are not made, by their ids in this plan. */
  readonly missing: readonly string[];
  /** It says when it is needed, and frames are missing. */
  readonly late: boolean;
  readonly railLength: number;
  readonly share: number;
  /** Null where any of its mouldings was not planned alone, or is not whole there. */
  readonly alone: CostAlone | null;
  readonly saved: PoolSaving | null;
  readonly mouldings: readonly ShareOfMoulding[];
}

/** Several batches without the others: together they pay no more than its cost. */
export interface PlannedCoalition extends CostAlone {
  readonly batches: readonly string[];
  readonly pays: number;
}

export interface PooledMoulding {
  readonly moulding: string;
  readonly cost: number;
  /**
   * `length`: in proportion to rail length; `limited`: the same, and nobody pays more than alone; `core`: nearest to that
   * among the shares at which no group of batches pays more than alone.
   */
  readonly rule: 'length' | 'limited' | 'core';
  /** `within`: no group that was looked at pays more than alone; `empty`: there are no such shares; `unknown`. */
  readonly core: 'within' | 'empty' | 'unknown';
  /** Groups that were planned. */
  readonly checked: 'all' | 'pairs' | 'none';
  readonly coalitions: readonly PlannedCoalition[];
  readonly alone: WoodAlone | null;
  readonly saved: PoolSaving | null;
}

/** Null where not all is whole, here and alone, or not all was planned alone in the time. */
export interface PlanPooling {
  readonly cost: number;
  readonly alone: WoodAlone | null;
  readonly saved: PoolSaving | null;
  readonly mouldings: readonly PooledMoulding[];
}

const signed = z.number().min(-1e12).max(1e12).describe('money, below 0 where nothing is proven');
const saving = z
  .strictObject({ value: signed, least: signed })
  .nullable()
  .describe('what pooling saved, and the least that is proven: an object, or null where it cannot be said');
const costAlone = { cost: money, bound: money };
const woodAlone = { ...costAlone, sticks: whole, stockLength: totalMm };

const shareOfMoulding = z
  .strictObject({
    moulding: id,
    frames: whole,
    made: whole,
    railLength: totalMm,
    share: money,
    limit: money.nullable().describe('what it pays at most, or null'),
    alone: z
      .strictObject({ ...woodAlone, made: whole })
      .nullable()
      .describe('alone: an object, or null'),
  })
  .describe("a batch's share of a moulding: an object");

const plannedBatch = z
  .strictObject({
    batch: id,
    due: dueField('when it is needed').optional(),
    lines: list(
      z.strictObject({ frame: id, line: id }).describe('an order line: an object'),
      1,
      LINES,
      'lines',
    ),
    frames: whole,
    made: whole,
    missing: list(label, 0, RAILS, 'frame copies'),
    late: flagField('whether it is needed and not whole'),
    railLength: totalMm,
    share: money,
    alone: z.strictObject(costAlone).nullable().describe('alone: an object, or null'),
    saved: saving,
    mouldings: list(shareOfMoulding, 0, LINES, 'mouldings'),
  })
  .describe("a batch's part of the plan: an object");

const pooledMoulding = z
  .strictObject({
    moulding: id,
    cost: money,
    rule: choiceField(['length', 'limited', 'core'], 'how the cost is shared'),
    core: choiceField(['within', 'empty', 'unknown'], 'whether a group pays more than alone'),
    checked: choiceField(['all', 'pairs', 'none'], 'which groups of batches were planned'),
    coalitions: list(
      z
        .strictObject({ batches: list(id, 2, LINES, 'batches'), ...costAlone, pays: money })
        .describe('several batches without the others: an object'),
      0,
      LINES,
      'groups of batches',
    ),
    alone: z.strictObject(woodAlone).nullable().describe('alone: an object, or null'),
    saved: saving,
  })
  .describe('what pooling did in a moulding: an object');

export const plannedBatches = list(plannedBatch, 1, LINES, 'batches that are planned as one');

export const planPooling = z
  .strictObject({
    cost: money,
    alone: z.strictObject(woodAlone).nullable().describe('alone: an object, or null'),
    saved: saving,
    mouldings: list(pooledMoulding, 0, LINES, 'mouldings'),
  })
  .describe('what pooling did: an object') satisfies z.ZodType<PlanPooling>;
