/** The document `pairstop/quote@1`: what one more order adds to what is planned already. Lengths are millimetres. */
import * as z from 'zod';
import { choiceField, countField, numberField, textField } from '../../read/fields.js';
import { ID_LENGTH, LINES, RAILS } from '../../read/limits.js';
import { list } from '../../read/walk.js';
import { id, label, made, TOTAL, totalMm, whole } from '../fields.js';
import { type JsonSchema, jsonSchemaOf } from '../json-schema.js';
import { AGAINST } from './against.js';

const amount = (of: string) => numberField(-TOTAL, TOTAL, of);

const range = z
  .strictObject({
    value: amount('the difference of the two plans as found'),
    least: amount('proven: it adds no less'),
    most: amount('proven: it adds no more than the plan here does'),
  })
  .describe('what it adds: an object');

export const quoteSchema = z
  .strictObject({
    schema: z.literal('pairstop/quote@1').describe('"pairstop/quote@1"'),
    batch: id,
    against: choiceField(AGAINST, 'what it is added to'),
    status: made,
    frames: whole,
    missing: list(label, 0, RAILS, 'frame copies of the order that cannot be made'),
    railLength: totalMm.describe('rails of the order, long point to long point'),
    money: range.describe('wood to buy: an object'),
    sure: choiceField(['proven', 'within'], 'whether least and most are one'),
    sticks: amount('sticks it adds to the plan'),
    stockLength: amount('stick length it adds to the plan'),
    rackLength: amount('stick length of the rack it adds'),
    seconds: amount(
      'sawing time it adds: the difference of the two plans as found, each stop set once; nothing of it is proven',
    ),
    railSeconds: amount('cuts, swings and labels of its own rails, which are in whatever plan').optional(),
    labour: amount('that time at the rate of the order').optional(),
    mouldings: list(
      z.strictObject({ moulding: id, money: range }).describe('a moulding: an object'),
      0,
      LINES,
      'mouldings',
    ),
    beside: z
      .strictObject({ batches: whole, frames: whole, pieces: whole })
      .describe('what it was added to: batches of the pool, their frames, free pieces of the rack'),
    held: z
      .strictObject({
        id: textField(ID_LENGTH + 16, 'under which the pieces are held'),
        until: countField(0, Number.MAX_SAFE_INTEGER, 'milliseconds since 1970'),
        pieces: list(id, 0, RAILS, 'pieces of the rack'),
      })
      .nullable()
      .describe('what is held for it, or null'),
  })
  .describe('a quote (pairstop/quote@1): an object');

export type Quote = z.output<typeof quoteSchema>;
export type QuoteRange = z.output<typeof range>;

export function quoteJsonSchema(): JsonSchema {
  return jsonSchemaOf(quoteSchema);
}
