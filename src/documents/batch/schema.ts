/**
 * The batch document `pairstop/batch@1`, field by field. To add a field: give it a line here with its default, a rule
 * in `frame-rules.ts` or `stock-rules.ts` if it depends on others, and a line in `build.ts`.
 */
import * as z from 'zod';
import {
  choiceField,
  countField,
  dueField,
  durationField,
  flagField,
  idField,
  instantField,
  lengthField,
  moneyField,
  shareField,
  textField,
} from '../../read/fields.js';
import {
  AVAILABLE,
  BENCH,
  BREAKS,
  FLAWS,
  GROW,
  GROWN,
  KERF_MOST,
  LINES,
  LONGEST,
  NOTE_LENGTH,
  PACK,
  PRIORITY,
  RACK_PIECES,
  RAILS,
  SAW_MOST,
  SHORTEST,
  SIDES_FEWEST,
  SIDES_MOST,
  TIME_LIMIT,
  WIDEST,
} from '../../read/limits.js';
import { list, type Sound } from '../../read/walk.js';
import type { Units } from '../../terms.js';
import { type JsonSchema, jsonSchemaOf } from '../json-schema.js';

/** What a person wants to remember; no plan depends on it. */
const noteField = textField(NOTE_LENGTH, 'a note, which no plan depends on').optional();

function sawSchema(units: Units) {
  return z
    .strictObject({
      kerf: lengthField(units, 0, KERF_MOST, ', what the blade removes').prefault('1/8 in'),
      recut: lengthField(units, 0, SAW_MOST).prefault('0 mm'),
      stopStep: lengthField(
        units,
        SHORTEST,
        SAW_MOST,
        ' (by default 1/32 in, or 0.5 mm in mm batches)',
      ).prefault(units === 'in' ? '1/32 in' : '0.5 mm'),
      clampBelow: lengthField(units, 0, LONGEST).prefault('6 in'),
      bench: z
        .int()
        .min(1)
        .max(BENCH)
        .nullable()
        .describe(
          `most sticks that may lie begun at once: a whole number, 1 to ${BENCH}, or null for no limit`,
        )
        .prefault(20),
      order: choiceField(
        ['longest', 'fewest'],
        "the order of a run's settings, longest first or with fewest sticks begun",
      ).prefault('longest'),
    })
    .describe('the saw: an object');
}

function mouldingSchema(units: Units) {
  return z
    .strictObject({
      id: idField("the moulding's id"),
      face: lengthField(units, SHORTEST, WIDEST),
      rabbet: lengthField(units, 0, WIDEST, ', less than the face'),
      reversible: flagField('flat stock that may be flipped').prefault(false),
      endTrim: lengthField(units, 0, LONGEST).prefault('0 mm'),
      keepOver: lengthField(units, 0, LONGEST).prefault('12 in'),
      note: noteField,
    })
    .describe('a moulding: an object');
}

function frameSchema(units: Units) {
  const size = lengthField(units, SHORTEST, LONGEST);
  return z
    .strictObject({
      id: idField("the order line's id"),
      moulding: idField('the id of one of the mouldings'),
      quantity: countField(1, RAILS, 'frames of this line').prefault(1),
      measuredBy: choiceField(['glass', 'rabbet', 'sight', 'outside'], 'what the size is of').prefault(
        'glass',
      ),
      width: size.optional(),
      height: size.optional(),
      sides: countField(SIDES_FEWEST, SIDES_MOST, 'sides of a regular frame').optional(),
      side: size.optional(),
      play: lengthField(units, 0, LONGEST).prefault('1/8 in'),
      playMax: lengthField(units, 0, LONGEST, ', not under the play').optional(),
      match: choiceField(['stop', 'pair', 'frame'], 'which rails belong together').prefault('stop'),
      priority: countField(
        1,
        PRIORITY,
        'which frames are completed first where stock runs out, 1 before 2 (last where nothing is given)',
      ).optional(),
      note: noteField,
    })
    .describe('a frame: an object with width and height, or with sides and side')
    .meta({
      oneOf: [
        { required: ['width', 'height'], properties: { sides: false, side: false } },
        { required: ['sides', 'side'], properties: { width: false, height: false } },
      ],
    });
}

