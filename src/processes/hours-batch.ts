/** What an hour at the saw is worth to a batch: a plan for each rate that is asked about, in solver processes. */
import { hoursWorth, type PlanAtRate, RATES_MOST } from '../compare/hours.js';
import type { HoursComparison } from '../documents/hours/schema.js';
import { centsFromMoney } from '../documents/money.js';
import type { Plan } from '../documents/plan/types.js';
import { PairstopError } from '../errors.js';
import type { Batch } from '../terms.js';
import { type PlanBatchOptions, planBatch } from './plan-batch.js';

const LEAST_SECONDS = 1;

/** The bound over all mouldings: wood and time where time has a price, otherwise wood alone. */
function boundOf({ mouldings }: Plan): number {
  return mouldings.reduce((sum, { priced, proof }) => {
    const { bound } = priced ?? proof;
    return sum + (proof.measure === 'cost' ? bound : 0);
  }, 0);
}

function figuresOf(plan: Plan): PlanAtRate {
  const { cost, sticks, seconds = 0, stopsSet, handling } = plan.totals;
  return {
    cost,
    sticks,
    seconds,
    visits: handling?.visits ?? 0,
    stopsSet: stopsSet?.value ?? 0,
    bound: boundOf(plan),
  };
}

/**
 * Within the batch's time limit, shared evenly among the rates. Throws PS_OFFERS where nothing is bought, and where
 * stock is short: wood that is not there cannot be weighed against time.
 */
export async function compareHours(batch: Batch, options: PlanBatchOptions = {}): Promise<HoursComparison> {
  if (batch.offers.length === 0) {
    const problem = {
      path: 'offers',
      given: 'no offers',
      allowed: 'at least one: wood is weighed by its price',
    };
    throw new PairstopError('PS_OFFERS', 'there is nothing to weigh time against: no offers', [problem]);
  }
  const timeLimit = Math.max(LEAST_SECONDS, batch.options.timeLimit / RATES_MOST);
  const asking = hoursWorth();
  for (let step = asking.next(); ; ) {
    if (step.done === true) return { schema: 'pairstop/hours@1', batch: batch.id, points: [...step.value] };
    const rate = step.value === 0 ? null : centsFromMoney(step.value);
    const plan = await planBatch(
      { ...batch, labour: { ...batch.labour, rate }, options: { ...batch.options, timeLimit } },
      options,
    );
    if (plan.status === 'short') {
      throw new PairstopError(
        'PS_OFFERS',
        'stock is short: time cannot be weighed against wood that is not there',
      );
    }
    step = asking.next(figuresOf(plan));
  }
}
