/** Plans a whole batch in this process, moulding after moulding. */

import type { Plan } from '../documents/plan/types.js';
import type { Engine } from '../solve/engine.js';
import { refuseShopRack, refuseUncuttable } from '../stock/refusals.js';
import { ResolvedBatch } from '../stock/resolved.js';
import type { Batch } from '../terms.js';
import { assemblePlan } from './assemble.js';
import { planMoulding } from './moulding.js';
import type { Improvement, MouldingPart, PlanOptions } from './part.js';

const MS_PER_SECOND = 1000;
/** A search that ended well before its time has nothing more to try; a second one needs so much of the limit. */
const USED_SHARE = 0.9;
const LEAST_SHARE = 0.05;
const LEAST_MS = 300;

export interface HereOptions {
  /** Milliseconds from an arbitrary origin, never going back. */
  readonly now: () => number;
  readonly onImproved?: (improvement: Improvement) => void;
  readonly stopped?: () => boolean;
}

/**
 * Plans within the batch's time limit. Each moulding gets an even share of what is left; those still unproven then
 * share the time the others did not need.
 */
export function planBatchHere(batch: Batch, engine: Engine, options: HereOptions): Plan {
  refuseShopRack(batch);
  const resolved = new ResolvedBatch(batch);
  refuseUncuttable(resolved);
  const { now } = options;
  const { seed, timeLimit } = batch.options;
  const end = now() + timeLimit * MS_PER_SECOND;
  /** Those whose search their share of the time cut short. */
  const short = new Set<string>();
  const plan = (moulding: string, share: number, start?: MouldingPart): MouldingPart => {
    const at = now();
    const deadline = at + Math.max(0, end - at) * share;
    const common: PlanOptions = { ...options, deadline, seed };
    const part = planMoulding(
      resolved,
      moulding,
      engine,
      start === undefined ? common : { ...common, start },
    );
    const { proof, priced } = part.plan;
    if ((priced ?? proof).status !== 'optimal' && now() - at >= USED_SHARE * (deadline - at))
      short.add(moulding);
    return part;
  };
  const ids = batch.mouldings.map((moulding) => moulding.id);
  const parts = ids.map((id, i) => plan(id, 1 / (ids.length - i)));
  const enough = end - now() >= Math.max(LEAST_MS, LEAST_SHARE * timeLimit * MS_PER_SECOND);
  const open = enough ? parts.filter(({ moulding }) => short.has(moulding)) : [];
  const again = new Map(
    open.map((part, i) => [part.moulding, plan(part.moulding, 1 / (open.length - i), part)]),
  );
  return assemblePlan(
    resolved,
    parts.map((part) => again.get(part.moulding) ?? part),
  );
}
