/** What the commands plan, check and schema do. */
import type { CheckReport } from '../../check/report.js';
import { checkBatch } from '../../documents/batch/read.js';
import { KINDS } from '../../documents/kinds.js';
import type { Plan } from '../../documents/plan/types.js';
import type { MadeDocument } from '../../documents/read-made.js';
import type { Recut } from '../../documents/recut/types.js';
import { PairstopError } from '../../errors.js';
import { withPlanRack } from '../../rack/shop-pieces.js';
import { PLAN_BYTES } from '../../read/limits.js';
import type { Batch } from '../../terms.js';
import { answer, EXIT_DONE, EXIT_OTHER, EXIT_SHORT } from '../ending.js';
import { print, readInput, STANDARD, writeOutput } from '../files.js';
import { type Conditions, under } from '../orders/conditions.js';
import type { OrderInput } from '../orders/order-choices.js';
import { type OrderOptions, withOrder } from '../orders/order-options.js';
import { ProgressLine } from '../progress-line.js';
import { checkSheetOutput, fileNames, type SheetOutput, writeSheets } from '../sheet-output.js';
import { shown } from '../shown.js';

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
    const { showPlan } = await import('../../show/plan.js');
    await print(output.json === true ? planText(plan) : showPlan(batch, plan));
  }
  return plan.status === 'short' ? EXIT_SHORT : EXIT_DONE;
}

export async function planOrder({ batch, path }: OrderInput, output: PlanOutput): Promise<number> {
  await checkSheetOutput(output, batch);
  const { planBatch } = await import('../../processes/plan-batch.js');
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

async function verified(
  batch: Batch,
  document: MadeDocument,
  earlier: Plan | Recut | undefined,
): Promise<CheckReport> {
  switch (document.schema) {
    case 'pairstop/plan@1': {
      const { checkPlan } = await import('../../check/check.js');
      return checkPlan(batch, document);
    }
    case 'pairstop/recut@1': {
      const { checkRecut } = await import('../../check/recut/recut.js');
      return checkRecut(batch, document, earlier);
    }
    case 'pairstop/comparison@1': {
      const { checkComparison } = await import('../../processes/check-comparison.js');
      return checkComparison(batch, document);
    }
    default:
      return document satisfies never;
  }
}

function isMemberOf(plan: Plan, { id }: Batch): boolean {
  return plan.batch !== id && plan.batches?.some(({ batch }) => batch === id) === true;
}

function takeNight(night: string): string {
  return `The plan is that of a whole night. Its batch: pairstop result ${shown(night)} --batch FILE writes it (of pairstop night plan: --batch FILE); then pairstop check FILE and this plan.\n`;
}

export type CheckOptions = OrderOptions & Conditions & { readonly json?: boolean };

/** Found where a comparison was asked on the command line what the batch does not ask. */
const ASKED = /\.(whatIf|growth|spare)\b/;
const ASK_ALIKE =
  'A comparison made with --max-length, --short-by, --spare or --grow is checked with the same options.\n';

/** `madePath`: a recut, where `path` is what it was made of. */
export async function checkOrder(
  orderPath: string,
  path: string,
  madePath: string | undefined,
  options: CheckOptions,
): Promise<number> {
  if ([orderPath, path, madePath].filter((one) => one === STANDARD).length > 1) {
    throw new PairstopError('PS_USAGE', 'only one of the documents can come from standard input');
  }
  return withOrder(orderPath, options, async (order) => {
    const asked = under(order.document, options);
    const batch = asked === order.document ? order.batch : checkBatch(asked);
    const { reportText } = await import('../../check/report.js');
    const { readMadeDocument } = await import('../../documents/read-made.js');
    const { readPlanOrRecut } = await import('../../documents/recut/read.js');
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
    const more =
      document.schema === 'pairstop/comparison@1' && report.findings.some(({ path: at }) => ASKED.test(at));
    const pooled = document.schema === 'pairstop/plan@1' && isMemberOf(document, batch);
    const advice = more ? ASK_ALIKE : pooled ? takeNight(document.batch) : '';
    const text = `${reportText(report, document.schema)}\n${advice}`;
    return answer('check', options.json, exit, { ...report }, text);
  });
}

export async function printSchema(of: string): Promise<number> {
  const kind = KINDS.find((one) => one === of);
  if (kind === undefined) {
    const allowed = KINDS.join(', ');
    throw new PairstopError('PS_USAGE', `schema: given ${JSON.stringify(of)}; allowed: ${allowed}`);
  }
  const { JSON_SCHEMAS } = await import('../../documents/json-schemas.js');
  await print(`${JSON.stringify(JSON_SCHEMAS[kind](), null, 2)}\n`);
  return EXIT_DONE;
}
