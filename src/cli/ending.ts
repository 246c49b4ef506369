/** How a command ends: its exit code, and what it says when it could not do its work. */
import { CommanderError } from 'commander';
import { doneAnswer, refusedAnswer } from '../documents/answer/make.js';
import { catalogue, PairstopError } from '../errors.js';
import { visibleLines } from '../text/visible.js';
import { print } from './files.js';

export const EXIT_DONE = 0;
export const EXIT_OTHER = 1;
export const EXIT_SHORT = 3;

/** The part of the command line that an ending needs. */
export interface Typed {
  readonly command: string;
  /** `--json`: the caller is a program that reads the outcome from standard output. */
  readonly json: boolean;
}

export function typedOf(args: readonly string[]): Typed {
  const [command = ''] = args;
  const end = args.indexOf('--');
  return {
    command: command.startsWith('-') ? '' : command,
    json: (end < 0 ? args : args.slice(0, end)).includes('--json'),
  };
}

/** As JSON for a program, or as text for a person; gives the exit code. */
export async function answer(
  command: string,
  json: boolean | undefined,
  exit: number,
  result: Readonly<Record<string, unknown>>,
  text: string,
): Promise<number> {
  await print(json === true ? `${JSON.stringify(doneAnswer(command, exit, result), null, 1)}\n` : text);
  return exit;
}

type Refusal = Pick<PairstopError, 'code' | 'message' | 'problems'>;

function refusalOf(error: unknown): Refusal {
  if (error instanceof PairstopError) return error;
  if (error instanceof CommanderError) return { code: 'PS_USAGE', message: error.message, problems: [] };
  const message = error instanceof Error ? error.message : String(error);
  return { code: 'PS_INTERNAL', message: `a fault in the program: ${message}`, problems: [] };
}

/** Says what went wrong, without a stack trace: for a person on standard error, for a program also on standard output. */
export function endOf(error: unknown, { command, json }: Typed = { command: '', json: false }): number {
  // Commander also ends `--help` and `--version` by an error, with exit code 0. It has already printed its other errors.
  const told = error instanceof CommanderError;
  if (told && error.exitCode === 0) return EXIT_DONE;
  const refusal = refusalOf(error);
  if (!told) process.stderr.write(visibleLines(`pairstop: ${refusal.code}: ${refusal.message}\n`));
  if (json) process.stdout.write(`${JSON.stringify(refusedAnswer(command, refusal), null, 1)}\n`);
  if (process.env.PAIRSTOP_DEBUG === '1' && refusal.code === 'PS_INTERNAL' && error instanceof Error) {
    process.stderr.write(`${error.stack}\n`);
  }
  return catalogue[refusal.code].exit;
}
