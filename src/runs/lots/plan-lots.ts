/** The runs of a plan as packed lots, and a plan's pieces as one lot that is yet to be divided. */
import type { StickHandling } from '../../layout/stick-handling.js';
import type { Pattern } from '../../solve/problem.js';
import type { MouldingTask } from '../../stock/task.js';
import type { Turns } from '../sawing.js';
import { type LotTask, type PackedLot, type PieceSort, stopsFor } from './lot.js';

/** What rails may take of each lane: all, but that an offcut to keep stays at least as long as it is. */
function segmentsOf(
  task: MouldingTask,
  handling: StickHandling,
  { stock, segments }: Pattern,
): readonly number[] {
  return task.piles[stock]!.segments.map((length, lane) => {
    const own = segments[lane] ?? [];
    return handling.keeps(stock, lane, own) ? length - handling.room(stock, lane, own) : length;
  });
}

/** The sticks of a plan as pieces of sorts: a lot's patterns number sorts where the plan's number stocks. */
export class PlanLots {
  readonly task: LotTask;
  /** All sticks, one a pattern. */
  readonly sticks: readonly Pattern[];

  /** `patterns`: one a stick. */
  constructor(
    task: MouldingTask,
    turns: Turns,
    handling: StickHandling,
    patterns: readonly Pattern[],
    bench: number,
  ) {
    const sorts: PieceSort[] = [];
    const known = new Map<string, number>();
    this.sticks = patterns.map((pattern) => {
      const segments = segmentsOf(task, handling, pattern);
      const key = `${pattern.stock} ${segments.join(' ')}`;
      const sort = known.get(key) ?? sorts.length;
      known.set(key, sort);
      if (sort === sorts.length) sorts.push({ stock: pattern.stock, segments });
      return { ...pattern, stock: sort };
    });
    this.task = { turns, weights: task.items.map(({ weight }) => weight), sorts, bench };
  }

  lotOf(patterns: readonly Pattern[]): PackedLot {
    const { turns, weights, sorts } = this.task;
    const rails = new Int32Array(weights.length);
    const pieces = new Int32Array(sorts.length);
    for (const { stock, count, segments } of patterns) {
      pieces[stock]! += count;
      for (const entry of segments.flat()) rails[entry.item]! += count * entry.count;
    }
    return { rails, pieces, patterns, stops: stopsFor(turns, rails) };
  }

  outward(patterns: readonly Pattern[]): readonly Pattern[] {
    return patterns.map((pattern) => ({ ...pattern, stock: this.task.sorts[pattern.stock]!.stock }));
  }
}
