/** How a command ends: its exit code, and what it says when it could not do its work. */
import { CommanderError } from 'commander';
import { catalogue, PairstopError } from '../errors.js';
import { visibleLines } from '../text/visible.js';

export const EXIT_DONE = 0;
export const EXIT_OTHER = 1;
export const EXIT_SHORT = 3;

/** Commander ends `--help` and `--version` by an error too, with exit code 0. */
function usageExit(error: CommanderError): number {
  return error.exitCode === 0 ? EXIT_DONE : catalogue.PS_USAGE.exit;
}

/** Says on standard error what went wrong, without a stack trace, and gives the exit code. */
export function endOf(error: unknown): number {
  if (error instanceof CommanderError) return usageExit(error);
  if (error instanceof PairstopError) {
    process.stderr.write(visibleLines(`pairstop: ${error.code}: ${error.message}\n`));
    return catalogue[error.code].exit;
  }
  const message = error instanceof Error ? error.message : String(error);
  process.stderr.write(visibleLines(`pairstop: PS_INTERNAL: a fault in the program: ${message}\n`));
  if (process.env.PAIRSTOP_DEBUG === '1' && error instanceof Error) process.stderr.write(`${error.stack}\n`);
  return catalogue.PS_INTERNAL.exit;
}
