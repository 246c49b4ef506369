/** `pairstop/recut@1` as a schema: the fields of `types.ts`, those of a plan as `../plan/schema.ts` has them. */
import * as z from 'zod';
import { choiceField, flagField } from '../../read/fields.js';
import { FLAWS, LINES, RAILS } from '../../read/limits.js';
import { list } from '../../read/walk.js';
import { id, label, mm, money, noticeList, purchases, totalMm, units, whole } from '../fields.js';
import { type JsonSchema, jsonSchemaOf } from '../json-schema.js';
import {
  pieceEnds,
  placedRail,
  plannedRun,
  proof,
  remainders,
  run,
  seconds,
  shopPieces,
  stickOf,
  stopSetting,
} from '../plan/schema.js';
import type { Recut } from './types.js';

const status = choiceField(['complete', 'short'], 'whether every lost rail is replaced');
const standing = z.strictObject(placedRail).describe('a rail where it was cut: an object');
const toCut = z
  .strictObject({
    ...placedRail,
    replaces: flagField('it replaces a lost rail'),
    was: label.describe('the stick it was to be cut from before'),
  })
  .describe('a rail to cut: an object');

const foundFlaws = list(z.tuple([mm, mm]).describe('a flaw: [from, to] in mm'), 0, FLAWS, 'flaws');

const reusedPiece = z
  .strictObject({
    id,
    rail: label.describe('the spoiled rail'),
    stick: label.describe('the stick it was cut from'),
    moulding: id,
    length: mm,
    ends: pieceEnds,
    flaws: foundFlaws,
  })
  .describe('a piece made of a spoiled rail: an object');

const stick = z
  .strictObject({
    ...stickOf,
    run: run.optional(),
    flaws: foundFlaws.optional(),
    cut: list(standing, 0, RAILS, 'good rails that have been cut'),
    lost: list(standing, 0, RAILS, 'lost rails, where they were'),
    rails: list(toCut, 0, RAILS, 'rails still to be cut, from left to right'),
    left: remainders,
  })
  .describe('a stick: an object');

const stop = z
  .strictObject({
    ...stopSetting,
    finish: flagField('it ends a pair or ring that was begun'),
    setBy: label.nullable().describe('a good rail to set the stop against, or null'),
  })
  .describe('a stop setting: an object');

const moulding = z
  .strictObject({
    moulding: id,
    status,
    proof,
    moved: whole.describe('rails to be cut from another stick than before, replacements not counted'),
    sticks: list(stick, 0, RAILS, 'sticks'),
    stops: list(stop, 0, RAILS, 'stop settings still to be cut, in that order'),
    runs: list(plannedRun, 0, RAILS, 'what is still to be cut in each run').optional(),
    seconds: seconds.optional(),
  })
  .describe("a moulding's recut: an object");

const shortfall = z
  .strictObject({
    moulding: id,
    frames: list(label, 0, RAILS, 'frame copies'),
    rails: list(label, 0, RAILS, 'rail ids'),
    needs: totalMm,
    buy: purchases,
    cost: money.nullable().describe('what that would cost, or null without offers'),
  })
  .describe('a shortfall: an object');

export const recutSchema = z
  .strictObject({
    schema: z.literal('pairstop/recut@1').describe('"pairstop/recut@1"'),
    batch: id,
    units,
    status,
    lost: list(label, 0, RAILS, 'rail ids'),
    cutSoFar: choiceField(['told', 'order'], 'where the cuts so far are known from'),
    mouldings: list(moulding, 0, LINES, 'mouldings'),
    bought: list(
      z.strictObject({ moulding: id, offer: id, count: whole }).describe('pieces bought before: an object'),
      0,
      LINES,
      'earlier purchases',
    ),
    buy: purchases,
    totals: z
      .strictObject({
        lost: whole,
        replaced: whole,
        moved: whole,
        cut: whole,
        toCut: whole,
        stopSettings: whole,
        cost: money,
        seconds: seconds.optional(),
      })
      .describe('the totals: an object'),
    shortfall: list(shortfall, 0, LINES, 'shortfalls'),
    notices: noticeList,
    reused: list(reusedPiece, 0, RAILS, 'pieces made of spoiled rails').optional(),
    rack: shopPieces.optional(),
  })
  .describe('a recut (pairstop/recut@1): an object') satisfies z.ZodType<Recut>;

export function recutJsonSchema(): JsonSchema {
  return jsonSchemaOf(recutSchema);
}
