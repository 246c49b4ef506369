/** Conditions of a comparison that stand on the command line: of `compare`, and of the `check` of what it made. */
import type { Command } from 'commander';
import type { BatchDocument } from '../../documents/batch/schema.js';
import { PairstopError } from '../../errors.js';

export interface Conditions {
  readonly maxLength?: string;
  readonly shortBy?: string;
  readonly spare?: string;
  readonly grow?: string | true;
}

const GROW_USUAL = [1, 2, 5, 10];

function timesOf(text: string): number[] {
  const times = text.split(',').map((part) => Number(part.trim()));
  if (times.every((one) => Number.isInteger(one) && one > 0)) return times;
  throw new PairstopError(
    'PS_USAGE',
    `--grow: given ${JSON.stringify(text.slice(0, 60))}; allowed: whole numbers with commas between, as in 1,2,5,10`,
  );
}

/** The batch with the command line's conditions as its options. */
export function under(
  document: BatchDocument,
  { maxLength, shortBy, spare, grow }: Conditions,
): BatchDocument {
  const asked = {
    ...(maxLength === undefined ? {} : { maxLength }),
    ...(shortBy === undefined ? {} : { shortBy }),
    ...(spare === undefined ? {} : { spare }),
    ...(grow === undefined ? {} : { grow: grow === true ? GROW_USUAL : timesOf(grow) }),
  };
  if (Object.keys(asked).length === 0) return document;
  return { ...document, options: { ...document.options, ...asked } };
}

export function addConditions(command: Command): Command {
  return command
    .option('--max-length <length>', 'what if sticks longer than this cannot be carried')
    .option('--short-by <length>', 'what if bought sticks are shorter than ordered by this much')
    .option('--spare <share>', 'what if this share of bought sticks is bad: "5 %" or "1 in 20"')
    .option('--grow [times]', 'compare the order several times over too (1,2,5,10)');
}
