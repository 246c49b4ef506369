/** `pairstop saw`: is the saw true enough for this batch? */
import type { Command } from 'commander';
import { supplyUm } from '../lengths/exact.js';
import { parseLength } from '../lengths/parse.js';
import { parseAngles } from '../saw/measured.js';
import { sawCheck } from '../saw/saw.js';
import { showSawCheck } from '../show/saw.js';
import { EXIT_DONE, EXIT_OTHER } from './ending.js';
import { print, STANDARD, writeOutput } from './files.js';
import type { OrderInput } from './orders/order-choices.js';
import { addOrderOptions, type OrderOptions, withOrder } from './orders/order-input.js';

/** Common practice, no source: a joint open by less is filled by glue and finish. */
const GAP = '1/64 in';

interface SawArguments {
  readonly gap: string;
  readonly angle?: string;
  readonly out?: string;
  readonly json?: boolean;
}

async function saw({ batch }: OrderInput, given: SawArguments): Promise<number> {
  const angles = given.angle === undefined ? [] : parseAngles(given.angle);
  const check = sawCheck(batch, { gap: supplyUm(parseLength(given.gap, batch.units)), angles });
  const text = `${JSON.stringify(check, null, 1)}\n`;
  if (given.out !== undefined) await writeOutput(given.out, text);
  if (given.json === true) {
    if (given.out !== STANDARD) await print(text);
  } else if (given.out !== STANDARD) await print(showSawCheck(batch, check));
  return check.holds === false ? EXIT_OTHER : EXIT_DONE;
}

export function addSawCommand(program: Command, end: (code: number) => void): void {
  addOrderOptions(program.command('saw'))
    .summary('how true the saw must be, and what a measured angle means')
    .description(
      'Says how true the saw must be for the frames of a batch, what a measured angle does to their last joints, and how to test the setup on scrap. Exit 1: a measured angle is not true enough.',
    )
    .option('--gap <length>', 'the widest joint wanted, in the units of the batch unless it has its own', GAP)
    .option(
      '--angle <degrees>',
      'the angle the saw was measured to cut, off square; one for each mitre, with commas',
    )
    .option('--out <file>', 'write the check as JSON to a file')
    .option('--json', 'print the check as JSON instead of the readable page')
    .action(async (path: string, given: SawArguments & OrderOptions) =>
      end(await withOrder(path, given, (order) => saw(order, given))),
    );
}
