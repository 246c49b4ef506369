/** The comparison document `pairstop/comparison@1`: the same fields as `types.ts`, each bounded. */
import * as z from 'zod';
import { choiceField, countField, flagField, numberField, textField } from '../../read/fields.js';
import { GROW, GROWN, LINES, RAILS } from '../../read/limits.js';
import { list } from '../../read/walk.js';
import { id, money, purchases, TOTAL, totalMm, whole } from '../fields.js';
import { type JsonSchema, jsonSchemaOf } from '../json-schema.js';
import { shopPieces } from '../plan/schema.js';
import type { Comparison } from './types.js';

/** A notice may name every order line. */
const NOTICE_LENGTH = 100_000;
/** A scenario for each offer and for each pair of the 24 cheapest, with a little room. */
const SCENARIOS = 2 * LINES;

const ids = list(id, 0, LINES, 'ids');
const difference = numberField(-TOTAL, TOTAL, 'a difference in money');
const share = numberField(0, 1, 'a share');
const status = choiceField(['complete', 'short'], 'whether the order can be made');
const kind = choiceField(['one', 'two', 'supplier', 'all'], 'which offers may be bought');

const figures = z
  .strictObject({
    sticks: whole,
    stockLength: totalMm,
    railLength: totalMm,
    wasteLength: totalMm,
    yield: share,
    offcuts: z
      .strictObject({ count: whole, length: totalMm, worth: money })
      .describe('what goes back on the rack: an object'),
    stopVisits: whole.optional(),
    stopSettings: whole,
    split: z
      .strictObject({ rail: money, waste: money, offcut: money })
      .describe('what is paid for, by what becomes of it: an object'),
    seconds: numberField(0, TOTAL, 'a time in seconds').optional(),
  })
  .describe('what a plan makes of its sticks: an object');

const scenario = z
  .strictObject({
    kind,
    offers: ids,
    supplier: id.nullable().describe('the supplier, or null'),
    status,
    short: z
      .strictObject({
        why: choiceField(['tooLong', 'notEnough', 'unknown'], 'why it is short'),
        frames: list(id, 0, LINES, 'order lines'),
      })
      .nullable()
      .describe('why it is short, or null'),
    proof: z
      .strictObject({
        status: choiceField(['optimal', 'within', 'excluded', 'unproven'], 'what is proven'),
        value: money,
        bound: money,
      })
      .nullable()
      .describe('how far the cost is proven, or null'),
    planOf: ids.nullable().describe('the offers that are bought, or null: all of them'),
    buy: purchases,
    figures: figures.nullable().describe('the figures of its plan, or null'),
  })
  .describe('a scenario: an object');

const price = z
  .strictObject({ price: money, proven: flagField('both sides of it are proven') })
  .nullable()
  .describe('a price and whether it is proven, or null');

const breakEven = z
  .strictObject({
    offer: id,
    price: money,
    bought: flagField('part of the recommended purchase'),
    aloneTies: price,
    from: price,
    to: price,
    known: flagField('the recommended purchase is proven'),
  })
  .describe('the prices of an offer: an object');

const whatIf = z
  .strictObject({
    what: choiceField(['maxLength', 'singlePieces', 'shortBy'], 'what is different'),
    length: totalMm.nullable().describe('the length asked about in mm, or null'),
    status,
    buy: purchases,
    cost: money.nullable().describe('the cost, or null'),
    bound: money.nullable().describe('a proven lower bound, or null'),
    difference: difference.nullable().describe('against the recommended purchase, or null'),
    stillEnough: z.boolean().nullable().describe('whether the recommended pieces still do, or null'),
  })
  .describe('the order under another condition: an object');

const of100 = numberField(0, 100, 'runs of 100');

const spare = z
  .strictObject({
    share,
    runs: whole,
    undecided: whole,
    seed: whole,
    pieces: whole,
    more: ids,
    model: textField(NOTICE_LENGTH, 'what a bad stick is'),
    levels: list(
      z
        .strictObject({ of100, pieces: whole.nullable().describe('sticks, or null: more than were tried') })
        .describe('a level: an object'),
      0,
      100,
      'levels',
    ),
    odds: list(z.strictObject({ pieces: whole, of100 }).describe('odds: an object'), 0, RAILS, 'odds'),
  })
  .describe('how many sticks to buy when some are bad: an object');

