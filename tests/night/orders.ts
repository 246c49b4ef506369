/** Orders of a night: a school and its neighbours, who frame in the same mouldings. */
import { seeded } from '../../bench/tools/random.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import type { Plan } from '../../src/documents/plan/types.js';
import { compose } from '../../src/night/compose.js';
import { planOf } from '../../src/processes/documents.js';
import { fingerprintOf } from '../../src/processes/envelope.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { performer } from '../../src/processes/solver/perform.js';
import type { SealedPart, SealedPlan } from '../../src/processes/solver/tasks.js';
import { createEngine } from '../../src/solve/engine.js';

export function orderOf(id: string, more: Partial<BatchDocument> = {}): BatchDocument {
  const { int, real } = seeded(id);
  return {
    schema: 'pairstop/batch@1',
    id,
    units: 'mm',
    mouldings: [
      { id: 'ash', face: 30, rabbet: 6 },
      { id: 'oak', face: 45, rabbet: 8, endTrim: 10 },
    ],
    frames: Array.from({ length: int(1, 3) }, (_, i) => ({
      id: `f${i + 1}`,
      moulding: real() < 0.6 ? 'ash' : 'oak',
      quantity: int(1, 3),
      width: 10 * int(20, 80),
      height: 10 * int(20, 80),
    })),
    offers: [
      { id: 'ash-3', moulding: 'ash', length: 3000, price: 21.4 },
      { id: 'ash-24', moulding: 'ash', length: 2400, price: 17.9 },
      { id: 'oak-3', moulding: 'oak', length: 3000, price: 33.1 },
    ],
    options: { timeLimit: 2 },
    ...more,
  };
}

/** The batch that all of these make together, which is planned as one. */
export function pooled(orders: readonly BatchDocument[], id = 'night'): BatchDocument {
  const members = orders.map((document) => ({ document, batch: checkBatch(document) }));
  const [only, ...others] = compose(members, (index) => (index === 0 ? id : `${id}-${index + 1}`));
  if (only === undefined || others.length > 0) throw new Error(`${others.length + 1} batches instead of one`);
  return only.document;
}

const perform = performer(createEngine({ highs: highsRuntime }));
/** Nobody listens. */
const UNHEARD = { improved: () => {}, read: () => {} };

/** As the service plans it, but in this process. */
export function plannedHere(document: BatchDocument): Plan {
  const source = {
    key: fingerprintOf(document, 'plan'),
    source: { kind: 'batch', batch: checkBatch(document) },
  } as const;
  const common = { work: 'plan', batch: source, rack: [] } as const;
  const parts = document.mouldings.map(({ id: moulding }) => {
    const task = { kind: 'solve', ...common, moulding, budget: 2_000, effort: 'full', start: null } as const;
    return perform(task, UNHEARD) as SealedPart;
  });
  const made = perform({ kind: 'assemble', ...common, parts, failed: [] }, UNHEARD) as SealedPlan;
  return planOf(source.key, made.sealed);
}
