/** What the door takes and gives of the rack. Lengths are millimetres here as in every document. */
import * as z from 'zod';
import { LONGEST_LENGTH_TEXT } from '../../lengths/parse.js';
import { countField, textField } from '../../read/fields.js';
import { FLAWS, ID_LENGTH, RACK_PIECES } from '../../read/limits.js';
import { list } from '../../read/walk.js';
import { bodyOf, railIds, resource, toldLines } from './resources.js';

const mm = z.number().describe('millimetres');
const count = z.int().min(0);
const ids = z.array(z.string());
const lengths = z.literal('mm').describe('every length here is in millimetres');

/** A length as whoever asks writes it. */
const givenLength = z
  .union([z.number().gt(0).max(100_000), z.string().min(1).max(LONGEST_LENGTH_TEXT)])
  .describe('a length: a number of millimetres, or text such as "61 1/4 in"');
const givenFlaw = z
  .tuple([
    z.union([z.number().min(0).max(100_000), z.string().min(1).max(LONGEST_LENGTH_TEXT)]),
    z.union([z.number().min(0).max(100_000), z.string().min(1).max(LONGEST_LENGTH_TEXT)]),
  ])
  .describe('a flaw: [from, to], two lengths from the left end, from below to');
const why = textField(400, 'why, for the journal').optional();
const place = (what: string) => textField(ID_LENGTH, what);

export const cutBody = bodyOf(
  'CutRequest',
  z
    .strictObject({
      run: countField(1, 1_000_000, 'the run that is cut; without run and cutSoFar, everything').optional(),
      moulding: textField(ID_LENGTH, 'of this moulding alone').optional(),
      cutSoFar: toldLines.describe('all that has been cut, as a recut is told it').optional(),
      spoiled: railIds.describe('rails that came out bad: their wood is waste').optional(),
      recut: textField(64, 'the id of the recut that was cut, in place of the plan').optional(),
      place: place('where the offcuts are put').optional(),
      offcuts: z
        .boolean()
        .describe("true: offcuts of the batch's own sticks, which the rack never had, enter it too")
        .optional(),
      why,
    })
    .describe('an object: what was cut'),
);

export const deliveryBody = bodyOf(
  'DeliveryRequest',
  z
    .strictObject({
      offer: textField(ID_LENGTH, 'the offer that was delivered; by default all that is expected').optional(),
      count: countField(0, RACK_PIECES, 'how many came; by default all').optional(),
      length: givenLength.optional(),
      flaws: list(givenFlaw, 0, FLAWS, 'flaws, of each stick that came').optional(),
      place: place('where they are put').optional(),
      close: z.boolean().describe('true: the rest will not come').optional(),
      why,
    })
    .describe('an object: what came'),
);

export const countBody = bodyOf(
  'CountRequest',
  z
    .strictObject({
      pieces: list(
        z
          .strictObject({
            id: textField(ID_LENGTH * 4, "the piece's id, or the code of its label"),
            moulding: textField(ID_LENGTH, 'its moulding').optional(),
            length: givenLength.optional(),
            place: place('where it lies').optional(),
          })
          .describe('a piece that was found; what is not given was not looked at'),
        0,
        RACK_PIECES,
        'pieces',
      ),
      moulding: textField(ID_LENGTH, 'only this moulding was counted').optional(),
      place: place('only this place was counted').optional(),
      settle: z.boolean().describe('true: write the differences to the journal').optional(),
      why,
    })
    .describe('an object: what is really there'),
);

export const pieceChange = bodyOf(
  'PieceChange',
  z
    .strictObject({
      place: place('where it lies, or null').nullable().optional(),
      length: givenLength.optional(),
      flaws: list(givenFlaw, 0, FLAWS, 'all its flaws').optional(),
      ends: z
        .tuple([z.enum(['raw', 'sawn', 'mitred']), z.enum(['raw', 'sawn', 'mitred'])])
        .describe('its left and its right end, each raw, sawn or mitred')
        .optional(),
      why,
    })
    .describe('an object: what is to be corrected'),
);

