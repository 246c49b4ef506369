/** One question to the engine: the frames of a task, some or all, from its sticks. */
import { moneyFromCents } from '../documents/money.js';
import { type Step, tidy } from '../layout/tidy.js';
import { weighs } from '../runs/weigh/weigh.js';
import { costUnder, type Engine } from '../solve/engine.js';
import type { NoPlan, Pattern, Problem, Proof, Solved } from '../solve/problem.js';
import { allCopies, demandsOf, problemOf, unpriced } from '../stock/problem.js';
import type { Copies, MouldingTask } from '../stock/task.js';
import type { Batch, Saw } from '../terms.js';
import { type Answer, proofOf } from './build.js';
import { pairsTogether } from './pairs/together.js';
import type { MouldingPart, PlanOptions } from './part.js';
import { asTheyCome, inRuns } from './sawing/in-runs.js';
import { weighedAgain } from './sawing/weighed.js';

/** Share of the time after which a moulding without any plan is treated as short of stock. */
const FIRST_PLAN_SHARE = 0.4;

export interface Question {
  readonly task: MouldingTask;
  readonly copies: Copies;
  /** Patterns to go on from, items numbered as in the task. */
  readonly start: readonly Pattern[];
  /** The proofs of `start`, where nothing can be cheaper: only how it is cut is still searched for. */
  readonly proven?: readonly Proof[] | null;
  readonly deadline: number;
  /** Some plan is known to exist: it is worth all the time there is. */
  readonly certain: boolean;
  /** What is found is what will be cut: worth trying to keep pairs on one stick. */
  readonly cut: boolean;
  /** What an improvement becomes, should it be the last. */
  readonly part: (answer: Answer) => MouldingPart;
}

/** Share of the time kept for the handling of a plan. */
export const HANDLING_SHARE = 0.15;
/** Of that, for solving again, and for that and dividing into runs; the rest lays the plan out. */
export const TRIES_SHARE = 0.35;
export const RUNS_SHARE = 0.9;
/** Share kept to divide into runs and lay out a plan that has been searched for with its handling. */
const LAYING_SHARE = 0.05;
/** Of that, when the first of two divisions ends, the second, and the search that goes on from them; or no such search. */
const LAID_SHARES = { gently: 0.08, anew: 0.14, weighed: 0.92 } as const;
const UNWEIGHED_SHARES = { gently: 0.35, anew: 0.8, weighed: 0.8 } as const;

/** And where so many sticks are cut that the bench does not hold them at once: runs take their time. */
const RUNS_HANDLING_SHARE = 0.3;
/** The same where time has a price, and plans are searched for with their runs: the more, the more benches they fill. */
const PRICED_RUNS_SHARES = { least: 0.4, most: 0.65, many: 0.4 } as const;
/** Benches from which on the patterns of so many sticks are what takes longest to better. */
const MANY_BENCHES = 10;
/** Benches that are left to the patterns, as it were: so many are searched for without their runs. */
const KEPT_TO_PATTERNS = 1.4;

/** How many times the bench holds the sticks that the rails fill at least; 0 where nothing limits it. */
function benchesFilled({ bench }: Saw, task: MouldingTask, copies: Copies): number {
  if (bench === null) return 0;
  const rails = demandsOf(task, copies).reduce(
    (sum, count, item) => sum + count * task.items[item]!.weight,
    0,
  );
  const longest = Math.max(
    1,
    ...task.piles.map(({ segments }) => segments.reduce((sum, one) => sum + one, 0)),
  );
  return rails / longest / bench;
}

function handlingShare(batch: Batch, task: MouldingTask, copies: Copies): number {
  return benchesFilled(batch.saw, task, copies) > 1 ? RUNS_HANDLING_SHARE : HANDLING_SHARE;
}

function layingShare(batch: Batch, { task, copies, cut }: Question): number {
  const benches = benchesFilled(batch.saw, task, copies);
  if (!cut || benches <= 1) return LAYING_SHARE;
  if (!weighs(task, batch.saw.order)) return RUNS_HANDLING_SHARE;
  const { least, most, many } = PRICED_RUNS_SHARES;
  if (benches > MANY_BENCHES) return many;
  return Math.min(most, Math.max(least, 1 - KEPT_TO_PATTERNS / benches));
}

