/** What a batch of a night is given as its result. */
import type { Plan } from '../../documents/plan/types.js';
import { withPlanRack } from '../../rack/shop-pieces.js';
import { showBatchPart } from '../../show/pooled.js';
import type { Batch } from '../../terms.js';
import { EXIT_DONE, EXIT_SHORT } from '../ending.js';
import { print, STANDARD, writeOutput } from '../files.js';
import { fileNames, writeSheets } from '../sheet-output.js';
import { type PlanOutput, planText } from '../work/plan.js';

/** Prints the page of its part; JSON, sheets and lists are those of the whole night, which is cut as one. */
export async function deliverPart(night: Batch, id: string, plan: Plan, output: PlanOutput): Promise<number> {
  const pooled = withPlanRack(night, plan);
  if (output.out !== undefined) await writeOutput(output.out, planText(plan));
  const taken = await writeSheets(pooled, plan, output, fileNames(undefined, output.out));
  if (output.out !== STANDARD && !taken) {
    await print(output.json === true ? planText(plan) : showBatchPart(pooled, plan, id));
  }
  const missing = plan.batches?.find(({ batch }) => batch === id)?.missing ?? [];
  return missing.length > 0 ? EXIT_SHORT : EXIT_DONE;
}
