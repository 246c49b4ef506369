/** `pairstop/saw@1` as a schema: the fields of `types.ts`. */
import * as z from 'zod';
import { choiceField, countField, flagField, numberField } from '../../read/fields.js';
import { LINES, SIDES_FEWEST, SIDES_MOST } from '../../read/limits.js';
import { id, mm, noticeList, units } from '../fields.js';
import { type JsonSchema, jsonSchemaOf } from '../json-schema.js';
import type { SawCheck } from './types.js';

const degrees = numberField(-360, 360, 'degrees');
const sides = countField(SIDES_FEWEST, SIDES_MOST, 'sides of the ring');

const measured = z
  .strictObject({
    angle: degrees,
    error: degrees.describe('degrees, measured less wanted, of each cut'),
    lastJoint: degrees.describe('degrees, 2n times the error'),
    gap: mm.describe('mm, widest opening of the last joint, all others tight'),
    shared: mm.describe('mm, opening of each joint when all are drawn together at once'),
    miss: mm.describe('mm between the last long points when every other joint is already fixed'),
    opens: choiceField(['sight', 'outside', 'nowhere'], 'where the last joint opens'),
    holds: flagField('the gap is no more than the one wanted'),
  })
  .describe('what a measured angle does: an object');

const frame = z
  .strictObject({
    frame: id,
    moulding: id,
    sides,
    mitre: degrees,
    ends: countField(2 * SIDES_FEWEST, 2 * SIDES_MOST, 'cut ends whose errors add up'),
    face: mm,
    joint: mm.describe('mm, length of a cut face'),
    angle: degrees.describe('degrees, largest error of each cut, rounded down'),
    lastJoint: degrees.describe('degrees the last joint is then open by'),
    pairs: z
      .array(
        z
          .strictObject({
            rails: z.array(z.string().max(8)).describe('sides that face each other'),
            length: mm,
            difference: mm.describe('mm, most they may differ, rounded down'),
          })
          .describe('rails that should be equal: an object'),
      )
      .max(2),
    measured: measured.nullable(),
  })
  .describe('an order line: an object');

const ring = z
  .strictObject({
    sides,
    mitre: degrees,
    moulding: id,
    face: mm,
    setting: mm.describe('mm, stop setting of its rails'),
    clamp: flagField('the rails are clamped, not held'),
    scrap: mm.describe('mm of stick that gives all of them'),
    pass: mm.describe('mm, most the last joint may open'),
    readings: z.array(
      z.strictObject({
        gap: mm,
        past: degrees.describe('degrees of error for this opening, cut past the mark'),
        short: degrees.describe('degrees of error for this opening, cut short of it'),
      }),
    ),
  })
  .describe('a test ring: an object');

export const sawSchema = z
  .strictObject({
    schema: z.literal('pairstop/saw@1'),
    batch: id,
    units,
    gap: mm.describe('mm, the gap wanted'),
    frames: z.array(frame).max(LINES),
    holds: z.boolean().nullable().describe('every measured angle holds; null when none was measured'),
    tests: z.array(ring).max(SIDES_MOST),
    notices: noticeList,
  })
  .describe('a saw check (pairstop/saw@1): an object') satisfies z.ZodType<SawCheck>;

export function sawJsonSchema(): JsonSchema {
  return jsonSchemaOf(sawSchema);
}
