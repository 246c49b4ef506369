/** Seeded batches of picture frames, as a shop sends them, and the engine's problem for each moulding of them. */

import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import type { Problem } from '../../src/solve/problem.js';
import { allCopies, problemOf, taskOf } from '../../src/stock/problem.js';
import { ResolvedBatch } from '../../src/stock/resolved.js';
import type { Batch } from '../../src/terms.js';
import { type Random, seeded } from './random.js';

export interface BatchShape {
  readonly frames: number;
  readonly mouldings: number;
  /** Feet. */
  readonly offers: readonly number[];
  /** `usual`: ready-made glass sizes and odd ones; `odd`: any size from 8 to 32 in on a 1/32 in step. */
  readonly sizes: 'usual' | 'odd';
  /** Each size is one of this many different widths or heights; absent: no limit. */
  readonly distinct?: number;
  readonly quantity?: number;
  readonly timeLimit: number;
}

/** Ready-made glass sizes in inches (common practice, no source). */
const USUAL: readonly (readonly [number, number])[] = [
  [5, 7],
  [8, 10],
  [11, 14],
  [12, 16],
  [16, 20],
  [18, 24],
  [20, 24],
  [20, 30],
  [24, 30],
  [24, 36],
];

/** Dollars a foot, falling slightly with length, in whole cents. */
function price(feet: number): number {
  return Math.round(feet * (245 - 2 * feet)) / 100;
}

export function frameBatch(name: string, shape: BatchShape): BatchDocument {
  const random = seeded(name);
  const lengths = shape.distinct === undefined ? null : stepLengths(random, shape.distinct);
  const mouldings = Array.from({ length: shape.mouldings }, (_, m) => ({
    id: `m${m + 1}`,
    face: random.pick([0.75, 1, 1.25, 1.5, 2]),
    rabbet: 0.25,
    endTrim: 0.5,
    keepOver: 18,
  }));
  const ids = mouldings.map((moulding) => moulding.id);
  return {
    schema: 'pairstop/batch@1',
    id: name.replaceAll(/[^\w-]+/g, '-'),
    units: 'in',
    saw: { kerf: '3/32', recut: '1/16', stopStep: '1/32' },
    mouldings,
    frames: Array.from({ length: shape.frames }, (_, f) => {
      const [width, height] = lengths
        ? [random.pick(lengths), random.pick(lengths)]
        : frameSize(random, shape.sizes);
      return {
        id: `F-${f + 1}`,
        moulding: ids[f % ids.length] ?? 'm1',
        width,
        height,
        quantity: shape.quantity ?? (shape.sizes === 'usual' ? random.pick([1, 1, 1, 2, 3, 6]) : 1),
      };
    }),
    offers: mouldings.flatMap(({ id }) =>
      shape.offers.map((feet) => ({
        id: `${id}-${feet}`,
        moulding: id,
        length: `${feet} ft`,
        price: price(feet),
      })),
    ),
    options: { timeLimit: shape.timeLimit, seed: 1 },
  };
}

function frameSize(random: Random, sizes: BatchShape['sizes']): readonly [number, number] {
  if (sizes === 'usual' && random.chance(0.7)) return random.pick(USUAL);
  return [onStep(random), onStep(random)];
}

function onStep(random: Random): number {
  return random.int(8 * 32, 32 * 32) / 32;
}

function stepLengths(random: Random, count: number): number[] {
  const found = new Set<number>();
  while (found.size < count) found.add(onStep(random));
  return [...found];
}

/** One problem a moulding, all frames to be made, with what the planner would hand the engine. */
export function problemsOf(document: BatchDocument): Problem[] {
  return problemsOfBatch(checkBatch(document));
}

export function problemsOfBatch(batch: Batch): Problem[] {
  return [...new ResolvedBatch(batch).orders.values()].flatMap((order) => {
    const task = taskOf(batch, order);
    return task === null ? [] : [problemOf(task, allCopies(batch, task)).problem];
  });
}
