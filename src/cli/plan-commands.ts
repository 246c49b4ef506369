/** The commands that need no queue: plan, check, schema. */
import type { Command } from 'commander';
import { checkPlan } from '../check/check.js';
import { checkRecut } from '../check/recut/recut.js';
import { type CheckReport, reportText } from '../check/report.js';
import { JSON_SCHEMAS } from '../documents/json-schemas.js';
import { KINDS } from '../documents/kinds.js';
import type { Plan } from '../documents/plan/types.js';
import { type MadeDocument, readMadeDocument } from '../documents/read-made.js';
import { readPlanOrRecut } from '../documents/recut/read.js';
import type { Recut } from '../documents/recut/types.js';
import { PairstopError } from '../errors.js';
import { checkComparison } from '../processes/check-comparison.js';
import { planBatch } from '../processes/plan-batch.js';
import { withPlanRack } from '../rack/shop-pieces.js';
import { PLAN_BYTES } from '../read/limits.js';
import { showPlan } from '../show/plan.js';
import type { Batch } from '../terms.js';
import { answer, EXIT_DONE, EXIT_OTHER, EXIT_SHORT } from './ending.js';
import { print, readInput, STANDARD, writeOutput } from './files.js';
import type { OrderInput } from './orders/order-choices.js';
import { addOrderOptions, type OrderOptions, withOrder } from './orders/order-input.js';
import { ProgressLine } from './progress-line.js';
import {
  addSheetOptions,
  checkSheetOutput,
  fileNames,
  type SheetOutput,
  writeSheets,
} from './sheet-output.js';

export interface PlanOutput extends SheetOutput {
  readonly out?: string;
  readonly json?: boolean;
}

/** A plan as file text: readable, and the same bytes for the same plan. */
export function planText(plan: Plan): string {
  return `${JSON.stringify(plan, null, 1)}\n`;
}

/**
 * Writes a checked plan where the options say; gives the exit code. Also used for plans from the queue. `path`: the
 * batch's file, where there is one.
 */
export async function deliver(
  ordered: Batch,
  plan: Plan,
  output: PlanOutput,
  path?: string,
): Promise<number> {
  const batch = withPlanRack(ordered, plan);
  if (output.out !== undefined) await writeOutput(output.out, planText(plan));
  const taken = await writeSheets(batch, plan, output, fileNames(path, output.out));
  if (output.out !== STANDARD && !taken) {
    await print(output.json === true ? planText(plan) : showPlan(batch, plan));
  }
  return plan.status === 'short' ? EXIT_SHORT : EXIT_DONE;
}

async function planOrder({ batch, path }: OrderInput, output: PlanOutput): Promise<number> {
  await checkSheetOutput(output, batch);
  const line = new ProgressLine();
  const stop = new AbortController();
  const interrupt = (): void => stop.abort();
  process.once('SIGINT', interrupt).once('SIGTERM', interrupt);
  try {
    const made = await planBatch(batch, {
      signal: stop.signal,
      onProgress: (progress) => line.update(progress),
    });
    line.stop();
    return await deliver(batch, made, output, path);
  } finally {
    line.stop();
    process.off('SIGINT', interrupt).off('SIGTERM', interrupt);
  }
}

function verified(
  batch: Batch,
  document: MadeDocument,
  earlier: Plan | Recut | undefined,
): CheckReport | Promise<CheckReport> {
  switch (document.schema) {
    case 'pairstop/plan@1':
      return checkPlan(batch, document);
    case 'pairstop/recut@1':
      return checkRecut(batch, document, earlier);
    case 'pairstop/comparison@1':
      return checkComparison(batch, document);
    default:
      return document satisfies never;
  }
}

/** `madePath`: a recut, where `path` is what it was made of. */
async function checkOrder(
  orderPath: string,
  path: string,
  madePath: string | undefined,
  options: OrderOptions & { readonly json?: boolean },
): Promise<number> {
  if ([orderPath, path, madePath].filter((one) => one === STANDARD).length > 1) {
    throw new PairstopError('PS_USAGE', 'only one of the documents can come from standard input');
  }
  return withOrder(orderPath, options, async ({ batch }) => {
    const document = readMadeDocument(await readInput(madePath ?? path, PLAN_BYTES));
    const earlier = madePath === undefined ? undefined : readPlanOrRecut(await readInput(path, PLAN_BYTES));
    if (earlier !== undefined && document.schema !== 'pairstop/recut@1') {
      throw new PairstopError(
        'PS_USAGE',
        `check: given two documents, the second a ${document.schema}; allowed: a plan or recut and the recut made of it`,
      );
    }
    const report = await verified(batch, document, earlier);
    const exit = report.ok ? EXIT_DONE : EXIT_OTHER;
    return answer('check', options.json, exit, { ...report }, `${reportText(report, document.schema)}\n`);
  });
}

async function schema(of: string): Promise<number> {
  const kind = KINDS.find((one) => one === of);
  if (kind === undefined) {
    const allowed = KINDS.join(', ');
    throw new PairstopError('PS_USAGE', `schema: given ${JSON.stringify(of)}; allowed: ${allowed}`);
  }
  await print(`${JSON.stringify(JSON_SCHEMAS[kind](), null, 2)}\n`);
  return EXIT_DONE;
}

export function addPlanCommands(program: Command, end: (code: number) => void): void {
  const planning = addOrderOptions(program.command('plan'))
    .summary('plan a batch in this process')
    .description(
      'Plans a batch and prints what to buy, set and cut. Exit 3: stock is short, the rest is planned.',
    )
    .option('--out <file>', 'write the plan as JSON to a file')
    .option('--json', 'print the plan as JSON instead of the readable page');
  addSheetOptions(planning).action(async (path: string, options: PlanOutput & OrderOptions) =>
    end(await withOrder(path, options, (order) => planOrder(order, options))),
  );
  addOrderOptions(program.command('check'))
    .summary('verify a plan, a recut or a comparison against its batch')
    .description(
      'Verifies a document from the definition, without the planner: a plan, a recut (with the plan or recut it was made of before it, against that too), or what a comparison claims. Exit 1: something is wrong with it.',
    )
    .argument('<document>', 'the plan, recut or comparison, a JSON file, or -')
    .argument('[recut]', 'the recut to verify, where the document before it is what it was made of')
    .option('--json', 'the report as JSON')
    .action(
      async (
        order: string,
        path: string,
        made: string | undefined,
        options: OrderOptions & { json?: boolean },
      ) => end(await checkOrder(order, path, made, options)),
    );
  program
    .command('schema')
    .summary('print a JSON Schema')
    .argument('<document>', KINDS.join(', '))
    .option('--json', 'print refusals as JSON too (the schema always is)')
    .action(async (of: string) => end(await schema(of)));
}
