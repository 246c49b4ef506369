/**
 * Both rails of a pair from one stick, when that costs nothing. Exchanging rails between sticks of a finished plan
 * rarely gets there, as a plan that wastes little leaves no room. So the problem is solved again with pairs as items
 * that cannot be parted: all of them, or all but a share spread evenly over the settings. Such a plan is taken where it
 * is no dearer under any goal and handier, by the order of `STEPS`, than the one at hand.
 */
import { type Handy, handier, handinessOf } from '../layout/handiness.js';
import { unitTypesByItem } from '../layout/names.js';
import { tidy } from '../layout/tidy.js';
import type { Engine } from '../solve/engine.js';
import type { Item, Pattern, PatternEntry, Problem, Proof, Solved } from '../solve/problem.js';
import { problemOf } from '../stock/problem.js';
import type { MouldingTask } from '../stock/task.js';
import type { Answer } from './build.js';
import type { PlanOptions } from './part.js';

/** Shares of the pairs that may be parted, tried in turn. */
const LOOSE = [0, 1 / 16, 1 / 8, 1 / 4];
/** What one try may take, in readings of the clock by the engine: counted, so that the same seed gives the same plan. */
const LEAST_READINGS = 200;
/** Beyond, the engine has no time left to make a plan handier. */
const ITEMS_MOST = 400;

/** An item of the problem that stands for `rails` of one item of the original. */
interface Bound {
  readonly item: number;
  readonly rails: number;
}

/** Pairs of the problem as items of their own; `loose` of them stay two rails each. */
function bindPairs(
  problem: Problem,
  parted: readonly boolean[],
  loose: number,
): { readonly problem: Problem; readonly bound: readonly Bound[] } {
  const items: Item[] = [];
  const bound: Bound[] = [];
  let share = 0;
  problem.items.forEach((item, i) => {
    const pairs = parted[i] === true ? Math.floor(item.demand / 2) : 0;
    // As many as keep to the share over all items so far, so that a setting of one pair is sometimes left whole.
    const before = Math.round(share);
    share += pairs * loose;
    const kept = pairs - Math.min(pairs, Math.round(share) - before);
    if (kept > 0) {
      items.push({ ...item, weight: 2 * item.weight, demand: kept });
      bound.push({ item: i, rails: 2 });
    }
    if (item.demand > 2 * kept) {
      items.push({ ...item, demand: item.demand - 2 * kept });
      bound.push({ item: i, rails: 1 });
    }
  });
  return { problem: { ...problem, items }, bound };
}

function unbound(pattern: Pattern, bound: readonly Bound[]): Pattern {
  const segments = pattern.segments.map((entries) => {
    const counts = new Map<number, number>();
    for (const { item, count } of entries) {
      const { item: own, rails } = bound[item]!;
      counts.set(own, (counts.get(own) ?? 0) + count * rails);
    }
    return [...counts].map(([item, count]): PatternEntry => ({ item, count }));
  });
  return { ...pattern, segments };
}

/** Below 0 where `a` is worth less under the first goal that differs. */
function compare(a: readonly Proof[], b: readonly Proof[]): number {
  for (let goal = 0; goal < a.length; goal++) {
    const by = a[goal]!.value - b[goal]!.value;
    if (by !== 0) return by;
  }
  return 0;
}

/** The proofs of the problem itself, for a plan of these values. */
function proofsFor(values: readonly Proof[], known: readonly Proof[]): readonly Proof[] {
  let same = true;
  return values.map(({ value }, goal) => {
    // The bound of a later goal holds for the values of those before it.
    const bound = same ? Math.min(known[goal]!.bound, value) : 0;
    same &&= value === known[goal]!.value;
    return { status: bound === value ? 'optimal' : bound > 0 ? 'within' : 'unproven', value, bound };
  });
}

/** A pattern of the problem as one of pairs, what is odd as single rails; a start for the search, not a plan. */
function inPairs(pattern: Pattern, bound: readonly Bound[]): Pattern {
  const place = new Map(bound.map(({ item, rails }, i) => [`${item}/${rails}`, i]));
  const segments = pattern.segments.map((entries) =>
    entries.flatMap(({ item, count }): PatternEntry[] => {
      const [pair, single] = [place.get(`${item}/2`), place.get(`${item}/1`)];
      const pairs =
        pair === undefined ? 0 : single === undefined ? Math.ceil(count / 2) : Math.floor(count / 2);
      return [
        ...(pair === undefined || pairs === 0 ? [] : [{ item: pair, count: pairs }]),
        ...(single === undefined || count <= 2 * pairs ? [] : [{ item: single, count: count - 2 * pairs }]),
      ];
    }),
  );
  return { ...pattern, segments };
}

interface Try {
  readonly problem: Problem;
  readonly start: readonly Pattern[];
  readonly readings: number;
  readonly known: readonly Proof[];
}

/** A plan of the bound problem that is worth no more than `known` under any goal; null where none was found. */
function solve(
  engine: Engine,
  options: PlanOptions,
  { problem, start, readings, known }: Try,
): Solved | null {
  let [read, hopeless] = [0, false];
  let found: Solved | null = null;
  const begin = options.now();
  const outcome = engine.solve(problem, {
    now: () => {
      read += 1;
      return read > readings ? options.deadline : begin;
    },
    deadline: options.deadline,
    seed: options.seed,
    onImproved: (solved) => {
      if (compare(solved.proofs, known) <= 0) found = solved;
      hopeless ||= solved.proofs[0]!.bound > known[0]!.value;
    },
    stopped: () =>
      found !== null || hopeless || options.stopped?.() === true || options.now() >= options.deadline,
    start,
  });
  if (outcome.kind === 'solved' && compare(outcome.proofs, known) <= 0) return outcome;
  return found;
}

/** `readings`: what the search for `answer` took. Gives `answer` where nothing is handier. */
export function pairsTogether(
  task: MouldingTask,
  answer: Answer,
  readings: number,
  engine: Engine,
  options: PlanOptions,
): Answer {
  if (task.items.length > ITEMS_MOST) return answer;
  const { problem, inward, outward } = problemOf(task, answer.copies);
  const own = tidy(task, answer.patterns);
  let best: Answer = answer;
  let handy: Handy = handinessOf(task, own);
  const types = unitTypesByItem(task);
  const itemOf = outward({
    stock: 0,
    count: 1,
    segments: [problem.items.map((_, item) => ({ item, count: 1 }))],
  }).segments[0]!.map(({ item }) => item);
  const parted = itemOf.map((item) => types[item]!.some(({ whole }) => !whole));
  for (const loose of LOOSE) {
    if (handy.apart === 0 || options.now() >= options.deadline) break;
    const bindings = bindPairs(problem, parted, loose);
    const solved = solve(engine, options, {
      problem: bindings.problem,
      start: best.patterns.map((pattern) => inPairs(inward(pattern), bindings.bound)),
      readings: Math.max(LEAST_READINGS, Math.round(readings / 8)),
      known: best.proofs,
    });
    if (solved === null) continue;
    const patterns = tidy(
      task,
      solved.patterns.map((pattern) => outward(unbound(pattern, bindings.bound))),
    );
    const now = handinessOf(task, patterns);
    if (compare(solved.proofs, best.proofs) === 0 && !handier(now, handy)) continue;
    best = { copies: answer.copies, patterns, proofs: proofsFor(solved.proofs, best.proofs) };
    handy = now;
    break;
  }
  return best;
}
