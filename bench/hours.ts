/**
 * What runs for a bench of 20 sticks cost and save: `npm run bench:hours -- [--limit 20] [--only NAME]`; with `--rate 30`
 * instead how near wood and time come to their bound at that rate, orders of 12 to 60 frames in 5 s and 1,000 in 20 s,
 * or each in `--limit` seconds.
 *
 * Each order is planned three ways: without a bench (each setting once, any number of sticks begun), in runs of the
 * sticks as they come (the same plan, a new run after every 20 sticks), and as planned. Every plan is checked first.
 */
import { parseArgs } from 'node:util';
import { checkPlan } from '../src/check/check.js';
import { reportText } from '../src/check/report.js';
import { checkBatch } from '../src/documents/batch/read.js';
import type { BatchDocument } from '../src/documents/batch/schema.js';
import type { MouldingPlan, Plan } from '../src/documents/plan/types.js';
import { planBatchHere } from '../src/plan/here.js';
import { frameBatch } from './tools/batches.js';
import { casesOf } from './tools/frame-cases.js';
import { engine } from './tools/planning.js';

const BENCH = 20;
const SECONDS_AN_HOUR = 3600;
/** Frames from which an order is large, and the seconds each gets at a rate. */
const LARGE = 1000;
const LARGE_LIMIT = 20;
const SMALL_LIMIT = 5;
const USUAL_LIMIT = 20;

const { values } = parseArgs({
  options: {
    limit: { type: 'string' },
    only: { type: 'string', default: '' },
    rate: { type: 'string', default: '' },
  },
});
const timeLimit = Number(values.limit ?? USUAL_LIMIT);
const offers = [8, 10, 12];

function orders(): readonly { readonly name: string; readonly document: BatchDocument }[] {
  const one = { mouldings: 1, offers, timeLimit };
  const nine = casesOf('small').map(({ at, document }) => ({ name: `${at} frames`, document }));
  return [
    ...nine,
    { name: '40 lines', document: frameBatch('hours 40', { ...one, frames: 40, sizes: 'usual' }) },
    { name: '100 lines', document: frameBatch('hours 100', { ...one, frames: 100, sizes: 'usual' }) },
    { name: '400 single frames', document: frameBatch('hours 400', { ...one, frames: 400, sizes: 'odd' }) },
    {
      name: '1,000 single frames',
      document: frameBatch('hours 1000', { ...one, frames: 1000, sizes: 'odd', distinct: 433 }),
    },
  ];
}

/** Stops set when a new run begins after every `BENCH` sticks, as they come. */
function asTheyCome({ sticks, stops }: MouldingPlan): number {
  const stopOf = new Map(
    stops.flatMap((stop, at) => stop.pairs.flatMap(({ rails }) => rails.map((rail) => [rail, at] as const))),
  );
  let set = 0;
  for (let from = 0; from < sticks.length; from += BENCH) {
    const run = sticks
      .slice(from, from + BENCH)
      .flatMap(({ rails }) => rails.map(({ rail }) => stopOf.get(rail)));
    set += new Set(run).size;
  }
  return set;
}

function checked(document: BatchDocument, plan: Plan): Plan {
  const report = checkPlan(checkBatch(document), plan);
  if (!report.ok) throw new Error(`${document.id}: ${reportText(report)}`);
  return plan;
}

function most(plan: Plan): number {
  return Math.max(...plan.mouldings.flatMap(({ runs = [] }) => runs.map(({ begunMost }) => begunMost)));
}

function hours(seconds: number): string {
  return (seconds / SECONDS_AN_HOUR).toFixed(1);
}

/** Wood and time at a rate against their bound. */
async function priced(rate: number): Promise<void> {
  console.log('frames    wood and time        bound    gap   stops    bound  visits       s');
  for (const { at, document } of [...casesOf('small'), ...casesOf('large')]) {
    if (!String(at).includes(values.only)) continue;
    const usual = at >= LARGE ? LARGE_LIMIT : SMALL_LIMIT;
    const options = { ...document.options, timeLimit: values.limit === undefined ? usual : timeLimit };
    const limited = { ...document, labour: { rate }, options };
    const began = performance.now();
    const planned = planBatchHere(checkBatch(limited), engine, { now: () => performance.now() });
    const took = (performance.now() - began) / 1000;
    const plan = checked(limited, planned);
    const { priced: figures, stopsSet } = plan.mouldings[0]!;
    const { value, bound } = figures!;
    const gap = `${((100 * (value - bound)) / value).toFixed(2)} %`;
    const stops = [stopsSet!.value, stopsSet!.proof.bound].map((n) => String(n).padStart(8)).join(' ');
    const visits = String(plan.totals.handling!.visits).padStart(7);
    console.log(
      `${String(at).padEnd(6)} ${value.toFixed(2).padStart(16)} ${bound.toFixed(2).padStart(12)} ${gap.padStart(6)}${stops} ${visits} ${took.toFixed(1).padStart(7)}`,
    );
  }
}

async function main(): Promise<void> {
  if (values.rate !== '') {
    await priced(Number(values.rate));
    return;
  }
  const planned = (document: BatchDocument, bench: number | null) => {
    const limited = {
      ...document,
      saw: { ...document.saw, bench },
      options: { ...document.options, timeLimit },
    };
    const began = performance.now();
    const plan = checked(
      limited,
      planBatchHere(checkBatch(limited), engine, { now: () => performance.now() }),
    );
    return { plan, took: (performance.now() - began) / 1000 };
  };
  const header = [
    'order',
    'sticks',
    'settings',
    'begun',
    'as they come',
    'planned',
    'bound',
    'runs',
    'begun',
    'excess',
    'visits',
    'hours',
    's',
  ];
  console.log(header.map((cell, i) => (i === 0 ? cell.padEnd(20) : cell.padStart(12))).join(''));
  for (const { name, document } of orders().filter((order) => order.name.includes(values.only))) {
    const free = planned(document, null).plan;
    const { plan, took } = planned(document, BENCH);
    const settings = free.totals.stopsSet!.value;
    const come = free.mouldings.reduce((sum, part) => sum + asTheyCome(part), 0);
    const { value, proof } = plan.totals.stopsSet!;
    const excess =
      come === settings ? '–' : `${Math.round((100 * (value - settings)) / (come - settings))} %`;
    const setStop = checkBatch(document).labour.setStop / 1000;
    const inOrder = free.totals.seconds! + (come - settings) * setStop;
    const cells = [
      name.padEnd(20),
      plan.totals.sticks,
      settings,
      most(free),
      come,
      value,
      proof.bound,
      plan.mouldings.reduce((sum, { runs = [] }) => sum + runs.length, 0),
      most(plan),
      excess,
      `${free.totals.handling!.visits}→${plan.totals.handling!.visits}`,
      `${hours(inOrder)}→${hours(plan.totals.seconds!)}`,
      took.toFixed(1),
    ];
    console.log(cells.map((cell) => String(cell).padStart(12)).join(''));
  }
}

await main();