/** `work`: what the search for it took, in the engine's units. */
export type Solution = FoundPlan | NoPlan;

interface FoundPlan extends Answer {
  readonly kind: 'solved';
  readonly work: number;
  /** Where time has a price: other plans, that of least wood among them, which may yet come to less once laid out. */
  readonly others?: readonly Answer[];
}

export function framesIn(copies: Copies): number {
  return copies.reduce((sum, n) => sum + n, 0);
}

/** Share of the time for the plan of least wood, where time has a price: it is the start of the search. */
const LEAST_WOOD_SHARE = 0.3;
/** Share of a brisk plan's time for later goals, once its wood is proven. */
const LATER_SHARE = 0.1;
/**
 * Where time has a price little is ever proven: a search ends from which nothing better came for so much work, by items
 * more than so many, and half as long again as all before.
 */
const PATIENCE = 1_000_000;
const AS_BEFORE = 1.5;
const PATIENT_ITEMS = 60;
/** Visits first, as they cost money. */
const PRICED_STEPS: readonly Step[] = ['visits', 'offcuts', 'layouts', 'pairs'];

/** The better of two plans, the other's patterns as columns only. */
function startOf(problem: Problem, a: readonly Pattern[], b: readonly Pattern[]): readonly Pattern[] {
  const made = (patterns: readonly Pattern[]): readonly number[] => {
    const counts = problem.items.map(() => 0);
    for (const { count, segments } of patterns)
      for (const entry of segments.flat()) counts[entry.item]! += count * entry.count;
    return counts;
  };
  const whole = made(b).every((count, i) => count === problem.items[i]!.demand);
  const second = whole && costUnder(problem, 0, b) < costUnder(problem, 0, a);
  const [plan, columns] = second ? [b, a] : [a, b];
  return [...plan, ...columns.map((pattern) => ({ ...pattern, count: 0 }))];
}

/** Wood and time together least; the plan of least wood is where the search begins, so that none is worse. */
function askPriced(batch: Batch, engine: Engine, options: PlanOptions, question: Question): Solution {
  const { task, copies, part } = question;
  const begin = options.now();
  const deadline = begin + (question.deadline - begin) * LEAST_WOOD_SHARE;
  const wood = ask(
    batch,
    engine,
    { ...options, brisk: true },
    { ...question, task: unpriced(task), deadline, cut: true },
  );
  if (wood.kind === 'none') return wood;
  const { problem, inward, outward } = problemOf(task, copies);
  const leastWood = wood.proofs[0]!.bound;
  const answerOf = ({ patterns, proofs }: Solved): Answer => ({
    copies,
    patterns: patterns.map(outward),
    proofs,
    priced: { bound: proofs[0]!.bound, leastWood },
  });
  const { now, seed, stopped } = options;
  const all = framesIn(allCopies(batch, task));
  const outcome = engine.solve(problem, {
    now,
    seed,
    deadline: question.deadline - (question.deadline - now()) * layingShare(batch, question),
    onImproved: (solved) => {
      const { status, value, bound } = solved.proofs[0]!;
      const scale = (amount: number): number => moneyFromCents(Math.round(amount / task.charge!.scale));
      options.onImproved?.({
        moulding: task.moulding.id,
        proof: { status, measure: 'cost', value: scale(value), bound: scale(bound) },
        frames: framesIn(copies),
        ordered: all,
        part: () => part({ ...answerOf(solved), tidied: true }),
      });
    },
    ...(stopped && { stopped }),
    patience: (work) =>
      AS_BEFORE * work + PATIENCE * Math.max(1, (problem.items.length / PATIENT_ITEMS) ** 2),
    start: startOf(problem, wood.patterns.map(inward), question.start.map(inward)),
  });
  if (outcome.kind === 'none') return outcome;
  const found = answerOf(outcome);
  const late = (): boolean => now() >= question.deadline;
  const handy: Answer = { ...found, patterns: tidy(task, found.patterns, PRICED_STEPS, late), tidied: true };
  // Settings shared out anew set fewer stops, and sticks left as they are make fewer visits: the cheaper one is kept.
  const last = Math.max(0, question.deadline - now());
  const until = (share: number): PlanOptions => ({
    ...options,
    deadline: question.deadline - last * (1 - share),
  });
  const shares = weighs(task, batch.saw.order) ? LAID_SHARES : UNWEIGHED_SHARES;
  const divided = question.cut
    ? inRuns(batch, task, handy, until(shares.gently), { engine, gently: true })
    : handy;
  const shared = question.cut ? [inRuns(batch, task, handy, until(shares.anew), { engine })] : [];
  const weighed = question.cut
    ? weighedAgain(batch, task, [divided, ...shared, wood], outcome.proofs[0]!.bound, until(shares.weighed))
    : [];
  const others = [...weighed, ...shared, { ...wood, tidied: true as const, priced: found.priced! }];
  return { kind: 'solved', ...divided, work: outcome.work, others };
}

