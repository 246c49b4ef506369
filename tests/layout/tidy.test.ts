/** Tidying exchanges rails between sticks: nothing else may change, and nothing may get less handy. */
import { describe, expect, it } from 'vitest';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { StickHandling } from '../../src/layout/stick-handling.js';
import { tidy } from '../../src/layout/tidy.js';
import type { Pattern } from '../../src/solve/problem.js';
import { ordersOf } from '../../src/stock/orders.js';
import { allCopies, demandsOf, problemOf, taskOf } from '../../src/stock/problem.js';
import type { MouldingTask } from '../../src/stock/task.js';
import { randomBatch } from '../plan/batches.js';
import { engine, steppedClock } from '../plan/kit.js';

function taskIn(
  document: BatchDocument,
): { readonly task: MouldingTask; readonly demand: readonly number[] }[] {
  const batch = checkBatch(document);
  return [...ordersOf(batch).values()].flatMap((order) => {
    const task = taskOf(batch, order);
    return task === null ? [] : [{ task, demand: demandsOf(task, allCopies(batch, task)) }];
  });
}

/** Pieces used of each pile, and rails made of each item. */
function sums(task: MouldingTask, patterns: readonly Pattern[]) {
  const pieces = task.piles.map(() => 0);
  const rails = task.items.map(() => 0);
  for (const { stock, count, segments } of patterns) {
    pieces[stock]! += count;
    for (const entry of segments.flat()) rails[entry.item]! += count * entry.count;
  }
  return { pieces, rails };
}

function worth(task: MouldingTask, patterns: readonly Pattern[]) {
  const handling = new StickHandling(task);
  let [kept, visits, apart] = [0, 0, 0];
  for (const { stock, count, segments } of patterns) {
    const one = handling.of(stock, segments);
    kept += count * one.kept;
    visits += count * one.visits;
    apart += count * one.apart;
  }
  const layouts = new Set(patterns.map((pattern) => JSON.stringify([pattern.stock, pattern.segments]))).size;
  return { kept, visits, layouts, apart };
}

/** Rails of 10 and 6 in on sticks of 32 in, no kerf. */
function sticksOf32(quantity: number, keepOver: number): MouldingTask {
  const [found] = taskIn({
    schema: 'pairstop/batch@1',
    id: 'tidy',
    units: 'in',
    saw: { kerf: 0 },
    mouldings: [{ id: 'm', face: 1, rabbet: 0, keepOver }],
    frames: [{ id: 'f', moulding: 'm', quantity, measuredBy: 'outside', width: 10, height: 6 }],
    offers: [{ id: 'o', moulding: 'm', length: 32 }],
  });
  return found!.task;
}

function pattern(count: number, tens: number, sixes: number): Pattern {
  const entries = [
    { item: 0, count: tens },
    { item: 1, count: sixes },
  ];
  return { stock: 0, count, segments: [entries.filter((entry) => entry.count > 0)] };
}

describe('tidying', () => {
  it('brings both rails of a pair onto one stick', () => {
    const task = sticksOf32(1, 32);
    const after = tidy(task, [pattern(2, 1, 1)]);
    expect(worth(task, after)).toMatchObject({ apart: 0, visits: 2 });
  });

  it('leaves one long offcut rather than two short ones', () => {
    const task = sticksOf32(2, 8);
    const after = tidy(task, [pattern(1, 1, 2), pattern(1, 3, 0), pattern(1, 0, 2)]);
    // 96 in of stick, 64 in of rails: one stick cannot be empty, so 22 or 20 in may be left of it at most.
    const left = after.map(
      (one) => 32 - one.segments.flat().reduce((sum, { item, count }) => sum + count * [10, 6][item]!, 0),
    );
    expect(Math.max(...left)).toBeGreaterThanOrEqual(20);
  });

  it('changes neither the sticks used nor the rails made, on random batches', async () => {
    let bettered = 0;
    for (let i = 0; i < 25; i++) {
      for (const { task, demand } of taskIn(randomBatch(`tidy ${i}`))) {
        const copies = task.lines.map((line) => randomBatch(`tidy ${i}`).frames[line]!.quantity ?? 1);
        const { problem, outward } = problemOf(task, copies);
        const outcome = (await engine()).solve(problem, { now: steppedClock(50), deadline: 1000, seed: 1 });
        if (outcome.kind === 'none') continue;
        const before = outcome.patterns.map(outward);
        const after = tidy(task, before);
        expect(sums(task, after)).toEqual(sums(task, before));
        expect(sums(task, after).rails).toEqual(demand);
        const [then, now] = [worth(task, before), worth(task, after)];
        const order = ['kept', 'visits', 'layouts', 'apart'] as const;
        const first = order.find((key) => then[key] !== now[key]);
        if (first === undefined) continue;
        bettered += 1;
        expect(first === 'kept' ? now.kept > then.kept : now[first] < then[first]).toBe(true);
        expect(tidy(task, before)).toEqual(after);
      }
    }
    expect(bettered).toBeGreaterThan(5);
  }, 120_000);
});
