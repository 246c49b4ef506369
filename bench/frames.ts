/**
 * Frame batches, which is what people run, through the whole planner: read, solved, laid out, checked.
 *
 *     npm run bench:frames -- [--part small|matched|large|mixed|unlike|many|growth]… [--runs 3] [--limit SECONDS]
 *
 * `small`: 12 to 60 frames of one moulding, 3 offers. `matched`: twelve orders of 40 lines, all rails of a frame or each
 * pair on one stick. `large`: 1,000 different frames of one moulding, about 700 distinct rails on a 1/32 in step, stock 8,
 * 10 and 12 ft, 10 s. `mixed`: four orders of 1,000 frames of standard and odd sizes. `unlike`: 20,000 frames of any size.
 * `many`: 10,000 frames over 100 mouldings in solver processes.
 * `--limit`: each order has so many seconds instead of its own. Overfull are mouldings with a run that the bench does not hold.
 * `growth`: time to the answer against distinct lengths, copies and number of stock lengths, one core.
 *
 * Every plan is checked against its batch by `checkPlan` before its time counts; one that fails is printed and ends
 * the run with exit 1. Seconds are wall clock from the batch document to the plan, median of the runs, first run included.
 * Each part runs in a process of its own; peak memory is of that process and its children up to then. JSON lines first,
 * then tables.
 */
import { spawnSync } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { checkPlan } from '../src/check/check.js';
import { reportText } from '../src/check/report.js';
import { checkBatch } from '../src/documents/batch/read.js';
import type { Plan } from '../src/documents/plan/types.js';
import { problemsOfBatch } from './tools/batches.js';
import { percentile, rounded, table } from './tools/figures.js';
import { type Case, casesOf, PARTS, type Part } from './tools/frame-cases.js';
import { watchMemory } from './tools/memory.js';
import { plan } from './tools/planning.js';

/** Parts that take too long to be run more than once. */
const ONCE: readonly Part[] = ['large', 'mixed', 'unlike'];

interface Measured {
  readonly part: Part;
  readonly series: string;
  readonly at: number;
  readonly distinct: number;
  readonly rails: number;
  readonly sticks: number;
  readonly proven: string;
  readonly gapPercent: number | null;
  /** Mouldings with a run that the bench does not hold. */
  readonly overfull: number;
  /** Within the engine alone; the rest is reading, laying out and checking. */
  readonly solving: number | null;
  readonly seconds: number;
  readonly slowest: number;
  readonly peakMiB: number | null;
}

/** Cost over its bound, of the whole plan, in percent; null where no bound is known. */
function gapOf(answer: Plan): number | null {
  const value = answer.mouldings.reduce((sum, m) => sum + m.proof.value, 0);
  const bound = answer.mouldings.reduce((sum, m) => sum + m.proof.bound, 0);
  if (value === bound) return 0;
  return bound > 0 ? rounded((100 * (value - bound)) / bound, 4) : null;
}

function overfullIn({ mouldings }: Plan, bench: number | null): number {
  const limit = bench ?? Number.POSITIVE_INFINITY;
  return mouldings.filter(({ runs = [] }) => runs.some(({ begunMost }) => begunMost > limit)).length;
}

async function measure(one: Case, runs: number): Promise<Measured> {
  const seconds: number[] = [];
  const solving: number[] = [];
  let answer: Plan | undefined;
  const memory = watchMemory();
  const batch = checkBatch(one.document);
  for (let run = 0; run < runs; run++) {
    const began = performance.now();
    const made = await plan(checkBatch(one.document), one.where);
    seconds.push((performance.now() - began) / 1000);
    if (made.solving !== null) solving.push(made.solving);
    const report = checkPlan(batch, made.plan);
    if (!report.ok) {
      console.error(`${one.series} ${one.at}: ${reportText(report)}`);
      process.exitCode = 1;
    }
    answer = made.plan;
  }
  if (answer === undefined) throw new RangeError('--runs: at least 1');
  const problems = problemsOfBatch(batch);
  const items = problems.flatMap((problem) => problem.items);
  const proven = answer.mouldings.filter((m) => m.proof.status === 'optimal').length;
  return {
    part: one.part,
    series: one.series,
    at: one.at,
    distinct: items.length,
    rails: items.reduce((sum, item) => sum + item.demand, 0),
    sticks: answer.totals.sticks,
    proven: `${proven}/${answer.mouldings.length}`,
    gapPercent: gapOf(answer),
    overfull: overfullIn(answer, batch.saw.bench),
    solving: solving.length > 0 ? rounded(percentile(solving, 0.5), 3) : null,
    seconds: rounded(percentile(seconds, 0.5), 3),
    slowest: rounded(Math.max(...seconds), 3),
    peakMiB: memory.end(),
  };
}

async function runPart(part: Part, runs: number, timeLimit: number | null): Promise<void> {
  const rows: Measured[] = [];
  for (const own of casesOf(part)) {
    const { options } = own.document;
    const limited = { ...own.document, options: { ...options, timeLimit: timeLimit ?? options!.timeLimit! } };
    const one = { ...own, document: limited };
    const row = await measure(one, one.where === 'here' && !ONCE.includes(part) ? runs : 1);
    console.log(JSON.stringify(row));
    rows.push(row);
  }
  const header = [
    'distinct',
    'rails',
    'sticks',
    'proven',
    'gap %',
    'overfull',
    'solving',
    'seconds',
    'slowest',
    'peak MiB',
  ];
  for (const series of new Set(rows.map((row) => row.series))) {
    const own = rows.filter((row) => row.series === series);
    const cells = own.map((row) => [
      row.at,
      row.distinct,
      row.rails,
      row.sticks,
      row.proven,
      row.gapPercent ?? 'no bound',
      row.overfull,
      row.solving ?? '-',
      row.seconds,
      row.slowest,
      row.peakMiB ?? 'unknown',
    ]);
    console.log(`\n${table([series, ...header], cells)}\n`);
  }
}

async function main(): Promise<void> {
  const { values } = parseArgs({
    options: {
      part: { type: 'string', multiple: true, default: [...PARTS] },
      runs: { type: 'string', default: '3' },
      limit: { type: 'string' },
    },
  });
  const parts = values.part.map((given) => {
    const part = PARTS.find((known) => known === given);
    if (part === undefined) throw new RangeError(`--part ${given}: one of ${PARTS.join(', ')}`);
    return part;
  });
  const [only] = parts;
  if (parts.length === 1 && only !== undefined) {
    await runPart(only, Number(values.runs), values.limit === undefined ? null : Number(values.limit));
    return;
  }
  for (const part of parts) {
    const args = [...process.execArgv, fileURLToPath(import.meta.url), '--part', part, '--runs', values.runs];
    if (values.limit !== undefined) args.push('--limit', values.limit);
    const { status } = spawnSync(process.execPath, args, { stdio: 'inherit' });
    if (status !== 0) process.exitCode = 1;
  }
}

await main();
