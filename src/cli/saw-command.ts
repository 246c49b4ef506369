/** `pairstop saw`: is the saw true enough for this batch? */
import type { Command } from 'commander';
import { addOrderOptions, type OrderOptions, withOrder } from './orders/order-options.js';
import type { SawArguments } from './work/saw.js';

/** Common practice, no source: a joint open by less is filled by glue and finish. */
const GAP = '1/64 in';

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
      end(
        await withOrder(path, given, async (order) => {
          const { saw } = await import('./work/saw.js');
          return saw(order, given);
        }),
      ),
    );
}