/** The sticks in runs, pairs together, from `begin` until the question's deadline or `last`. */
function handy(
  batch: Batch,
  { task, copies, deadline }: Question,
  answer: Answer,
  work: number,
  engine: Engine,
  { last = deadline, ...options }: PlanOptions & { readonly last?: number },
  begin: number,
): Answer {
  const until = (share: number): PlanOptions => ({ ...options, deadline: begin + (last - begin) * share });
  const divided = benchesFilled(batch.saw, task, copies) > 1;
  const together = pairsTogether(task, answer, work, engine, { ...until(TRIES_SHARE), last, divided });
  return inRuns(batch, task, together, until(RUNS_SHARE), { engine });
}

export function ask(batch: Batch, engine: Engine, options: PlanOptions, question: Question): Solution {
  const { task, copies, part } = question;
  if (task.charge !== null) return askPriced(batch, engine, options, question);
  const { problem, inward, outward } = problemOf(task, copies);
  const ordered = framesIn(allCopies(batch, task));
  const begin = options.now();
  const share = options.brisk === true ? HANDLING_SHARE : handlingShare(batch, task, copies);
  const handling = options.woodOnly === true ? 0 : (question.deadline - begin) * share;
  const deadline = question.deadline - (question.cut ? handling : 0);
  const giveUp = question.certain ? Number.POSITIVE_INFINITY : begin + (deadline - begin) * FIRST_PLAN_SHARE;
  let found = false;
  /** When the wood of a brisk plan was proven. */
  let proven = Number.POSITIVE_INFINITY;
  const enough = (): boolean => options.now() > proven + (deadline - begin) * LATER_SHARE;
  const answerOf = ({ patterns, proofs }: Solved): Answer => ({
    copies,
    patterns: patterns.map(outward),
    proofs,
  });
  const { proven: known = null } = question;
  if (known !== null) {
    const answer = { copies, patterns: question.start, proofs: known };
    return { kind: 'solved', ...handy(batch, question, answer, 0, engine, options, begin), work: 0 };
  }
  const outcome = engine.solve(problem, {
    now: options.now,
    deadline,
    seed: options.seed,
    onImproved: (solved) => {
      found = true;
      const proof = proofOf(task, solved.proofs);
      if (options.brisk === true && proof.status === 'optimal') proven = Math.min(proven, options.now());
      options.onImproved?.({
        moulding: task.moulding.id,
        proof,
        frames: framesIn(copies),
        ordered,
        // Not worth making handier: it only counts should the process die before a better one.
        part: () => part({ ...answerOf(solved), tidied: true }),
      });
    },
    stopped: () => options.stopped?.() === true || (!found && options.now() > giveUp) || enough(),
    start: question.start.map(inward),
  });
  if (outcome.kind === 'none') return outcome;
  const answer = answerOf(outcome);
  if (!question.cut) return { kind: 'solved', ...answer, work: outcome.work };
  if (options.woodOnly === true)
    return { kind: 'solved', ...asTheyCome(batch, task, answer), work: outcome.work };
  // A brisk plan's handling begins as soon as it is solved, and has its share of the time.
  const solved = options.brisk === true ? Math.min(deadline, options.now()) : deadline;
  const until = { ...options, last: solved + question.deadline - deadline };
  return {
    kind: 'solved',
    ...handy(batch, question, answer, outcome.work, engine, until, solved),
    work: outcome.work,
  };
}
