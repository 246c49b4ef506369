/** Bodies made of documents: the outside is checked here, the documents by their own readers. */
import { z } from 'zod';
import { LONGEST_LENGTH_TEXT } from '../../lengths/parse.js';
import { list } from '../../read/walk.js';
import { angle, bodyOf, documents, railIds, toldLines } from './resources.js';

export const checkBody = bodyOf(
  'CheckRequest',
  z.strictObject({ batch: documents.Batch, plan: documents.Plan }).describe('an object with batch and plan'),
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
      lost: railIds.describe('ids of the lost rails: a list of 1 or more'),
      cutSoFar: toldLines
        .describe(
          'what has been cut; where nothing is given, all up to the last lost rail in the order of the plan',
        )
        .optional(),
    })
    .describe('an object with lost and cutSoFar'),
);

export const recutBody = bodyOf(
  'RecutRequest',
  z
    .strictObject({ batch: documents.Batch, plan: documents.Plan, ...recutOfBody.shape })
    .describe('an object with batch, plan, lost and cutSoFar'),
);
