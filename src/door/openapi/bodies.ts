/** Bodies made of documents: the outside is checked here, the documents by their own readers. */
import * as z from 'zod';
import { LONGEST_LENGTH_TEXT } from '../../lengths/parse.js';
import { list } from '../../read/walk.js';
import { angle, bodyOf, documents, flawTexts, railIds, reuseTexts, toldLines } from './resources.js';

export const checkBody = bodyOf(
  'CheckRequest',
  z
    .strictObject({
      batch: documents.Batch,
      plan: documents.Plan.optional(),
      recut: documents.Recut.describe(
        'a recut to verify; plan is then what it was made of, where that is to be compared',
      ).optional(),
      comparison: documents.Comparison.describe(
        'a comparison to verify, without plan and recut: plans are searched for that show what its purchases make',
      ).optional(),
    })
    .describe('an object with batch and one of plan, recut and comparison; with recut perhaps plan too'),
);

export const sawBody = bodyOf(
  'SawRequest',
  z
    .strictObject({
      batch: documents.Batch,
      gap: z
        .union([z.number().gt(0).max(1_000), z.string().min(1).max(LONGEST_LENGTH_TEXT)])
        .describe("the widest joint wanted, a length in the batch's units (1/64 in where nothing is given)")
        .optional(),
      angles: list(angle, 0, 24, 'measured angles').optional(),
    })
    .describe('an object with batch, gap and angles'),
);

export const railsBody = bodyOf(
  'RailsRequest',
  z.strictObject({ batch: documents.Batch }).describe('an object with batch'),
);

export const recutOfBody = bodyOf(
  'RecutOfBatch',
  z
    .strictObject({
      lost: railIds.describe('ids or tags of the lost rails').optional(),
      flaws: flawTexts
        .describe(
          'flaws found at the saw, each a stick of the plan and a span from its left end: "r17/1:20-23 1/2"; needs cutSoFar where no rail is lost',
        )
        .optional(),
      reuse: reuseTexts
        .describe(
          'lost rails whose sound wood is used as a piece, and how long it is where that was measured: "A3T", "A3T=14 1/2"',
        )
        .optional(),
      cutSoFar: toldLines
        .describe(
          'what has been cut; where nothing is given, all up to the last lost rail in the order of the plan',
        )
        .optional(),
    })
    .describe('an object with lost, flaws, reuse and cutSoFar'),
);

export const recutBody = bodyOf(
  'RecutRequest',
  z
    .strictObject({ batch: documents.Batch, plan: documents.Plan, ...recutOfBody.shape })
    .describe('an object with batch, plan, lost, flaws, reuse and cutSoFar'),
);