const endField = choiceField(
  ['raw', 'sawn', 'mitred'],
  'an end as it came, sawn clean, or mitred; a clean end needs no end trim',
);

function stickSchema(units: Units) {
  const flaw = z
    .tuple([lengthField(units, 0, LONGEST), lengthField(units, 0, LONGEST)])
    .describe('a flaw: [from, to], two lengths from the left end of the stick, from below to');
  return z
    .strictObject({
      id: idField("the rack stick's id"),
      moulding: idField('the id of one of the mouldings'),
      length: lengthField(units, SHORTEST, LONGEST),
      quantity: countField(1, RACK_PIECES, 'equal sticks').prefault(1),
      flaws: list(flaw, 0, FLAWS, 'flaws').prefault([]),
      ends: z
        .tuple([endField, endField])
        .describe('how its left and its right end are: two of "raw", "sawn", "mitred"')
        .prefault(['raw', 'raw']),
      value: moneyField('what using one is worth (its length where nothing is given)').optional(),
      note: noteField,
    })
    .describe('a rack stick: an object');
}

function offerSchema(units: Units) {
  const step = z
    .strictObject({
      from: countField(2, AVAILABLE, 'pieces from which the price holds'),
      price: moneyField('price a piece'),
    })
    .describe('a price break: an object with from and price');
  return z
    .strictObject({
      id: idField("the offer's id"),
      moulding: idField('the id of one of the mouldings'),
      length: lengthField(units, SHORTEST, LONGEST),
      price: moneyField("price a piece (the length in the batch's units where nothing is given)").optional(),
      available: countField(0, AVAILABLE, 'pieces for sale (any number where nothing is given)').optional(),
      pack: countField(1, PACK, 'pieces in a pack').prefault(1),
      breaks: list(step, 0, BREAKS, 'price breaks').prefault([]),
      supplier: idField('the id of one of the suppliers').optional(),
      note: noteField,
    })
    .describe('an offer: an object');
}

function optionsSchema(units: Units) {
  return z
    .strictObject({
      timeLimit: z
        .number()
        .gt(0)
        .max(TIME_LIMIT)
        .describe(`seconds of solving for the whole batch: above 0, up to ${TIME_LIMIT}`)
        .prefault(30),
      mergeStops: flagField('merge near-equal stop settings').prefault(false),
      skipImpossible: flagField('plan the rest where a frame cannot be cut from anything').prefault(false),
      seed: countField(0, Number.MAX_SAFE_INTEGER, 'seed of the search').prefault(1),
      urgency: choiceField(['now', 'tonight'], 'how soon it is wanted, through the queue').prefault('now'),
      notBefore: instantField('when the queue may start it (at once where nothing is given)').optional(),
      pool: flagField('wait until the pool closes and be planned with all that waits there').prefault(false),
      maxLength: lengthField(
        units,
        SHORTEST,
        LONGEST,
        ', the longest stick that can be carried (compare)',
      ).optional(),
      shortBy: lengthField(units, 0, LONGEST, ', what bought sticks may be short by (compare)').optional(),
      spare: shareField('bad sticks among those bought (compare)').optional(),
      grow: list(
        countField(1, GROW, 'times the order'),
        0,
        GROWN,
        'multiples of the order (compare)',
      ).prefault([]),
    })
    .describe('the options: an object');
}

/** The default times are common practice; there is no source for them. */
const labourSchema = z
  .strictObject({
    setStop: durationField('setting a stop (1 min where nothing is given)').prefault('60 s'),
    setGauge: durationField('setting a stop with a gauge stick (20 s where nothing is given)').prefault(
      '20 s',
    ),
    takeStick: durationField(
      'taking a stick to the saw for one setting (20 s where nothing is given)',
    ).prefault('20 s'),
    cut: durationField('a cut (10 s where nothing is given)').prefault('10 s'),
    swing: durationField(
      'swinging the saw to the other mitre, twice a rail of profiled stock (6 s where nothing is given)',
    ).prefault('6 s'),
    label: durationField('labelling a rail (5 s where nothing is given)').prefault('5 s'),
    firstMitre: durationField('the first mitre of a stick (30 s where nothing is given)').prefault('30 s'),
    rate: moneyField('what an hour costs (not counted where nothing is given)').optional(),
  })
  .describe('time at the saw: an object');

