/**
 * A batch cut without a plan, beside its plan. `bench/tools/naive.ts` says what "without a plan" means.
 *
 *     npm run bench:naive -- [BATCH.json]
 *
 * The default is the demo. Both are checked against the batch. The one without a plan may move the stop to a setting more
 * than once and need not cut a stick's longest rails first; its figures show that.
 */
import { readFile } from 'node:fs/promises';
import { checkPlan } from '../src/check/check.js';
import { findingText } from '../src/check/report.js';
import { endOf } from '../src/cli/ending.js';
import { readInput } from '../src/cli/files.js';
import { readBatch } from '../src/documents/batch/read.js';
import type { Plan } from '../src/documents/plan/types.js';
import { formatLength } from '../src/lengths/format.js';
import { umFromMm } from '../src/lengths/units.js';
import { planBatch } from '../src/processes/plan-batch.js';
import { BATCH_BYTES } from '../src/read/limits.js';
import type { Batch } from '../src/terms.js';
import { table } from './tools/figures.js';
import { naivePlan } from './tools/naive.js';

const DEMO = new URL('../src/demo/lakeside-spring.json', import.meta.url);
/** In the compiled tree the demo stays where it was written. */
const SOURCE_DEMO = new URL('../../src/demo/lakeside-spring.json', import.meta.url);
const ALLOWED: ReadonlySet<string> = new Set(['CHECK_ORDER', 'CHECK_STOP_ORDER']);

async function demo(): Promise<Buffer> {
  return readFile(DEMO).catch(() => readFile(SOURCE_DEMO));
}

function refuseUnsound(batch: Batch, plan: Plan, allowed: ReadonlySet<string>): void {
  const { findings } = checkPlan(batch, plan);
  const wrong = findings.filter(({ code }) => !allowed.has(code));
  if (wrong.length === 0) return;
  console.error(wrong.map(findingText).join('\n'));
  process.exitCode = 1;
}

function row(name: string, batch: Batch, plan: Plan): readonly (string | number)[] {
  const sticks = plan.mouldings.flatMap((part) => part.sticks);
  const { totals } = plan;
  const offcuts = sticks.flatMap(({ left }) => left.filter(({ use }) => use === 'offcut'));
  const longest = Math.max(0, ...offcuts.map(({ from, to }) => to - from));
  return [
    name,
    totals.sticks,
    sticks.filter(({ source }) => source === 'offer').length,
    totals.cost.toFixed(2),
    totals.stopsSet?.value ?? totals.stopSettings,
    totals.handling?.visits ?? 0,
    offcuts.length,
    longest === 0 ? '-' : formatLength(umFromMm(longest), batch.units),
    `${(totals.yield * 100).toFixed(1)} %`,
  ];
}

async function main(given: string | undefined): Promise<void> {
  const batch = readBatch(given === undefined ? await demo() : await readInput(given, BATCH_BYTES));
  const naive = naivePlan(batch);
  const plan = await planBatch(batch);
  if (naive !== null) refuseUnsound(batch, naive, ALLOWED);
  refuseUnsound(batch, plan, new Set());
  const header = ['', 'sticks', 'bought', 'cost', 'stop moves', 'visits', 'offcuts', 'longest', 'yield'];
  const rows = [row('Pairstop', batch, plan)];
  if (naive === null) console.log('without a plan the stock runs out');
  else rows.unshift(row('without a plan', batch, naive));
  console.log(`${batch.id}\n\n${table(header, rows)}`);
}

try {
  await main(process.argv[2]);
} catch (error) {
  process.exitCode = endOf(error);
}
