/**
 * Runs whose settings come in the order that keeps the fewest sticks begun, so that a run may hold more sticks: each run
 * gets its order, proven where the search ends, and runs that set the same stops become one while the bench still holds
 * them. Where angles are unlike, the order of the rails along a stick decides whether they fit: sticks that not every
 * order serves keep the longest first.
 */
import { begunMost, type Span, spanOf } from './begun.js';
import { bestOfEveryOrder, type StopsOfRun } from './every-order.js';
import type { StickTurns, Turns } from './sawing.js';
import { fewestBegun } from './stacks.js';

/** States looked at for one run's order, and for the question whether two runs can be one. */
const EFFORT = 200_000;
const EFFORT_TOGETHER = 2_000;
/** Questions of that kind. */
const QUESTIONS = 600;
/** Stops of a run of which every set is looked at where rails do not fit in any order. */
const EVERY_SET = 14;
/** Turns of a stick of which every order is tried. */
const EVERY_ORDER = 5;

export interface OrderedRun {
  /** Indices of the sticks. */
  readonly sticks: readonly number[];
  /** Turns in the order of work; null: the longest setting first, which keeps as few begun. */
  readonly order: readonly number[] | null;
  readonly most: number;
}

/** What is to be put in order. */
export interface OrderTask {
  readonly stopOf: Turns['stopOf'];
  readonly sticks: readonly StickTurns[];
  readonly bench: number;
  /** By stick: its rails do not fit in every order of the stops, so these come longest first. */
  readonly tight: readonly boolean[];
}

function spansIn(sticks: readonly StickTurns[], order: readonly number[]): readonly Span[] {
  const place = new Map(order.map((turn, at) => [turn, at]));
  return sticks.map(({ turns }) => {
    const at = turns.map((turn) => place.get(turn)!);
    return { first: Math.min(...at), last: Math.max(...at) };
  });
}

function* ordersOf(all: readonly number[]): Generator<readonly number[]> {
  if (all.length <= 1) yield all;
  else
    for (const [i, one] of all.entries())
      for (const rest of ordersOf([...all.slice(0, i), ...all.slice(i + 1)])) yield [one, ...rest];
}

/** Whether some order of its stops leaves rails of a stick without room; `fits`: whether these turns do. */
export function isTight(
  { turns, stops }: StickTurns,
  stopOf: Turns['stopOf'],
  fits: (turns: readonly number[]) => boolean,
): boolean {
  if (stops.length > EVERY_ORDER) return true;
  for (const order of ordersOf(stops))
    if (!fits(order.flatMap((stop) => turns.filter((turn) => stopOf[turn] === stop)))) return true;
  return false;
}

/** As `wanted`, but no stop before a longer one that cuts a tight stick too. */
function longerFirst(
  { count, tight }: Required<Pick<StopsOfRun, 'count' | 'tight'>>,
  wanted: readonly number[],
): readonly number[] {
  const before = Array.from({ length: count }, () => new Set<number>());
  for (const own of tight) for (const [i, stop] of own.entries()) if (i > 0) before[stop]!.add(own[i - 1]!);
  const open = new Set(wanted);
  const order: number[] = [];
  while (open.size > 0) {
    const next = [...open].find((stop) => [...before[stop]!].every((one) => !open.has(one)))!;
    open.delete(next);
    order.push(next);
  }
  return order;
}

/** Stops of a run in orders that keep few sticks begun, and in which all rails have room. */
function stopOrders(
  task: OrderTask,
  own: readonly number[],
  stops: readonly number[],
  effort: number,
): readonly (readonly number[])[] {
  const place = new Map(stops.map((stop, at) => [stop, at]));
  const laid = own.filter((stick) => task.sticks[stick]!.stops.length > 1);
  const numbered = (stick: number): readonly number[] =>
    task.sticks[stick]!.stops.map((stop) => place.get(stop)!);
  const numbers = laid.map(numbered);
  const found = new Set(fewestBegun(numbers, effort).order);
  // Stops that only cut sticks whole hold nothing up: they come last.
  const free = [...found, ...[...stops.keys()].filter((stop) => !found.has(stop))];
  const tight = laid.filter((stick) => task.tight[stick]);
  const run = { count: stops.length, sticks: numbers, tight: tight.map(numbered) };
  const orders = [longerFirst(run, free)];
  if (tight.length > 0 && stops.length <= EVERY_SET && effort > EFFORT_TOGETHER)
    orders.push(bestOfEveryOrder(run));
  return orders.map((order) => order.map((stop) => stops[stop]!));
}

function ordered(task: OrderTask, own: readonly number[], effort: number): OrderedRun {
  const sticks = own.map((stick) => task.sticks[stick]!);
  const turns = [...new Set(sticks.flatMap((stick) => stick.turns))].sort((a, b) => a - b);
  const stops = [...new Set(turns.map((turn) => task.stopOf[turn]!))];
  const longest = begunMost(sticks.map(spanOf), (turns.at(-1) ?? 0) + 1);
  let best: OrderedRun = { sticks: own, order: null, most: longest };
  for (const some of stopOrders(task, own, stops, effort)) {
    // All turns of a stop follow each other: it is set once.
    const order = some.flatMap((stop) => turns.filter((turn) => task.stopOf[turn] === stop));
    const most = begunMost(spansIn(sticks, order), order.length);
    if (most < best.most) best = { sticks: own, order, most };
  }
  return best;
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
export function inFewestOrder(task: OrderTask, runs: readonly (readonly number[])[]): readonly OrderedRun[] {
  const now = runs.map((own) => [...own]);
  for (let questions = QUESTIONS; questions > 0; ) {
    const stops = now.map((own) => new Set(own.flatMap((stick) => task.sticks[stick]!.stops)));
    const found = joints(stops)
      .slice(0, questions)
      .find(({ a, b }) => {
        questions -= 1;
        return ordered(task, [...now[a]!, ...now[b]!], EFFORT_TOGETHER).most <= task.bench;
      });
    if (found === undefined) break;
    now[found.a]!.push(...now[found.b]!);
    now.splice(found.b, 1);
  }
  return now.map((own) => ordered(task, own, EFFORT));
}
