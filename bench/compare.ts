/**
 * Comparisons of eight offers (8 alone, 28 pairs, all together) for 200 frames of one moulding.
 *
 *     npm run bench:compare -- [--only repeat|sizes|usual|equal] [--processes 2]
 *
 * `repeat`: five frames, 40 of each. `sizes`: 40 different widths and heights. `usual`: ready-made and odd sizes, 117
 * different rails. `equal`: 40 different widths and heights, every offer at the same price a foot, so that all
 * scenarios are near each other.
 *
 * Answers are checked first: the recommended pieces, and no others, are planned again and the plan verified against its
 * batch by `checkPlan`; more offers to choose from must not cost more; no bound may pass a cost. An answer that fails is
 * printed and ends the run with exit 1. Seconds are wall clock, the start of the solver processes included.
 */
import { parseArgs } from 'node:util';
import { checkPlan } from '../src/check/check.js';
import { reportText } from '../src/check/report.js';
import { checkBatch } from '../src/documents/batch/read.js';
import type { BatchDocument } from '../src/documents/batch/schema.js';
import type { Comparison, Scenario } from '../src/documents/comparison/types.js';
import { planBatchHere } from '../src/plan/here.js';
import { compareBatch } from '../src/processes/compare-batch.js';
import { type BatchShape, frameBatch } from './tools/batches.js';
import { rounded, table } from './tools/figures.js';
import { engine } from './tools/planning.js';

const FEET = [6, 8, 9, 10, 11, 12, 14, 16] as const;
/** Dollars a piece: nearly the same a foot, as catalogues have it. */
const PRICES = [14.2, 17.6, 20.4, 21.9, 24.8, 26.1, 31.9, 37.5] as const;
const CENTS_A_FOOT = 2.2;

const SHAPES: Readonly<Record<string, Partial<BatchShape>>> = {
  repeat: { frames: 5, quantity: 40 },
  sizes: { sizes: 'odd', distinct: 40, quantity: 1 },
  usual: { quantity: 1 },
  equal: { sizes: 'odd', distinct: 40, quantity: 1 },
};

function caseOf(name: string): BatchDocument {
  const document = frameBatch(name, {
    frames: 200,
    mouldings: 1,
    offers: FEET,
    sizes: 'usual',
    timeLimit: 30,
    ...SHAPES[name],
  });
  const offers = (document.offers ?? []).map((offer, i) => ({
    ...offer,
    price: name === 'equal' ? Math.round(FEET[i]! * CENTS_A_FOOT * 100) / 100 : PRICES[i]!,
  }));
  return { ...document, offers };
}

function within(small: Scenario, large: Scenario): boolean {
  return small.offers.every((id) => large.offers.includes(id));
}

/** What is wrong with an answer; empty: nothing was found. */
async function faults(document: BatchDocument, comparison: Comparison): Promise<string[]> {
  const found: string[] = [];
  const { scenarios, recommendation } = comparison.mouldings[0]!;
  for (const large of scenarios) {
    const { value = Number.POSITIVE_INFINITY, bound = 0 } = large.proof ?? {};
    if (bound > value) found.push(`${large.offers.join('+')}: bound ${bound} above cost ${value}`);
    for (const small of scenarios) {
      if (!within(small, large) || small.proof === null) continue;
      if (value > small.proof.value)
        found.push(`${large.offers.join('+')} costs more than ${small.offers.join('+')}`);
    }
  }
  const bought = (document.offers ?? []).map((offer) => ({
    ...offer,
    available: recommendation.buy.find((buy) => buy.offer === offer.id)?.count ?? 0,
  }));
  const batch = checkBatch({ ...document, offers: bought });
  const plan = planBatchHere(batch, engine, { now: () => performance.now() });
  const report = checkPlan(batch, plan);
  if (!report.ok) found.push(reportText(report));
  if (plan.status === 'short') found.push('the recommended pieces were not seen to make the order');
  else if (plan.totals.cost > (recommendation.cost ?? 0))
    found.push('the recommended pieces cost more than stated');
  return found;
}

async function main(): Promise<void> {
  const { values } = parseArgs({
    options: { only: { type: 'string' }, processes: { type: 'string', default: '2' } },
  });
  const names = Object.keys(SHAPES).filter((name) => values.only === undefined || values.only === name);
  if (names.length === 0)
    throw new RangeError(`--only ${values.only}: one of ${Object.keys(SHAPES).join(', ')}`);
  const rows = [];
  for (const name of names) {
    const document = caseOf(name);
    const batch = checkBatch(document);
    const seconds: number[] = [];
    let comparison: Comparison | null = null;
    for (const breakEven of [false, true]) {
      const began = performance.now();
      comparison = await compareBatch(batch, { processes: Number(values.processes), breakEven });
      seconds.push(rounded((performance.now() - began) / 1000, 2));
    }
    if (comparison === null) continue;
    const wrong = await faults(document, comparison);
    for (const fault of wrong) console.error(`${name}: ${fault}`);
    if (wrong.length > 0) process.exitCode = 1;
    const { scenarios, recommendation, breakEven } = comparison.mouldings[0]!;
    const count = (status: string): number =>
      scenarios.filter(({ proof }) => proof?.status === status).length;
    const gap = 1 - (recommendation.bound ?? 0) / (recommendation.cost ?? 1);
    const prices = breakEven
      .flatMap(({ from, to, aloneTies }) => [from, to, aloneTies])
      .filter((price) => price !== null);
    rows.push([
      name,
      scenarios.length,
      count('optimal'),
      count('excluded'),
      count('within') + count('unproven'),
      rounded(100 * gap, 3),
      seconds[0]!,
      seconds[1]!,
      `${prices.filter(({ proven }) => proven).length}/${prices.length}`,
    ]);
  }
  const header = [
    'order',
    'scenarios',
    'proven',
    'ruled out',
    'open',
    'gap %',
    'seconds',
    'with prices',
    'prices proven',
  ];
  console.log(table(header, rows));
}

await main();
