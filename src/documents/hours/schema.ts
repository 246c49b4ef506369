/**
 * The document `pairstop/hours@1`: what an hour at the saw is worth to a batch, as plans from least wood to least time
 * and the rates at which each is the cheapest.
 */
import * as z from 'zod';
import { choiceField, numberField } from '../../read/fields.js';
import { LINES } from '../../read/limits.js';
import { list } from '../../read/walk.js';
import { id, money, TOTAL, whole } from '../fields.js';
import { type JsonSchema, jsonSchemaOf } from '../json-schema.js';

const proven = {
  status: choiceField(['optimal', 'within', 'unproven'], 'what is proven'),
  bound: money.describe('no plan comes to less'),
};

const point = z
  .strictObject({
    from: money
      .nullable()
      .describe(
        'the rate, money an hour, from which this plan is the cheapest; null: at no rate, of these plans',
      ),
    to: money
      .nullable()
      .describe('the rate up to which it is the cheapest; null: however dear an hour is, or at no rate'),
    cost: money.describe('wood bought'),
    seconds: numberField(0, TOTAL, 'sawing time, in seconds'),
    sticks: whole,
    visits: whole.describe('how often a stick is taken to the saw'),
    stopsSet: whole,
    wood: z
      .strictObject({ ...proven, value: money.describe('the wood of this plan') })
      .describe('the proof that no plan takes at most this time and buys less wood: an object'),
    proof: z
      .strictObject({
        ...proven,
        rate: money.describe('the rate of the proof, money an hour, between from and to'),
        value: money.describe('wood and time together at that rate'),
      })
      .optional()
      .describe('the proof of wood and time together, where it is the cheapest at some rate: an object'),
  })
  .describe('a plan that no other betters by wood and time: an object');

export const hoursSchema = z
  .strictObject({
    schema: z.literal('pairstop/hours@1'),
    batch: id,
    skipped: list(id, 1, LINES, 'order lines that nothing can hold, skipped').optional(),
    points: z.array(point).describe('from least wood to least time'),
  })
  .describe('what an hour is worth (pairstop/hours@1): an object');

export type HoursComparison = z.output<typeof hoursSchema>;
export type HourPoint = HoursComparison['points'][number];

export function hoursJsonSchema(): JsonSchema {
  return jsonSchemaOf(hoursSchema);
}
