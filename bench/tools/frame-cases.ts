/** The frame batches that are measured. */
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { type BatchShape, frameBatch } from './batches.js';

export const PARTS = ['small', 'large', 'many', 'growth'] as const;
export type Part = (typeof PARTS)[number];

export interface Case {
  readonly part: Part;
  /** Which table it belongs to, and its row. */
  readonly series: string;
  readonly at: number;
  readonly document: BatchDocument;
  /** `here`: in this process, one core; `forked`: solver processes, as many as the planner takes. */
  readonly where: 'here' | 'forked';
}

const THREE_OFFERS = [8, 10, 12];

const ONE: BatchShape = {
  frames: 24,
  mouldings: 1,
  offers: THREE_OFFERS,
  sizes: 'usual',
  timeLimit: 30,
};

function cases(
  part: Part,
  series: string,
  points: readonly number[],
  shape: (at: number) => Partial<BatchShape>,
  where: Case['where'] = 'here',
): Case[] {
  return points.map((at) => ({
    part,
    series,
    at,
    where,
    // One name for the whole series: copies and offers change, the frames stay.
    document: frameBatch(series, { ...ONE, ...shape(at) }),
  }));
}

export function casesOf(part: Part): Case[] {
  switch (part) {
    case 'small':
      return cases(part, 'frames of one moulding', [12, 18, 24, 30, 36, 42, 48, 54, 60], (frames) => ({
        frames,
      }));
    case 'large':
      return cases(part, 'different frames of one moulding', [1000], (frames) => ({
        frames,
        sizes: 'odd',
        timeLimit: 10,
      }));
    case 'many':
      return cases(
        part,
        'frames over 100 mouldings',
        [10_000],
        (frames) => ({ frames, mouldings: 100, timeLimit: 60 }),
        'forked',
      );
    case 'growth':
      return [
        ...cases(part, 'distinct lengths', [25, 50, 100, 200, 400, 768], (distinct) => ({
          frames: distinct * 2,
          distinct,
          timeLimit: 20,
        })),
        ...cases(part, 'copies of each frame', [1, 10, 100, 1000, 10_000], (quantity) => ({
          quantity,
          frames: 20,
          sizes: 'odd',
          timeLimit: 20,
        })),
        ...cases(part, 'stock lengths', [1, 2, 3, 5, 8], (count) => ({
          frames: 60,
          sizes: 'odd',
          offers: [12, 10, 8, 16, 14, 9, 6, 11].slice(0, count),
          timeLimit: 20,
        })),
      ];
    default:
      return part satisfies never;
  }
}
