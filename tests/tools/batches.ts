/** Small batches that are planned and proven in milliseconds, whose mouldings may ask the planted solver for trouble. */
import type { BatchDocument } from '../../src/documents/batch/schema.js';

export interface BatchOptions {
  readonly timeLimit?: number;
  readonly urgency?: 'now' | 'tonight';
  readonly notBefore?: string;
  /** Frames of each moulding. */
  readonly frames?: number;
  readonly seed?: number;
}

export function batchOf(id: string, mouldings: readonly string[], options: BatchOptions = {}): BatchDocument {
  const { frames = 2, timeLimit = 20, ...rest } = options;
  return {
    schema: 'pairstop/batch@1',
    id,
    units: 'mm',
    mouldings: mouldings.map((moulding) => ({ id: moulding, face: 30, rabbet: 6 })),
    frames: mouldings.flatMap((moulding, m) =>
      Array.from({ length: frames }, (_, i) => ({
        id: `${moulding}/${i}`,
        moulding,
        width: 300 + 10 * i + m,
        height: 400 + 20 * i,
      })),
    ),
    offers: mouldings.flatMap((moulding) => [
      { id: `${moulding}-24`, moulding, length: 2400, price: 20 },
      { id: `${moulding}-30`, moulding, length: 3000, price: 24 },
    ]),
    options: { timeLimit, ...rest },
  };
}