const supplierSchema = z
  .strictObject({
    id: idField("the supplier's id"),
    minimumOrder: moneyField('what an order from there costs at least').prefault(0),
  })
  .describe('a supplier: an object with id and minimumOrder');

const apartSchema = z
  .strictObject({
    why: textField(NOTE_LENGTH, 'why it is planned apart'),
    moulding: idField("the moulding's id here").optional(),
    from: idField("the moulding's id in its own batch").optional(),
  })
  .describe('what is planned apart: an object');

const pooledSchema = z
  .strictObject({
    id: idField('the id of a batch that is planned as part of this one'),
    due: dueField('when it is needed').optional(),
    lines: list(
      z
        .strictObject({
          frame: idField('the id of a frame of this batch'),
          line: idField('its id in its own batch'),
        })
        .describe('an order line: an object'),
      1,
      LINES,
      'order lines',
    ),
    apart: list(apartSchema, 0, LINES, 'what is planned apart').prefault([]),
  })
  .describe('a pooled batch: an object');

export function batchSchema(units: Units) {
  return z
    .strictObject({
      schema: z.literal('pairstop/batch@1').describe('"pairstop/batch@1"'),
      id: idField("the caller's id of the batch"),
      note: noteField,
      units: choiceField(['in', 'mm'], 'what a bare number means'),
      saw: sawSchema(units).prefault({}),
      mouldings: list(mouldingSchema(units), 1, LINES, 'mouldings'),
      frames: list(frameSchema(units), 1, LINES, 'frames'),
      sticks: list(stickSchema(units), 0, LINES, 'rack sticks').prefault([]),
      offers: list(offerSchema(units), 0, LINES, 'offers').prefault([]),
      gauges: list(
        z
          .strictObject({
            id: idField("the gauge stick's id"),
            length: lengthField(units, SHORTEST, LONGEST),
          })
          .describe('a gauge stick: an object with id and length'),
        0,
        LINES,
        'gauge sticks',
      ).prefault([]),
      rack: z
        .enum(['shop'])
        .describe('"shop": mouldings without sticks of their own are planned from the rack of the shop')
        .optional(),
      suppliers: list(supplierSchema, 0, LINES, 'suppliers').prefault([]),
      labour: labourSchema.prefault({}),
      due: dueField('when it is needed').optional(),
      batches: list(
        pooledSchema,
        0,
        LINES,
        'batches that are planned as part of this one, in the order of arrival',
      ).prefault([]),
      options: optionsSchema(units).prefault({}),
    })
    .describe('a batch (pairstop/batch@1): an object');
}

type Schema = ReturnType<typeof batchSchema>;

/** The schema for each meaning of a bare number. */
export const BATCH_SCHEMAS: Readonly<Record<Units, Schema>> = {
  in: batchSchema('in'),
  mm: batchSchema('mm'),
};

type DeepReadonly<T> = T extends object ? { readonly [K in keyof T]: DeepReadonly<T[K]> } : T;

/** A batch as written: what other software sends. */
export type BatchDocument = DeepReadonly<z.input<Schema>>;

/** A batch with its lengths exact, its money in cents and its defaults filled in; not yet cross-checked. */
export type ReadBatch = z.output<Schema>;

/** The sound part of a batch: undefined wherever a field was absent or refused. */
export type SoundBatch = Sound<ReadBatch>;

/** Batches in inches and in millimetres are one document to other software: the one default that differs is stated in its description. */
export function batchJsonSchema(): JsonSchema {
  return jsonSchemaOf(batchSchema('mm'), ({ jsonSchema, path }) => {
    if (path.at(-1) === 'stopStep') delete jsonSchema.default;
  });
}
