/** The commands that need no queue: plan, check, schema. */
import type { Command } from 'commander';
import { KINDS } from '../documents/kinds.js';
import { addConditions } from './orders/conditions.js';
import { addOrderOptions, type OrderOptions, withOrder } from './orders/order-options.js';
import { addSheetOptions } from './sheet-output.js';
import type { CheckOptions, PlanOutput } from './work/plan.js';

const work = () => import('./work/plan.js');

export function addPlanCommands(program: Command, end: (code: number) => void): void {
  const planning = addOrderOptions(program.command('plan'))
    .summary('plan a batch in this process')
    .description(
      'Plans a batch and prints what to buy, set and cut. Exit 3: stock is short, the rest is planned.',
    )
    .option('--out <file>', 'write the plan as JSON to a file')
    .option('--json', 'print the plan as JSON instead of the readable page');
  addSheetOptions(planning).action(async (path: string, options: PlanOutput & OrderOptions) =>
    end(await withOrder(path, options, async (order) => (await work()).planOrder(order, options))),
  );
  const checking = addOrderOptions(program.command('check'))
    .summary('verify a plan, a recut or a comparison against its batch')
    .description(
      'Verifies a document from the definition, without the planner: a plan, a recut (with the plan or recut it was made of before it, against that too), or what a comparison claims. Exit 1: something is wrong with it.',
    )
    .argument('<document>', 'the plan, recut or comparison, a JSON file, or -')
    .argument('[recut]', 'the recut to verify, where the document before it is what it was made of')
    .option('--json', 'the report as JSON');
  addConditions(checking).action(
    async (order: string, path: string, made: string | undefined, options: CheckOptions) =>
      end(await (await work()).checkOrder(order, path, made, options)),
  );
  program
    .command('schema')
    .summary('print a JSON Schema')
    .argument('<document>', KINDS.join(', '))
    .option('--json', 'print refusals as JSON too (the schema always is)')
    .action(async (of: string) => end(await (await work()).printSchema(of)));
}
