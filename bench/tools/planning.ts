/** The planner as the benches call it. */

import type { Plan } from '../../src/documents/plan/types.js';
import { planBatchHere } from '../../src/plan/here.js';
import { planBatch } from '../../src/processes/plan-batch.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { createEngine, type Engine } from '../../src/solve/engine.js';
import type { Batch } from '../../src/terms.js';

/** One for all that a bench plans in this process. */
export const engine = createEngine({ highs: highsRuntime });

export interface Planned {
  readonly plan: Plan;
  /** Seconds within the engine; null where solver processes ran it. */
  readonly solving: number | null;
}

export async function plan(batch: Batch, where: 'here' | 'forked'): Promise<Planned> {
  if (where === 'forked') return { plan: await planBatch(batch), solving: null };
  let ms = 0;
  const timed: Engine = {
    solve: (problem, options) => {
      const began = performance.now();
      const outcome = engine.solve(problem, options);
      ms += performance.now() - began;
      return outcome;
    },
  };
  return { plan: planBatchHere(batch, timed, { now: () => performance.now() }), solving: ms / 1000 };
}
