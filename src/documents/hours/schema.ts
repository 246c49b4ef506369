/**
 * The document `pairstop/hours@1`: what an hour at the saw is worth to a batch, as the plans that are cheapest at some
 * rate, from least wood to least time.
 */
import { z } from 'zod';
import { choiceField, numberField } from '../../read/fields.js';
import { id, money, TOTAL, whole } from '../fields.js';
import { type JsonSchema, jsonSchemaOf } from '../json-schema.js';

const point = z
  .strictObject({
    from: money.describe('the rate, money an hour, from which this plan is the cheapest'),
    to: money.nullable().describe('the rate up to which it is the cheapest; null: however dear an hour is'),
    cost: money.describe('wood bought'),
    seconds: numberField(0, TOTAL, 'sawing time, in seconds'),
    sticks: whole,
    visits: whole.describe('how often a stick is taken to the saw'),
    stopsSet: whole,
    proof: z
      .strictObject({
        status: choiceField(['optimal', 'within', 'unproven'], 'what is proven'),
        rate: money.describe('the rate of the proof, money an hour, between from and to'),
        value: money.describe('wood and time together at that rate'),
        bound: money.describe('no plan comes to less'),
      })
      .describe('the proof: an object'),
  })
  .describe('a plan that is the cheapest at some rates: an object');

export const hoursSchema = z
  .strictObject({
    schema: z.literal('pairstop/hours@1'),
    batch: id,
    points: z.array(point).describe('from least wood to least time'),
  })
  .describe('what an hour is worth (pairstop/hours@1): an object');

export type HoursComparison = z.output<typeof hoursSchema>;
export type HourPoint = HoursComparison['points'][number];

export function hoursJsonSchema(): JsonSchema {
  return jsonSchemaOf(hoursSchema);
}
