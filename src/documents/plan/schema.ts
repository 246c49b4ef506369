/** The plan document `pairstop/plan@1` as read back: the same fields as `types.ts`, each bounded. */
import * as z from 'zod';
import { choiceField, countField, flagField, numberField, tagField, textField } from '../../read/fields.js';
import { FLAWS, LINES, RAILS, SIDES_MOST } from '../../read/limits.js';
import { list } from '../../read/walk.js';
import {
  id,
  label,
  MESSAGE_LENGTH,
  made,
  mm,
  money,
  noticeList,
  purchases,
  TOTAL,
  totalMm,
  units,
  whole,
} from '../fields.js';
import { type JsonSchema, jsonSchemaOf } from '../json-schema.js';
import { plannedBatches, planPooling } from './pooled.js';
import type { Plan } from './types.js';

export const run = countField(1, RAILS, 'the run');
export const seconds = numberField(0, TOTAL, 'seconds');

/** A rail where it lies on its stick. */
export const placedRail = {
  rail: label,
  frame: label,
  side: textField(8, 'top, bottom, left, right, or side1 to side24'),
  start: mm,
  length: mm,
  angle: numberField(0, 90, 'the mitre angle in degrees'),
  flipped: flagField('long edge on the far side'),
  tag: tagField().optional(),
};

const rail = z.strictObject(placedRail).describe('a placed rail: an object');

const endField = choiceField(['raw', 'sawn', 'mitred'], 'how an end is');
export const pieceEnds = z.tuple([endField, endField]).describe('its left and its right end');

const offcutPiece = z
  .strictObject({
    length: mm.describe('what a tape measures along the outside edge, in mm'),
    ends: pieceEnds,
  })
  .describe('the offcut as it is entered in a rack: an object');

export const remainders = list(
  z
    .strictObject({
      from: mm,
      to: mm,
      use: choiceField(['offcut', 'waste'], 'what becomes of it'),
      piece: offcutPiece.optional(),
    })
    .describe('a remainder: an object'),
  0,
  RAILS,
  'remainders',
);

export const stickOf = {
  stick: label,
  source: choiceField(['rack', 'offer'], 'where the stick is from'),
  ref: id,
  length: mm,
};

const stick = z
  .strictObject({ ...stickOf, run: run.optional(), rails: list(rail, 0, RAILS, 'rails'), left: remainders })
  .describe('a stick: an object');

export const stopSetting = {
  run: run.optional(),
  angle: numberField(0, 90, 'the mitre angle in degrees, or null for several').nullable().optional(),
  setting: mm,
  second: mm.nullable().describe('the shorter of two stops in mm, or null'),
  gauge: id.nullable().describe('the id of a gauge stick, or null'),
  pairs: list(
    z
      .strictObject({ frame: label, rails: list(label, 1, SIDES_MOST, 'rail ids') })
      .describe('a pair: an object'),
    0,
    RAILS,
    'pairs',
  ),
};

const stop = z.strictObject(stopSetting).describe('a stop setting: an object');

export const plannedRun = z
  .strictObject({
    run,
    sticks: whole,
    settings: whole,
    begunMost: whole,
    begunLongestFirst: whole.optional(),
    seconds,
  })
  .describe('a run: an object');

const stopsSet = z
  .strictObject({
    value: whole,
    proof: z
      .strictObject({
        status: choiceField(['optimal', 'within'], 'what is proven'),
        measure: z.literal('stops').describe('"stops"'),
        value: whole,
        bound: whole,
      })
      .describe('the proof: an object'),
  })
  .describe('how often stops are set: an object');

const handling = z
  .strictObject({ visits: whole, layouts: whole, splitPairs: whole, offcuts: whole })
  .describe('what there is to handle: an object');

const wayOfCutting = z
  .strictObject({
    stopSettings: whole,
    sticks: whole,
    stockLength: totalMm,
    cost: money,
    bound: numberField(0, TOTAL, 'a proven lower bound'),
  })
  .describe('what one way of cutting takes: an object');

