/** The command that compares stick lengths: `compare`. */
import type { Command } from 'commander';
import { addConditions } from './orders/conditions.js';
import { addOrderOptions, type OrderOptions, withOrder } from './orders/order-options.js';
import type { ComparisonAsked } from './work/compare.js';

export function addCompareCommand(program: Command, end: (code: number) => void): void {
  const comparing = addOrderOptions(program.command('compare'))
    .summary('which stick lengths to buy')
    .description(
      'Compares each offer alone, every pair and all together: cost, yield, waste, and at which prices the answer ' +
        'changes. Exit 3: a moulding cannot be made even from all of its offers, or frames were skipped.',
    )
    .option('--out <file>', 'write the comparison as JSON to a file')
    .option('--svg <file>', 'write a chart of the scenarios to a file')
    .option('--json', 'print the comparison as JSON instead of the readable page')
    .option('--no-break-even', 'do not look for the prices at which the answer changes')
    .option(
      '--labour',
      'show instead what an hour at the saw is worth: plans from least wood to least time, and the rates each is cheapest at',
    );
  addConditions(comparing).action(async (path: string, options: ComparisonAsked & OrderOptions) =>
    end(
      await withOrder(path, options, async (order) => {
        const { compare } = await import('./work/compare.js');
        return compare(order, options);
      }),
    ),
  );
}
