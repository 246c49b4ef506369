/** How every command takes an order: a batch in JSON, a CSV file with the others beside it, or a folder of them. */
import type { Command } from 'commander';
import type { OrderInput, OrderOptions } from './order-choices.js';

export type { OrderOptions } from './order-choices.js';

function collect(value: string, before: readonly string[] = []): readonly string[] {
  return [...before, value];
}

/** The options of every command that takes an order. */
export function addOrderOptions(command: Command): Command {
  return command
    .argument(
      '<order>',
      'a batch in JSON, the frames in CSV, a folder with frames.csv, mouldings.csv, rack.csv, offers.csv, saw.csv, or - for standard input',
    )
    .option('--mouldings <file>', 'CSV: id, face, rabbet …')
    .option('--rack <file>', 'CSV: id, moulding, length, quantity, flaws …')
    .option(
      '--offers <file or ids>',
      'CSV: id, moulding, length, price …; or ids with commas between: buy only from these',
      collect,
    )
    .option('--saw <file>', 'CSV: setting, value: kerf, recut, stop step, time limit …')
    .option('--gauges <file>', 'CSV: id, length')
    .option('--suppliers <file>', 'CSV: id, minimum order')
    .option('--units <units>', 'in or mm: what a number without a unit means in CSV')
    .option('--id <id>', "CSV: the batch's id (that of saw.csv, else the name of the file or folder)")
    .option('--supplier <id>', 'buy only from this supplier')
    .option('--as-compared <file>', 'buy only what this comparison (compare --out) recommends')
    .option('--skip-impossible', 'plan the rest where a frame cannot be cut from anything; exit 3');
}

/**
 * Reads the order and does `work` with it. Where the order came from CSV, a refusal of the batch names file, line and
 * column. Throws PS_FILE, PS_JSON, PS_CSV, PS_BATCH, PS_USAGE.
 */
export async function withOrder<T>(
  path: string,
  options: OrderOptions,
  work: (order: OrderInput) => Promise<T>,
): Promise<T> {
  const { readAndDo } = await import('./order-input.js');
  return readAndDo(path, options, work);
}
