/**
 * The document `pairstop/answer@1`: how a command ended. A command that has a document of its own
 * (a plan, a comparison, a saw check) prints that instead when it succeeds.
 */
import * as z from 'zod';
import { catalogue } from '../../errors.js';
import { type JsonSchema, jsonSchemaOf } from '../json-schema.js';

export const problemSchema = z
  .strictObject({
    path: z.string().describe('where in the document: frames[3].width; empty for the whole'),
    given: z.string().describe('what was given, as messages show it'),
    allowed: z.string().describe('what is allowed there'),
    of: z
      .string()
      .optional()
      .describe('the id of the line it stands in: of the frame, moulding, stick or offer'),
    file: z.string().optional().describe('of an order in CSV: the file'),
    line: z.int().optional().describe('of an order in CSV: the line in the file, from 1'),
    column: z.string().optional().describe('of an order in CSV: the header of the column'),
  })
  .describe('one thing that is wrong');

export const answerSchema = z
  .strictObject({
    schema: z.literal('pairstop/answer@1'),
    command: z.string().describe('as typed: plan, submit, rack …; empty where none was'),
    exit: z.int().describe('the exit code: 0 done, 2 refused, 3 stock is short, 1 anything else'),
    error: z
      .strictObject({
        code: z
          .enum(Object.keys(catalogue) as [keyof typeof catalogue])
          .describe('stable; see the catalogue'),
        message: z.string().describe('for a person; may change'),
        problems: z.array(problemSchema).describe('every problem of the input'),
      })
      .nullable()
      .describe('what went wrong; null: nothing'),
    result: z
      .record(z.string(), z.unknown())
      .nullable()
      .describe(
        'the outcome, by command: of submit id, state, outcome, fingerprint; of cancel id, state; of check ok, findings; of new folder, files; of status, list, rack and cut what the typed client answers, lengths in micrometres; of keys the keys',
      ),
  })
  .describe('how a command ended (pairstop/answer@1)');

export type CommandAnswer = z.output<typeof answerSchema>;

export function answerJsonSchema(): JsonSchema {
  return jsonSchemaOf(answerSchema);
}
