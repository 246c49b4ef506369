/** The document `pairstop/rails@1`: the rails of one frame, its sizes, and the moulding it takes. Millimetres. */
import * as z from 'zod';
import { numberField } from '../../read/fields.js';
import { type JsonSchema, jsonSchemaOf } from '../json-schema.js';

const MM = 1_000_000;
const mm = numberField(0, MM, 'mm');
/** One for each different side: width and height, or the side of a regular frame. */
const sizes = z.array(mm).describe('mm, width and height, or the side');

export const frameRailsSchema = z
  .strictObject({
    schema: z.literal('pairstop/rails@1'),
    units: z.enum(['in', 'mm']).describe('what a bare number given meant'),
    lengths: z.literal('mm').describe('what every number here is in'),
    rails: z
      .array(
        z.strictObject({
          sides: z.array(z.string()).describe('top, bottom, left, right, or side1 …'),
          length: mm.describe('mm, long point to long point: the stop setting'),
          angle: numberField(0, 90, 'degrees off square'),
        }),
      )
      .describe('equal rails together'),
    sizes: z
      .strictObject({ outside: sizes, rabbet: sizes, sight: sizes, glass: sizes })
      .describe('of the frame as it is cut'),
    railLength: mm.describe('mm, all rails together, long point to long point'),
    oneRun: mm.describe(
      'mm, the shortest clear length of one stick that holds them all, kerf and recut included',
    ),
    stick: mm.describe('mm, the shortest stick that does, with the end trim at both ends'),
  })
  .describe('the rails of one frame (pairstop/rails@1)');

export type FrameRails = z.output<typeof frameRailsSchema>;

export function frameRailsJsonSchema(): JsonSchema {
  return jsonSchemaOf(frameRailsSchema);
}
