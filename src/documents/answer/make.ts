/** The answers of commands, without what is needed to check one. */
import { catalogue, type PairstopError } from '../../errors.js';
import type { CommandAnswer } from './schema.js';

export function doneAnswer(
  command: string,
  exit: number,
  result: Readonly<Record<string, unknown>>,
): CommandAnswer {
  return { schema: 'pairstop/answer@1', command, exit, error: null, result: { ...result } };
}

export function refusedAnswer(
  command: string,
  error: Pick<PairstopError, 'code' | 'message' | 'problems'>,
): CommandAnswer {
  const { code, message, problems } = error;
  const { exit } = catalogue[code];
  return {
    schema: 'pairstop/answer@1',
    command,
    exit,
    error: { code, message, problems: problems.map((problem) => ({ ...problem })) },
    result: null,
  };
}
