/** Tidying exchanges rails between sticks: nothing else may change, and nothing may get less handy. */
import { describe, expect, it } from 'vitest';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { tidy } from '../../src/layout/tidy.js';
import type { Pattern } from '../../src/solve/problem.js';
import { allCopies, demandsOf, problemOf, taskOf } from '../../src/stock/problem.js';
import { ResolvedBatch } from '../../src/stock/resolved.js';
import { standings } from '../../src/stock/spacing.js';
import type { MouldingTask } from '../../src/stock/task.js';
import { randomBatch } from '../plan/batches.js';
import { engine, steppedClock } from '../plan/kit.js';

function taskIn(
  document: BatchDocument,
): { readonly task: MouldingTask; readonly demand: readonly number[] }[] {
  const batch = checkBatch(document);
  return [...new ResolvedBatch(batch).orders.values()].flatMap((order) => {
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

/** Centimetres: offcuts are compared by whole ones. */
const GRAIN = 10_000;

/**
 * The measures of tidying as one would take them at the bench: rails are put down one after the other and what is left
 * is measured; a stick is visited for each stop that cuts any of its rails; a rail is apart when those it is cut with
 * are not all on its stick. Nothing here is the code that tidies.
 */
function worth(task: MouldingTask, patterns: readonly Pattern[]) {
  let [kept, visits, apart] = [0, 0, 0];
  for (const { stock, count, segments } of patterns) {
    const pile = task.piles[stock]!;
    const stops = new Set<string>();
    const rails = new Map<number, number>();
    segments.forEach((entries, segment) => {
      const { from, to } = pile.sources[0]!.lanes[pile.lanes[segment]!]!;
      const row = entries
        .toSorted((a, b) => a.item - b.item)
        .flatMap((entry) => new Array<number>(entry.count).fill(entry.item));
      const cut = row.flatMap((item) => {
        const { kind, settings } = task.items[item]!;
        return settings.map((length) => ({ kind, length }));
      });
      const places = standings(task.spacing, from, cut);
      const [last, place] = [cut.at(-1), places.at(-1)];
      const end =
        last === undefined ? from : place!.start + last.length + task.spacing.mitres[last.kind]!.blade;
      if (to - end > 0 && to - end >= task.moulding.keepOver)
        kept += count * Math.floor((to - end) / GRAIN) ** 2;
      for (const item of row) {
        const { setting, second } = task.items[item]!;
        stops.add(`${setting} ${second}`);
        rails.set(item, (rails.get(item) ?? 0) + 1);
      }
    });
    visits += count * stops.size;
    for (const [item, number] of rails) {
      const units = task.units.filter((unit) => unit.item === item);
      if (units.every((unit) => !unit.whole)) {
        apart += count * (number % Math.min(...units.map((unit) => unit.sides.length)));
      }
    }
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
        const outcome = engine().solve(problem, { now: steppedClock(50), deadline: 1000, seed: 1 });
        if (outcome.kind === 'none') continue;
        const before = outcome.patterns.map(outward);
        const after = tidy(task, before);
        expect(sums(task, after)).toEqual(sums(task, before));
        expect(sums(task, after).rails).toEqual(demand);
        // Stopped at once, it is the plan it was.
        const stopped = tidy(task, before, undefined, () => true);
        expect(sums(task, stopped)).toEqual(sums(task, before));
        expect(worth(task, stopped).kept).toBeGreaterThanOrEqual(worth(task, before).kept);
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
