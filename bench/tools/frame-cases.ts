/** The frame batches that are measured. */
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { type BatchShape, frameBatch } from './batches.js';

export const PARTS = ['small', 'matched', 'large', 'mixed', 'unlike', 'many', 'growth'] as const;
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

/** Orders of one kind, each with frames of its own. */
function numbered(part: Part, series: string, count: number, document: (i: number) => BatchDocument): Case[] {
  return Array.from({ length: count }, (_, i) => ({
    part,
    series,
    at: i,
    where: 'here' as const,
    document: document(i),
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
    case 'matched':
      return numbered(part, 'matched orders of 40 lines', 12, (i) => {
        const document = frameBatch(`matched ${i}`, { ...ONE, frames: 40, timeLimit: 6 });
        const match = i % 2 === 0 ? 'frame' : 'pair';
        return { ...document, frames: document.frames.map((line) => ({ ...line, match })) };
      });
    case 'mixed':
      return numbered(part, '1,000 frames of standard and odd sizes', 4, (i) =>
        frameBatch(`mixed ${i}`, { ...ONE, frames: 1000, timeLimit: 30 }),
      );
    case 'unlike':
      return cases(part, 'unlike frames of one moulding', [20_000], (frames) => ({
        frames,
        sizes: 'odd',
        timeLimit: 45,
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
