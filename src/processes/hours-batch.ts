/** What an hour at the saw is worth to a batch: a plan for each question about it, in solver processes. */
import { availableParallelism } from 'node:os';
import type { BoughtPlan } from '../compare/between.js';
import type { SawnPlan } from '../compare/front.js';
import {
  type HourAnswer,
  type HourOrder,
  type HourQuestion,
  hoursWorth,
  QUESTIONS_MOST,
  TOGETHER,
} from '../compare/hours.js';
import type { HoursComparison } from '../documents/hours/schema.js';
import { centsFromMoney } from '../documents/money.js';
import type { MouldingPlan, Plan } from '../documents/plan/types.js';
import { PairstopError } from '../errors.js';
import { linesOf } from '../stock/impossible.js';
import { refuseShopRack, refuseUncuttable } from '../stock/refusals.js';
import { ResolvedBatch, withoutImpossible } from '../stock/resolved.js';
import type { Batch } from '../terms.js';
import { localPool, type PlanBatchOptions, planWith } from './plan-batch.js';
import { SolverPool } from './solver/pool.js';

const LEAST_SECONDS = 1;
/** A question with less than this share of the least time is not asked. */
const LATE = 0.5;
const MS_PER_SECOND = 1_000;
const NOTHING: SawnPlan = { cost: 0, time: 0, sticks: 0, visits: 0, stopsSet: 0 };

function figuresOf({ buy }: Plan, planned: MouldingPlan): BoughtPlan {
  const own = buy.filter(({ moulding }) => moulding === planned.moulding);
  return {
    cost: own.reduce((sum, { cost }) => sum + centsFromMoney(cost), 0),
    time: Math.round((planned.seconds ?? 0) * MS_PER_SECOND),
    sticks: planned.sticks.length,
    visits: planned.handling?.visits ?? 0,
    stopsSet: planned.stopsSet?.value ?? 0,
    bought: new Map(own.map(({ offer, count }) => [offer, count])),
  };
}

/** Mouldings with the same figures whatever an hour costs, together. */
function added(plans: readonly SawnPlan[]): SawnPlan {
  return plans.reduce(
    (sum, plan) => ({
      cost: sum.cost + plan.cost,
      time: sum.time + plan.time,
      sticks: sum.sticks + plan.sticks,
      visits: sum.visits + plan.visits,
      stopsSet: sum.stopsSet + plan.stopsSet,
    }),
    NOTHING,
  );
}

function answerOf(plan: Plan, { available }: HourQuestion, priced: ReadonlySet<string>): HourAnswer {
  const bought = plan.mouldings.filter(({ moulding }) => priced.has(moulding));
  const others = plan.mouldings.filter(({ moulding }) => !priced.has(moulding));
  return {
    bought: new Map(bought.map((one) => [one.moulding, figuresOf(plan, one)])),
    others: added(others.map((one) => figuresOf(plan, one))),
    bound:
      available.size > 0
        ? null
        : bought.reduce((sum, one) => sum + centsFromMoney((one.priced ?? one.proof).bound), 0),
  };
}

/** The batch at a rate, with no more of its offers than the question allows. */
function asked(batch: Batch, { rate, available }: HourQuestion, timeLimit: number): Batch {
  return {
    ...batch,
    labour: { ...batch.labour, rate: rate === 0 ? null : rate },
    offers: batch.offers.map((offer) => {
      const most = available.get(offer.id);
      return most === undefined ? offer : { ...offer, available: most };
    }),
    options: { ...batch.options, timeLimit },
  };
}

class Asking {
  readonly #batch: Batch;
  readonly #orders: readonly HourOrder[];
  readonly #priced: ReadonlySet<string>;
  readonly #pool: SolverPool;
  readonly #together: number;
  readonly #options: PlanBatchOptions;
  readonly #began = performance.now();

  constructor(
    batch: Batch,
    orders: readonly HourOrder[],
    pool: SolverPool,
    together: number,
    options: PlanBatchOptions,
  ) {
    this.#batch = batch;
    this.#orders = orders;
    this.#priced = new Set(orders.map(({ moulding }) => moulding));
    this.#pool = pool;
    this.#together = together;
    this.#options = options;
  }

  /** Null where less is available than there is, and no plan was found. */
  async #answer(question: HourQuestion, timeLimit: number): Promise<HourAnswer | null> {
    const plan = await planWith(this.#pool, asked(this.#batch, question, timeLimit), this.#options);
    if (plan.status !== 'short') return answerOf(plan, question, this.#priced);
    if (question.available.size > 0) return null;
    throw new PairstopError(
      'PS_OFFERS',
      'stock is short: time cannot be weighed against wood that is not there',
    );
  }

  /** Each question has its share of what is left of the time; with nothing left, no more are asked. */
  async ask(): Promise<HoursComparison> {
    const { timeLimit } = this.#batch.options;
    const most = Math.max(
      TOGETHER,
      Math.min(QUESTIONS_MOST, Math.floor(timeLimit / LEAST_SECONDS) * this.#together),
    );
    const asking = hoursWorth(this.#orders, this.#batch.labour, most);
    let left = most;
    for (let step = asking.next(); ; ) {
      if (step.done === true)
        return { schema: 'pairstop/hours@1', batch: this.#batch.id, points: [...step.value] };
      const answers: (HourAnswer | null)[] = [];
      for (let at = 0; at < step.value.length; at += this.#together) {
        const rest = timeLimit - (performance.now() - this.#began) / MS_PER_SECOND;
        const share = (rest * this.#together) / left;
        const next = step.value.slice(at, at + this.#together);
        // Least wood and least time are asked for in any case.
        if (share < LEAST_SECONDS * LATE && left <= most - TOGETHER) next.length = 0;
        answers.push(
          ...(await Promise.all(next.map((one) => this.#answer(one, Math.max(LEAST_SECONDS, share))))),
        );
        left -= next.length;
      }
      step = asking.next(answers);
    }
  }
}

/**
 * Within the batch's time limit, shared among the questions. Throws PS_OFFERS where nothing is bought, and where
 * stock is short: wood that is not there cannot be weighed against time.
 */
export async function compareHours(given: Batch, options: PlanBatchOptions = {}): Promise<HoursComparison> {
  refuseShopRack(given);
  const whole = new ResolvedBatch(given);
  refuseUncuttable(whole);
  const { resolved, skipped } = withoutImpossible(whole);
  const { batch } = resolved;
  const ordered = new Set(batch.frames.map(({ moulding }) => moulding));
  const orders = batch.mouldings.flatMap(({ id: moulding }): HourOrder[] => {
    const offers = batch.offers.filter((offer) => offer.moulding === moulding);
    return offers.length > 0 && ordered.has(moulding) ? [{ moulding, offers }] : [];
  });
  if (orders.length === 0) {
    const problem = {
      path: 'offers',
      given: 'no offers',
      allowed: 'at least one: wood is weighed by its price',
    };
    throw new PairstopError('PS_OFFERS', 'there is nothing to weigh time against: no offers', [problem]);
  }
  const processes = options.processes ?? availableParallelism();
  // One moulding keeps one processor busy, so two questions go side by side.
  const together = batch.mouldings.length === 1 ? Math.min(TOGETHER, processes) : 1;
  const pool = new SolverPool(localPool(Math.max(1, Math.min(processes, together * batch.mouldings.length))));
  try {
    const found = await new Asking(batch, orders, pool, together, options).ask();
    return skipped.length === 0 ? found : { ...found, skipped: [...linesOf(given, skipped)] };
  } finally {
    await pool.close();
  }
}