const growth = z
  .strictObject({
    times: countField(1, GROW, 'times the order'),
    status: choiceField(['complete', 'short', 'unknown'], 'whether the order can be made'),
    offers: ids,
    buy: purchases,
    cost: money.nullable().describe('the cost, or null'),
    bound: money.nullable().describe('a proven lower bound, or null'),
    costPerOrder: money.nullable().describe('the cost of one order, or null'),
    yield: share.nullable().describe('used length as a share of the stock, or null'),
    bestAlone: id.nullable().describe('the cheapest offer alone, or null'),
    scenarios: list(
      z
        .strictObject({
          offers: ids,
          kind,
          status,
          cost: money.nullable().describe('the cost, or null'),
          bound: money.nullable().describe('a proven lower bound, or null'),
        })
        .describe('a scenario: an object'),
      0,
      SCENARIOS,
      'scenarios',
    ),
  })
  .describe('a multiple of the order: an object');

const footage = z
  .strictObject({
    net: totalMm,
    wasteShare: share,
    length: totalMm,
    planned: totalMm,
    off: z.number().min(-1).max(TOTAL).nullable().describe('length / planned - 1, or null'),
    sticks: z
      .strictObject({ offer: id, rule: whole, planned: whole })
      .nullable()
      .describe('the rule in sticks of the cheapest offer alone, or null'),
  })
  .describe('the rule of thumb: an object');

const recommendation = z
  .strictObject({
    sentence: textField(NOTICE_LENGTH, 'the recommendation'),
    offers: ids,
    buy: purchases,
    cost: money.nullable().describe('the cost, or null'),
    bound: money.nullable().describe('a proven lower bound, or null'),
    nextBest: ids.nullable().describe('the next best offers, or null'),
    saves: money.nullable().describe('what it saves against them, or null'),
    savesAtLeast: money.nullable().describe('what it is proven to save, or null'),
  })
  .describe('the recommendation: an object');

export const comparisonSchema = z
  .strictObject({
    schema: z.literal('pairstop/comparison@1').describe('"pairstop/comparison@1"'),
    batch: id,
    units: choiceField(['in', 'mm'], 'what a bare number in the batch means'),
    status,
    recommendation: textField(NOTICE_LENGTH * 10, 'the recommendation'),
    measure: choiceField(['cost', 'length'], 'money, or length in its place'),
    totals: z
      .strictObject({ cost: money, bound: money, sticks: whole })
      .describe('the totals as recommended: an object'),
    mouldings: list(
      z
        .strictObject({
          moulding: id,
          status,
          recommendation,
          scenarios: list(scenario, 0, SCENARIOS, 'scenarios'),
          breakEven: list(breakEven, 0, LINES, 'prices'),
          whatIf: list(whatIf, 0, 10, 'conditions'),
          spare: spare.nullable().describe('spare sticks, or null'),
          growth: list(growth, 0, GROWN, 'multiples'),
          footage,
        })
        .describe("a moulding's comparison: an object"),
      0,
      LINES,
      'mouldings',
    ),
    suppliers: list(
      z
        .strictObject({
          suppliers: ids,
          status,
          cost: money.nullable().describe('the cost, or null'),
          payable: money.nullable().describe('with minimum orders, or null'),
          bound: money.nullable().describe('a proven lower bound, or null'),
        })
        .describe('a way to buy: an object'),
      0,
      LINES + 1,
      'suppliers',
    ),
    skipped: list(id, 1, LINES, 'order lines that nothing can hold, skipped').optional(),
    rack: shopPieces.optional(),
    notices: list(textField(NOTICE_LENGTH, 'a notice'), 0, LINES * 2, 'notices'),
  })
  .describe('a comparison (pairstop/comparison@1): an object') satisfies z.ZodType<Comparison>;

export function comparisonJsonSchema(): JsonSchema {
  return jsonSchemaOf(comparisonSchema);
}
