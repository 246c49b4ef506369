/** `pairstop/recut@1` as a schema: the fields of `types.ts`. */
import { z } from 'zod';
import { choiceField, countField, flagField, numberField, tagField, textField } from '../../read/fields.js';
import { ID_LENGTH, LINES, RAILS, SIDES_MOST } from '../../read/limits.js';
import type { Recut } from './types.js';

const LABEL_LENGTH = ID_LENGTH + 16;
const MM = 1_000_000;
const TOTAL = 1e12;
const MESSAGE_LENGTH = 4_000;

const id = textField(ID_LENGTH, 'an id of the batch');
const label = textField(LABEL_LENGTH, 'an id with its copy number');
const mm = numberField(0, MM, 'a length in mm');
const money = numberField(0, TOTAL, 'money');
const whole = countField(0, Number.MAX_SAFE_INTEGER, 'a count');
const status = choiceField(['complete', 'short'], 'whether every lost rail is replaced');

const placed = {
  rail: label,
  frame: label,
  side: textField(8, 'top, bottom, left, right, or side1 to side24'),
  start: mm,
  length: mm,
  angle: numberField(0, 90, 'the mitre angle in degrees'),
  flipped: flagField('long edge on the far side'),
  tag: tagField().optional(),
};
const standing = z.strictObject(placed).describe('a rail where it was cut: an object');

const stick = z
  .strictObject({
    stick: label,
    source: choiceField(['rack', 'offer'], 'where the stick is from'),
    ref: id,
    length: mm,
    cut: z.array(standing).max(RAILS).describe('good rails that have been cut'),
    lost: z.array(standing).max(RAILS).describe('where lost rails were'),
    rails: z
      .array(
        z.strictObject({
          ...placed,
          replaces: flagField('it replaces a lost rail'),
          was: label.describe('the stick it was to be cut from before'),
        }),
      )
      .max(RAILS)
      .describe('rails still to be cut, from left to right'),
    left: z
      .array(
        z.strictObject({ from: mm, to: mm, use: choiceField(['offcut', 'waste'], 'what becomes of it') }),
      )
      .max(RAILS),
  })
  .describe('a stick: an object');

const stop = z
  .strictObject({
    setting: mm,
    second: mm.nullable().describe('the shorter of two stops in mm, or null'),
    gauge: id.nullable().describe('the id of a gauge stick, or null'),
    finish: flagField('it ends a pair or ring that was begun'),
    setBy: label.nullable().describe('a good rail to set the stop against, or null'),
    pairs: z.array(z.strictObject({ frame: label, rails: z.array(label).min(1).max(SIDES_MOST) })).max(RAILS),
  })
  .describe('a stop setting: an object');

const counted = { moulding: id, offer: id, count: whole };
const purchases = z.array(z.strictObject({ ...counted, cost: money })).max(LINES);

export const recutSchema = z
  .strictObject({
    schema: z.literal('pairstop/recut@1'),
    batch: id,
    units: choiceField(['in', 'mm'], 'the units of the batch; every length here is in mm'),
    status,
    lost: z.array(label).min(1).max(RAILS),
    cutSoFar: choiceField(['told', 'order'], 'where the cuts so far are known from'),
    mouldings: z
      .array(
        z.strictObject({
          moulding: id,
          status,
          proof: z.strictObject({
            status: choiceField(['optimal', 'within', 'unproven'], 'what is proven'),
            measure: choiceField(['cost', 'length'], 'what value and bound measure'),
            value: money,
            bound: money,
          }),
          moved: whole.describe('rails to be cut from another stick than before, replacements not counted'),
          sticks: z.array(stick).max(RAILS),
          stops: z.array(stop).max(RAILS).describe('what is still to be cut, in that order'),
        }),
      )
      .max(LINES),
    bought: z.array(z.strictObject(counted)).max(LINES).describe('pieces bought before'),
    buy: purchases.describe('pieces to buy now'),
    totals: z.strictObject({
      lost: whole,
      replaced: whole,
      moved: whole,
      cut: whole,
      toCut: whole,
      stopSettings: whole,
      cost: money,
    }),
    shortfall: z
      .array(
        z.strictObject({
          moulding: id,
          frames: z.array(label).max(RAILS),
          rails: z.array(label).max(RAILS),
          needs: numberField(0, TOTAL, 'a length in mm'),
          buy: purchases.describe('what would complete them'),
          cost: money.nullable(),
        }),
      )
      .max(LINES),
    notices: z
      .array(
        z.strictObject({
          code: z.string().max(64),
          message: z.string().max(MESSAGE_LENGTH),
          path: z.string().max(MESSAGE_LENGTH),
        }),
      )
      .max(RAILS),
  })
  .describe('a recut (pairstop/recut@1): an object') satisfies z.ZodType<Recut>;

/** JSON Schema (draft 2020-12). */
export function recutJsonSchema(): Readonly<Record<string, unknown>> {
  return z.toJSONSchema(recutSchema, { io: 'input' });
}
