/** The planner as the benches call it. */

import type { Plan } from '../../src/documents/plan/types.js';
import { planBatchHere } from '../../src/plan/here.js';
import { planBatch } from '../../src/processes/plan-batch.js';
import { createEngine, type Engine } from '../../src/solve/engine.js';
import type { Batch } from '../../src/terms.js';

let loading: Promise<Engine> | undefined;

/** Loads the WebAssembly once; call it before the clock starts. */
export function engineOnce(): Promise<Engine> {
  const engine = loading ?? createEngine();
  loading = engine;
  return engine;
}

export interface Planned {
  readonly plan: Plan;
  /** Seconds within the engine; null where solver processes ran it. */
  readonly solving: number | null;
}

export async function plan(batch: Batch, where: 'here' | 'forked'): Promise<Planned> {
  if (where === 'forked') return { plan: await planBatch(batch), solving: null };
  const engine = await engineOnce();
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
