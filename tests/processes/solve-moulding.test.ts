/** What is asked of solver processes for one moulding, with a pool that only listens. */
import { describe, expect, it } from 'vitest';
import { checkBatch } from '../../src/documents/batch/read.js';
import { solveMoulding } from '../../src/processes/solve-moulding.js';
import type { SolverPool, TaskOrder, TaskOutcome } from '../../src/processes/solver/pool.js';
import type { SealedPart, SolveTask, Task } from '../../src/processes/solver/tasks.js';
import { orderOf } from '../night/orders.js';

const part: SealedPart = {
  moulding: 'ash',
  sealed: new Uint8Array(),
  proof: { status: 'unproven', measure: 'cost', value: 1, bound: 0 },
  frames: 1,
  ordered: 1,
};

/** Never in time but for the plan of last resort; the orders it was given. */
async function ordersFor(budget: number, grace?: number): Promise<readonly TaskOrder<SolveTask>[]> {
  const given: TaskOrder<SolveTask>[] = [];
  const pool: Pick<SolverPool, 'run'> = {
    run: async <T extends Task>(order: (holds: boolean) => TaskOrder<T> | Promise<TaskOrder<T>>) => {
      const one = (await order(false)) as unknown as TaskOrder<SolveTask>;
      given.push(one);
      const outcome = one.task.effort === 'quick' ? { kind: 'done', answer: part } : { kind: 'late' };
      return outcome as TaskOutcome<T>;
    },
  };
  const { part: found, cut } = await solveMoulding(pool, {
    key: 'k',
    source: () => ({ kind: 'batch', batch: checkBatch(orderOf('a')) }),
    moulding: 'ash',
    budget: () => budget,
    start: null,
    ...(grace !== undefined && { grace }),
  });
  expect(found).toEqual(part);
  expect(cut).toBe(true);
  return given;
}

describe('a moulding whose process does not answer in time', () => {
  it('gets a plan of last resort that is not searched for long, as the time is over', async () => {
    for (const budget of [100, 1_000, 60_000]) {
      const [full, quick, ...others] = await ordersFor(budget);
      expect(others).toEqual([]);
      expect(full!.task).toMatchObject({ effort: 'full', budget });
      expect(quick!.task.effort).toBe('quick');
      expect(quick!.task.budget).toBeLessThanOrEqual(Math.max(250, budget / 10));
      // But it may take what laying out a large one takes.
      expect(quick!.limit).toBeGreaterThanOrEqual(30_000);
    }
  });

  it('is given up sooner where less grace is asked for', async () => {
    expect((await ordersFor(500, 300))[0]!.limit).toBe(800);
    expect((await ordersFor(500))[0]!.limit).toBe(1_500);
  });
});
