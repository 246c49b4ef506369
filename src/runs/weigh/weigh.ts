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

/** Steps of the first cooling for each stick; each round twice as many, up to so many times, and so many rounds. */
const STEPS_A_STICK = 500;
const MOST_TIMES = 64;
const ROUNDS = 12;
/** Sums of prices are off by less. */
const HAIR = 1e-6;

/** In the units of the task's charge. */
export interface HandlingPrices {
  readonly visit: number;
  readonly stop: number;
}

export interface WeighSearch {
  readonly seed: number;
  readonly over: () => boolean;
  /** Wood, first mitres and visits come to no less in any plan. */
  readonly least: number;
}

/** Whether it serves: whole sticks of one angle, plain prices, the longest setting first. */
export function weighs(task: MouldingTask, order: 'longest' | 'fewest'): boolean {
  return (
    order === 'longest' &&
    task.charge !== null &&
    task.spacing.mitres.length === 1 &&
    task.piles.every(({ segments, offer }) => {
      const plain = offer === null || (offer.pack === 1 && offer.breaks.length === 0);
      return plain && segments.length === 1;
    })
  );
}

/** `starts`: plans in runs that the bench holds. Null where none of them is sound. */
export function weigh(
  task: MouldingTask,
  copies: Copies,
  starts: readonly (readonly RunPatterns[])[],
  bench: number,
  { visit, stop }: HandlingPrices,
  { seed, over, least }: WeighSearch,
): Division | null {
  const { scale, setups } = task.charge!;
  const turns = turnsOf(task, copiesByLine(task, copies));
  const weighed: WeighTask = {
    turns: { ...turns, weight: turns.weight.map((times) => times * stop) },
    bench,
    weight: task.items.map(({ weight }) => weight),
    visit,
    cost: task.piles.map(({ costs }) => costs[0]! * scale + setups.piece),
    capacity: task.piles.map(({ segments }) => segments[0]!),
    supply: task.piles.map(({ supply }) => supply ?? Number.POSITIVE_INFINITY),
  };
  const random = randomOf(seed);
  const begin = (runs: readonly RunPatterns[]): Weighing => {
    const sticks: WeighedStick[] = [];
    const run: number[] = [];
    runs.forEach(({ patterns }, own) => {
      for (const pattern of patterns) {
        const { items, counts } = stickOf(turns, pattern);
        for (let k = 0; k < pattern.count; k++) {
          sticks.push({ items, counts, stock: pattern.stock });
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
  for (let round = 0, times = 1; round < ROUNDS; round++) {
    const { value, sticks, run } = best;
    const done = (): boolean => over() || value <= lowest + HAIR;
    if (done()) break;
    const weighing: Weighing = new Weighing(weighed, sticks, run, random);
    weighing.cool(STEPS_A_STICK * sticks.length * times, HOT, done);
    times = Math.min(MOST_TIMES, 2 * times);
    best = weighing.best ?? best;
  }
  const { sticks, run } = best;
  const runs = new Map<number, Pattern[]>();
  sticks.forEach(({ items, counts, stock }, stick) => {
    const own = runs.get(run[stick]!) ?? [];
    runs.set(run[stick]!, own);
    own.push({ stock, count: 1, segments: [items.map((item, i) => ({ item, count: counts[i]! }))] });
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
