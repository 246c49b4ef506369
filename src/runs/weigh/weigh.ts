/**
 * A plan where time has a price, searched for with its runs: the engine weighs wood and visits, and knows no bench. From
 * divided plans rails and sticks change places until wood, visits and stops together cost less.
 */
import { copiesByLine } from '../../layout/names.js';
import type { RunPatterns } from '../../layout/sticks.js';
import type { Pattern } from '../../solve/problem.js';
import { randomOf } from '../../solve/random.js';
import type { Copies, MouldingTask } from '../../stock/task.js';
import { stopsBound } from '../bound.js';
import type { Division } from '../divide.js';
import { stickOf, turnsOf } from '../sawing.js';
import { HOT, type Weighed, type WeighedStick, Weighing, type WeighTask } from './weighing.js';

/** Steps of the first cooling for each stick; each round twice as many, up to so many times. */
const STEPS_A_STICK = 500;
const MOST_TIMES = 16;
/** Steps for each stick, or as many as before, that bring hardly anything, a share of what all costs, end the search. */
const PATIENCE_A_STICK = 10_000;
const HARDLY = 1e-4;
/** Sums of prices are off by less. */
const HAIR = 1e-6;

/** In the units of the task's charge. */
export interface HandlingPrices {
  readonly visit: number;
  readonly stop: number;
}

export interface WeighSearch {
  readonly seed: number;
  /** Share of the time that has passed; from 1 on it is up. */
  readonly elapsed: () => number;
  /** Wood, first mitres and visits come to no less in any plan. */
  readonly least: number;
}

/** Whether it serves: rails of one angle, plain prices, the longest setting first. */
export function weighs(task: MouldingTask, order: 'longest' | 'fewest'): boolean {
  return (
    order === 'longest' &&
    task.charge !== null &&
    task.spacing.mitres.length === 1 &&
    task.piles.every(({ offer }) => offer === null || (offer.pack === 1 && offer.breaks.length === 0))
  );
}

/** `starts`: plans in runs that the bench holds. Null where none of them is sound. */
export function weigh(
  task: MouldingTask,
  copies: Copies,
  starts: readonly (readonly RunPatterns[])[],
  bench: number,
  { visit, stop }: HandlingPrices,
  { seed, elapsed, least }: WeighSearch,
): Division | null {
  const { scale, setups } = task.charge!;
  const turns = turnsOf(task, copiesByLine(task, copies));
  const weighed: WeighTask = {
    turns: { ...turns, weight: turns.weight.map((times) => times * stop) },
    bench,
    weight: task.items.map(({ weight }) => weight),
    visit,
    cost: task.piles.map(({ costs }) => costs[0]! * scale + setups.piece),
    capacity: task.piles.map(({ segments }) => (segments.length === 1 ? segments[0]! : 0)),
    supply: task.piles.map(({ supply }) => supply ?? Number.POSITIVE_INFINITY),
  };
  const random = randomOf(seed);
  const begin = (runs: readonly RunPatterns[]): Weighing => {
    const sticks: WeighedStick[] = [];
    const run: number[] = [];
    runs.forEach(({ patterns }, own) => {
      for (const pattern of patterns) {
        const { items, counts } = stickOf(turns, pattern);
        const lanes = pattern.segments.length === 1 ? null : pattern.segments;
        for (let k = 0; k < pattern.count; k++) {
          sticks.push({ items, counts, stock: pattern.stock, lanes });
          run.push(own);
        }
      }
    });
    return new Weighing(weighed, sticks, run, random);
  };
  let best: Weighed | null = null;
  for (const runs of starts) {
    const { best: sound } = begin(runs);
    if (sound !== null && (best === null || sound.value < best.value)) best = sound;
  }
  if (best === null) return null;
  // Every setting that is cut is set once at least.
  const set = new Set(
    best.sticks.flatMap(({ items }) => items.map((item) => turns.stopOf[turns.turnOf[item]!]!)),
  );
  const lowest = least + [...set].reduce((sum, at) => sum + weighed.turns.weight[at]!, 0);
  // In steps: all so far, and when something better was met.
  let [times, steps, met] = [1, 0, 0];
  while (elapsed() < 1 && best.value > lowest + HAIR) {
    const { value, sticks, run } = best;
    if (steps > 2 * met + PATIENCE_A_STICK * sticks.length) break;
    const begun = elapsed();
    const weighing: Weighing = new Weighing(weighed, sticks, run, random);
    const passed = (): number =>
      weighing.best !== null && weighing.best.value <= lowest + HAIR ? 1 : (elapsed() - begun) / (1 - begun);
    const most = STEPS_A_STICK * sticks.length * times;
    weighing.cool(most, HOT, passed);
    steps += most;
    times = Math.min(MOST_TIMES, 2 * times);
    best = weighing.best ?? best;
    if (best.value < value * (1 - HARDLY)) met = steps;
  }
  const { sticks, run } = best;
  const runs = new Map<number, Pattern[]>();
  sticks.forEach(({ items, counts, stock, lanes }, stick) => {
    const own = runs.get(run[stick]!) ?? [];
    runs.set(run[stick]!, own);
    const segments = lanes ?? [items.map((item, i) => ({ item, count: counts[i]! }))];
    own.push({ stock, count: 1, segments });
  });
  const divided = [...runs.values()].map((patterns) => ({ patterns, order: null }));
  return {
    runs: divided,
    bound: stopsBound(
      task,
      turns,
      divided.flatMap(({ patterns }) => patterns),
      bench,
    ),
  };
}
