/** The plan document `pairstop/plan@1` as read back: the same fields as `types.ts`, each bounded. */
import { z } from 'zod';
import { choiceField, countField, flagField, numberField, tagField, textField } from '../../read/fields.js';
import { ID_LENGTH, LINES, RAILS, SIDES_MOST } from '../../read/limits.js';
import { list } from '../../read/walk.js';
import type { Plan } from './types.js';

/** `frame id/copy/side`: the longest id, seven digits and `bottom` or `side24`. */
const LABEL_LENGTH = ID_LENGTH + 16;
const MESSAGE_LENGTH = 4_000;
const CODE_LENGTH = 64;
/** One stick is at most 100 m; a rail may stand over it by what its frame adds to the longest size. */
const MM = 1_000_000;
/** Sums over a million rails. */
const TOTAL = 1e12;
const STOPS = RAILS;

const id = textField(ID_LENGTH, 'an id of the batch');
const label = textField(LABEL_LENGTH, 'an id with its copy number');
const tag = tagField();
const mm = numberField(0, MM, 'a length in mm');
const total = numberField(0, TOTAL, 'a total in mm');
const money = numberField(0, TOTAL, 'money');
const whole = countField(0, Number.MAX_SAFE_INTEGER, 'a count');

const rail = z
  .strictObject({
    rail: label,
    frame: label,
    side: textField(8, 'top, bottom, left, right, or side1 to side24'),
    start: mm,
    length: mm,
    angle: numberField(0, 90, 'the mitre angle in degrees'),
    flipped: flagField('long edge on the far side'),
    tag: tag.optional(),
  })
  .describe('a placed rail: an object');

const stick = z
  .strictObject({
    stick: label,
    source: choiceField(['rack', 'offer'], 'where the stick is from'),
    ref: id,
    length: mm,
    rails: list(rail, 0, RAILS, 'rails'),
    left: list(
      z
        .strictObject({
          from: mm,
          to: mm,
          use: choiceField(['offcut', 'waste'], 'what becomes of it'),
        })
        .describe('a remainder: an object'),
      0,
      RAILS,
      'remainders',
    ),
  })
  .describe('a stick: an object');

const stop = z
  .strictObject({
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
  })
  .describe('a stop setting: an object');

const handling = z
  .strictObject({ visits: whole, layouts: whole, splitPairs: whole, offcuts: whole })
  .describe('what there is to handle: an object');

const wayOfCutting = z
  .strictObject({
    stopSettings: whole,
    sticks: whole,
    stockLength: total,
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

const mouldingPlan = z
  .strictObject({
    moulding: id,
    status: choiceField(['complete', 'short'], 'whether every frame is made'),
    proof: z
      .strictObject({
        status: choiceField(['optimal', 'within', 'unproven'], 'what is proven'),
        measure: choiceField(['cost', 'length'], 'what value and bound measure'),
        value: numberField(0, TOTAL, 'the value of the plan'),
        bound: numberField(0, TOTAL, 'a proven lower bound'),
      })
      .describe('the proof: an object'),
    sticks: list(stick, 0, RAILS, 'sticks'),
    stops: list(stop, 0, STOPS, 'stop settings'),
    handling: handling.optional(),
    merging: merging.optional(),
  })
  .describe("a moulding's plan: an object");

export const planSchema = z
  .strictObject({
    schema: z.literal('pairstop/plan@1').describe('"pairstop/plan@1"'),
    batch: id,
    units: choiceField(['in', 'mm'], 'the units of the batch; every length here is in mm'),
    status: choiceField(['complete', 'short'], 'whether every frame is made'),
    mouldings: list(mouldingPlan, 0, LINES, 'mouldings'),
    buy: list(
      z
        .strictObject({ moulding: id, offer: id, count: whole, cost: money })
        .describe('a purchase: an object'),
      0,
      LINES,
      'purchases',
    ),
    totals: z
      .strictObject({
        sticks: whole,
        stockLength: total,
        railLength: total,
        offcutLength: total,
        wasteLength: total,
        yield: numberField(0, 1, 'used length as a share of the stock'),
        cost: money,
        stopSettings: whole,
        cuts: whole,
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
          needs: total,
          cost: money.nullable().describe('what those sticks would cost, or null without offers'),
        })
        .describe('a shortfall: an object'),
      0,
      LINES,
      'shortfalls',
    ),
    notices: list(
      z
        .strictObject({
          code: textField(CODE_LENGTH, 'the code of the notice'),
          message: textField(MESSAGE_LENGTH, 'the notice'),
          path: z.string().max(MESSAGE_LENGTH).describe('where in the batch; empty for all of it'),
        })
        .describe('a notice: an object'),
      0,
      RAILS,
      'notices',
    ),
  })
  .describe('a plan (pairstop/plan@1): an object') satisfies z.ZodType<Plan>;