const merging = z
  .strictObject({
    unmerged: wayOfCutting,
    merged: wayOfCutting,
    leastSettings: whole,
    choices: whole,
  })
  .describe('both ways, with and without merged stops: an object');

export const proof = z
  .strictObject({
    status: choiceField(['optimal', 'within', 'unproven'], 'what is proven'),
    measure: choiceField(['cost', 'length'], 'what value and bound measure'),
    value: numberField(0, TOTAL, 'the value of the plan'),
    bound: numberField(0, TOTAL, 'a proven lower bound'),
  })
  .describe('the proof: an object');

const priced = z
  .strictObject({
    status: choiceField(['optimal', 'within', 'unproven'], 'what is proven'),
    value: numberField(0, TOTAL, 'wood bought plus time at the rate'),
    bound: numberField(0, TOTAL, 'a proven lower bound'),
  })
  .describe('wood and time: an object');

const CODE_LENGTH = 64;

const mouldingPlan = z
  .strictObject({
    moulding: id,
    status: made,
    unplanned: z
      .strictObject({
        code: textField(CODE_LENGTH, 'the code of the error'),
        message: textField(MESSAGE_LENGTH, 'what happened'),
      })
      .describe('why it could not be planned: an object')
      .optional(),
    proof,
    priced: priced.optional(),
    sticks: list(stick, 0, RAILS, 'sticks'),
    stops: list(stop, 0, RAILS, 'stop settings'),
    runs: list(plannedRun, 0, RAILS, 'runs').optional(),
    seconds: seconds.optional(),
    stopsSet: stopsSet.optional(),
    handling: handling.optional(),
    merging: merging.optional(),
  })
  .describe("a moulding's plan: an object");

const shopPieceSchema = z
  .strictObject({
    id,
    moulding: id,
    length: mm,
    ends: pieceEnds,
    flaws: list(z.tuple([mm, mm]).describe('a flaw: [from, to] in mm'), 0, FLAWS, 'flaws'),
    value: money.nullable().describe('what using it is worth, or null for its length'),
  })
  .describe("a piece of the shop's rack: an object");

export const shopPieces = list(shopPieceSchema, 0, RAILS, "pieces of the shop's rack");

export const planSchema = z
  .strictObject({
    schema: z.literal('pairstop/plan@1').describe('"pairstop/plan@1"'),
    batch: id,
    units,
    lengths: z.literal('mm').describe('"mm"').optional(),
    status: made,
    mouldings: list(mouldingPlan, 0, LINES, 'mouldings'),
    buy: purchases,
    totals: z
      .strictObject({
        sticks: whole,
        stockLength: totalMm,
        railLength: totalMm,
        offcutLength: totalMm,
        wasteLength: totalMm,
        yield: numberField(0, 1, 'used length as a share of the stock'),
        cost: money,
        stopSettings: whole,
        cuts: whole,
        stopsSet: stopsSet.optional(),
        seconds: seconds.optional(),
        labour: money.optional(),
        handling: handling.optional(),
        unmerged: z
          .strictObject({ stopSettings: whole, cost: money })
          .describe('without merged stops: an object')
          .optional(),
      })
      .describe('the totals: an object'),
    shortfall: list(
      z
        .strictObject({
          moulding: id,
          frames: list(label, 0, RAILS, 'frame copies'),
          needs: totalMm,
          cost: money.nullable().describe('what those sticks would cost, or null without offers'),
          impossible: list(label, 1, RAILS, 'frame copies that nothing can hold, skipped').optional(),
        })
        .describe('a shortfall: an object'),
      0,
      LINES,
      'shortfalls',
    ),
    notices: noticeList,
    rack: shopPieces.optional(),
    batches: plannedBatches.optional(),
    pooling: planPooling.optional(),
  })
  .describe('a plan (pairstop/plan@1): an object') satisfies z.ZodType<Plan>;

export function planJsonSchema(): JsonSchema {
  return jsonSchemaOf(planSchema);
}
