/**
 * What each step of handling gains: the same patterns laid out with all steps, and with each of them left out.
 *
 *     npm run bench:handling -- [--frames 12,18,…] [--limit 5]
 *
 * Steps: `short` (rack pieces worth the same are used short ones first; without the step the problem lacks that goal),
 * `offcuts` (few long ones), `visits` (fewer sticks taken up at a setting), `layouts` (fewer ways of cutting), `pairs`
 * (both rails of a pair from one stick), `order` (the order in which pairs are cut at a setting), `together` (the problem
 * solved again with pairs that cannot be parted). Each frame batch is solved once, in at most `--limit` seconds; the
 * sticks bought are the same in every row. A row with all steps has the figures of the plan, verified by `checkPlan`.
 */
import { parseArgs } from 'node:util';
import { checkPlan } from '../src/check/check.js';
import { reportText } from '../src/check/report.js';
import { checkBatch } from '../src/documents/batch/read.js';
import type { BatchDocument } from '../src/documents/batch/schema.js';
import { layOut, type Ways } from '../src/layout/layout.js';
import { type Share, type Shared, shareOut } from '../src/layout/shares.js';
import { inOneRun } from '../src/layout/sticks.js';
import { STEPS, type Step, tidy } from '../src/layout/tidy.js';
import { visitOrder } from '../src/layout/visits.js';
import { assemblePlan } from '../src/plan/assemble.js';
import { buildPart } from '../src/plan/build.js';
import { handlingOf } from '../src/plan/handling.js';
import { plannedStick, plannedStop } from '../src/plan/measure.js';
import { pairsTogether } from '../src/plan/pairs/together.js';
import type { Engine } from '../src/solve/engine.js';
import type { Pattern, Proof } from '../src/solve/problem.js';
import { allCopies, problemOf, taskOf } from '../src/stock/problem.js';
import { ResolvedBatch } from '../src/stock/resolved.js';
import type { MouldingTask } from '../src/stock/task.js';
import { gaugesByLength, stopsOf } from '../src/stops/stops.js';
import type { Batch } from '../src/terms.js';
import { frameBatch } from './tools/batches.js';
import { table } from './tools/figures.js';
import { engine } from './tools/planning.js';
import { seeded } from './tools/random.js';

const ALL = ['short', ...STEPS, 'order', 'together'] as const;
type Off = (typeof ALL)[number];

interface Solved {
  readonly batch: Batch;
  readonly task: MouldingTask;
  readonly patterns: readonly Pattern[];
  /** The same cost with pairs kept together, where that was found. */
  readonly together: readonly Pattern[];
  readonly proofs: readonly Proof[];
  /** As solved without the goal of short rack pieces; null where there is no such goal. */
  readonly anyPieces: Solved | null;
}

interface Figures {
  readonly visits: number;
  readonly layouts: number;
  readonly splitPairs: number;
  readonly offcuts: number;
  /** Metres. */
  readonly longest: number;
  readonly rack: number;
}

/** Rails from one stick after the other, as they come. */
const shareInTurn: Ways['shareOut'] = (slots, sizes) => {
  const places: Share[] = slots.map((slot) => ({ ...slot }));
  const result = new Map<number, Shared[]>();
  for (const { size, count } of sizes) {
    const units = Array.from({ length: count }, () => {
      const unit: Share[] = [];
      for (let missing = size; missing > 0; ) {
        const place = places.find((one) => one.count > 0)!;
        const taken = Math.min(missing, place.count);
        unit.push({ stick: place.stick, lane: place.lane, count: taken });
        place.count -= taken;
        missing -= taken;
      }
      return unit;
    });
    result.set(size, units);
  }
  return result;
};

function solve(batch: Batch, task: MouldingTask, engine: Engine, limit: number): Solved {
  const { problem, outward } = problemOf(task, allCopies(batch, task));
  const now = (): number => performance.now();
  const deadline = now() + limit * 1000;
  const outcome = engine.solve(problem, { now, deadline, seed: 1 });
  if (outcome.kind === 'none') throw new RangeError(`${batch.id}: no plan in ${limit} s`);
  const patterns = outcome.patterns.map(outward);
  const answer = { copies: allCopies(batch, task), patterns, proofs: outcome.proofs };
  const options = { now: () => performance.now(), deadline: deadline + limit * 1000, seed: 1 };
  const handy = pairsTogether(task, answer, outcome.work, engine, options);
  return { batch, task, patterns, together: handy.patterns, proofs: handy.proofs, anyPieces: null };
}

