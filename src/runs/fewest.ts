/**
 * Runs whose settings come in the order that keeps the fewest sticks begun, so that a run may hold more sticks: each run
 * gets its order, proven where the search ends, and runs that set the same stops become one while the bench still holds
 * them.
 */
import { begunMost, type Span, spanOf } from './begun.js';
import type { StickTurns } from './sawing.js';
import { fewestBegun } from './stacks.js';

/** States looked at for one run's order, and for the question whether two runs can be one. */
const EFFORT = 200_000;
const EFFORT_TOGETHER = 2_000;
/** Questions of that kind. */
const QUESTIONS = 600;

export interface OrderedRun {
  /** Indices of the sticks. */
  readonly sticks: readonly number[];
  /** Turns in the order of work; null: the longest setting first, which keeps as few begun. */
  readonly order: readonly number[] | null;
  readonly most: number;
}

function spansIn(sticks: readonly StickTurns[], order: readonly number[]): readonly Span[] {
  const place = new Map(order.map((turn, at) => [turn, at]));
  return sticks.map(({ turns }) => {
    const at = turns.map((turn) => place.get(turn)!);
    return { first: Math.min(...at), last: Math.max(...at) };
  });
}

function ordered(all: readonly StickTurns[], own: readonly number[], effort: number): OrderedRun {
  const sticks = own.map((stick) => all[stick]!);
  const turns = [...new Set(sticks.flatMap((stick) => stick.turns))].sort((a, b) => a - b);
  const longest = begunMost(sticks.map(spanOf), (turns.at(-1) ?? 0) + 1);
  const laid = sticks.filter((stick) => stick.turns.length > 1);
  const found = new Set(
    fewestBegun(
      laid.map((stick) => stick.turns),
      effort,
    ).order,
  );
  // Turns that only cut sticks whole hold nothing up: they come last.
  const order = [...found, ...turns.filter((turn) => !found.has(turn))];
  const most = begunMost(spansIn(sticks, order), order.length);
  return most < longest ? { sticks: own, order, most } : { sticks: own, order: null, most: longest };
}

interface SharedSettings {
  readonly a: number;
  readonly b: number;
  readonly shared: number;
}

function joints(runs: readonly ReadonlySet<number>[]): readonly SharedSettings[] {
  return runs
    .flatMap((one, a) =>
      runs.slice(a + 1).map((other, k): SharedSettings => {
        let shared = 0;
        for (const stop of one) if (other.has(stop)) shared += 1;
        return { a, b: a + 1 + k, shared };
      }),
    )
    .filter(({ shared }) => shared > 0)
    .sort((x, y) => y.shared - x.shared || x.a - y.a || x.b - y.b);
}

/** `runs`: the sticks of each, by index. */
export function inFewestOrder(
  sticks: readonly StickTurns[],
  runs: readonly (readonly number[])[],
  bench: number,
): readonly OrderedRun[] {
  const now = runs.map((own) => [...own]);
  for (let questions = QUESTIONS; questions > 0; ) {
    const stops = now.map((own) => new Set(own.flatMap((stick) => sticks[stick]!.stops)));
    const found = joints(stops)
      .slice(0, questions)
      .find(({ a, b }) => {
        questions -= 1;
        return ordered(sticks, [...now[a]!, ...now[b]!], EFFORT_TOGETHER).most <= bench;
      });
    if (found === undefined) break;
    now[found.a]!.push(...now[found.b]!);
    now.splice(found.b, 1);
  }
  return now.map((own) => ordered(sticks, own, EFFORT));
}
