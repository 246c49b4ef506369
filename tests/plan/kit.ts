/** Plans documents with the real engine, each plan checked. */
import { checkPlan } from '../../src/check/check.js';
import { reportText } from '../../src/check/report.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import type { Plan } from '../../src/documents/plan/types.js';
import { planBatchHere } from '../../src/plan/here.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { createEngine, type Engine } from '../../src/solve/engine.js';

const made = createEngine({ highs: highsRuntime });

export function engine(): Engine {
  return made;
}

export const now = (): number => performance.now();

/** A clock that only its readers move: searches cut short by it end at the same step on any machine. */
export function steppedClock(step: number): () => number {
  let at = 0;
  return () => {
    at += step;
    return at;
  };
}

/** The plan of a batch; throws with the checker's words when it finds anything. */
export async function planned(document: BatchDocument, clock: () => number = now): Promise<Plan> {
  const batch = checkBatch(document);
  const plan = planBatchHere(batch, engine(), { now: clock });
  const report = checkPlan(batch, plan);
  if (!report.ok) throw new Error(`${document.id}: ${reportText(report)}`);
  return plan;
}