function withoutGoal(task: MouldingTask): MouldingTask {
  const kept = task.goals.flatMap((goal, i) => (goal === 'rack' ? [] : [i]));
  const piles = task.piles.map((pile) => ({ ...pile, costs: kept.map((i) => pile.costs[i]!) }));
  return { ...task, piles, goals: kept.map((i) => task.goals[i]!) };
}

async function solved(document: BatchDocument, limit: number): Promise<readonly Solved[]> {
  const batch = checkBatch(document);
  return [...new ResolvedBatch(batch).orders.values()].flatMap((order) => {
    const task = taskOf(batch, order);
    if (task === null) return [];
    const one = solve(batch, task, engine, limit);
    if (!task.goals.includes('rack')) return [one];
    return [{ ...one, anyPieces: solve(batch, withoutGoal(task), engine, limit) }];
  });
}

function figures(one: Solved, off: ReadonlySet<Off>): Figures {
  const { batch, task, patterns, together } = off.has('short') ? (one.anyPieces ?? one) : one;
  const steps = STEPS.filter((step): step is Step => !off.has(step));
  const ways: Ways = {
    shareOut: off.has('pairs') ? shareInTurn : shareOut,
    visitOrder: off.has('order') ? (units) => [...units.keys()] : visitOrder,
  };
  const tidied = tidy(task, off.has('together') ? patterns : together, steps);
  const layout = layOut(task, allCopies(batch, task), inOneRun(tidied), ways);
  const sticks = layout.sticks.map((stick) => plannedStick(batch, task, stick));
  const stops = stopsOf(layout.groups, gaugesByLength(batch.gauges)).map((stop) =>
    plannedStop(batch, task, stop),
  );
  const kept = sticks.flatMap(({ left }) => left.filter(({ use }) => use === 'offcut'));
  const rack = sticks.filter(({ source }) => source === 'rack');
  return {
    ...handlingOf(sticks, stops),
    longest: Math.max(0, ...kept.map(({ from, to }) => to - from)) / 1000,
    rack: rack.reduce((sum, { length }) => sum + length, 0) / 1000,
  };
}

/** More pieces than are needed, all written off: each is worth the same, whatever its length. */
function withRack(document: BatchDocument): BatchDocument {
  const random = seeded(`${document.id} rack`);
  const sticks = Array.from({ length: 4 * document.frames.length }, (_, i) => ({
    id: `r${i + 1}`,
    moulding: document.mouldings[0]!.id,
    length: random.int(24, 120),
    value: 0,
  }));
  return { ...document, id: `${document.id}-rack`, sticks };
}

function verify({ batch, task, together, proofs }: Solved): void {
  const answer = { copies: allCopies(batch, task), patterns: together, proofs };
  const plan = assemblePlan(new ResolvedBatch(batch), [buildPart(batch, task, answer, null)]);
  const report = checkPlan(batch, plan);
  if (!report.ok) throw new RangeError(`${batch.id}: ${reportText(report)}`);
}

function sums(cases: readonly Solved[], off: readonly Off[]): (string | number)[] {
  const all = cases.map((one) => figures(one, new Set(off)));
  const sum = (of: keyof Figures): number => all.reduce((total, one) => total + one[of], 0);
  return [
    sum('visits'),
    sum('layouts'),
    sum('splitPairs'),
    sum('offcuts'),
    sum('longest').toFixed(2),
    sum('rack').toFixed(2),
  ];
}

function show(title: string, cases: readonly Solved[]): void {
  for (const one of cases) verify(one);
  const header = [title, 'visits', 'layouts', 'split pairs', 'offcuts', 'longest, m', 'rack used, m'];
  const rows = [
    ['all steps', ...sums(cases, [])],
    ...ALL.map((step) => [`without ${step}`, ...sums(cases, [step])]),
    ['no step', ...sums(cases, ALL)],
  ];
  console.log(`\n${table(header, rows)}`);
}

async function main(): Promise<void> {
  const { values } = parseArgs({
    options: {
      frames: { type: 'string', default: '12,18,24,30,36,42,48,54,60' },
      limit: { type: 'string', default: '5' },
    },
  });
  const limit = Number(values.limit);
  const documents = values.frames.split(',').map((frames) =>
    frameBatch('frames of one moulding', {
      frames: Number(frames),
      mouldings: 1,
      offers: [8, 10, 12],
      sizes: 'usual',
      timeLimit: limit,
    }),
  );
  const bought: Solved[] = [];
  const racked: Solved[] = [];
  for (const document of documents) {
    bought.push(...(await solved(document, limit)));
    racked.push(...(await solved(withRack(document), limit)));
  }
  console.log(`sums over ${documents.length} orders of ${values.frames} frames`);
  show('from offers', bought);
  show('from a full rack', racked);
}

await main();