const piece = z.object({
  id: z.string(),
  code: z.string().describe('what the code on its label says'),
  moulding: z.string(),
  length: mm,
  ends: z.array(z.string()).length(2),
  place: z.string().nullable(),
});

const expectedLines = z.array(
  z.object({ batch: z.string(), offer: z.string(), moulding: z.string(), length: mm, count }),
);

export const rackCutting = resource(
  'RackCutting',
  z
    .object({
      batch: z.string(),
      lengths,
      rails: count.describe('good rails this told of'),
      spoiled: count,
      waste: mm,
      used: ids.describe('pieces that are used up'),
      begun: ids,
      offcuts: z.array(piece).describe('what entered the rack'),
      released: ids.describe('reserved, and not needed after all'),
      own: ids.describe("the batch's own sticks that were cut, which the rack does not know"),
      entered: ids.describe('offcuts of these that were on the rack already'),
    })
    .describe('what a telling of cuts came to'),
);

export const rackDelivery = resource(
  'RackDelivery',
  z
    .object({
      batch: z.string(),
      lengths,
      received: z.array(
        z.object({
          id: z.string(),
          offer: z.string(),
          length: mm,
          stick: z
            .string()
            .nullable()
            .describe('the stick of the plan it is for; null: for none, it is free'),
          fits: z.boolean().describe('it holds what is to be cut from that stick'),
        }),
      ),
      dropped: z.array(z.object({ offer: z.string(), count })),
      expected: expectedLines.describe('what is still to come'),
    })
    .describe('what was taken in'),
);

export const rackExpected = resource(
  'RackExpected',
  z.object({ lengths, expected: expectedLines }).describe('what plans have bought and has not come'),
);

const promised = z.string().nullable().describe('the batch it is promised to');

export const rackCount = resource(
  'RackCount',
  z
    .object({
      lengths,
      settled: z.boolean(),
      right: count.describe('found as the rack has them'),
      missing: z.array(z.object({ id: z.string(), length: mm, batch: promised })),
      found: z.array(z.object({ id: z.string(), as: z.string(), length: mm })),
      measured: z.array(z.object({ id: z.string(), was: mm, is: mm, batch: promised })),
      moved: z.array(z.object({ id: z.string(), from: z.string().nullable(), to: z.string() })),
      unclear: ids.describe('unknown, and told without moulding or length: nothing is done about them'),
      odd: z.array(z.object({ id: z.string(), what: z.string() })).describe('nothing is done about them'),
    })
    .describe('how what is there differs from the rack'),
);

export const pieceHistory = resource(
  'PieceHistory',
  z
    .object({
      id: z.string(),
      entries: z.array(
        z.object({
          id: z.string().describe('of the journal: milliseconds since 1970, a hyphen, a number'),
          event: z
            .looseObject({ kind: z.string(), who: z.string(), why: z.string().nullable() })
            .describe('as the journal has it; lengths in it are whole micrometres'),
        }),
      ),
    })
    .describe('all that has happened to a piece'),
);

const um = z.int().describe('whole micrometres');

export const rackAudit = resource(
  'RackAudit',
  z
    .object({
      ok: z.boolean().describe('the rack is the sum of its journal, and its wood balances'),
      entries: count,
      pieces: count,
      balances: z.array(
        z.object({
          moulding: z.string(),
          came: um,
          rails: um,
          waste: um,
          gone: um,
          lying: um,
          offcuts: um.describe('of what lies there'),
          off: um.describe('came - rails - waste - gone - lying: 0 where it balances'),
        }),
      ),
      findings: z
        .array(z.object({ what: z.string(), found: z.string(), holds: z.string() }))
        .describe('the first hundred'),
      total: count,
    })
    .describe('the rack held against its journal, to the micrometre'),
);

export const rackEntered = resource(
  'RackEntered',
  z.object({ entered: z.int().min(1) }).describe('how many pieces were entered'),
);
