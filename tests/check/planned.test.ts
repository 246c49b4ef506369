/**
 * The checker and the planner, each from the same definition, against each other: plans of seeded batches of every
 * kind hold, and no longer hold once anything in them is changed.
 */
import { beforeAll, describe, expect, it } from 'vitest';
import { seeded } from '../../bench/tools/random.js';
import { checkPlan } from '../../src/check/check.js';
import { findingText } from '../../src/check/report.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import { readPlan } from '../../src/documents/plan/read.js';
import type { Plan } from '../../src/documents/plan/types.js';
import { planBatchHere } from '../../src/plan/here.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { createEngine } from '../../src/solve/engine.js';
import { refuseUncuttable } from '../../src/stock/refusals.js';
import { ResolvedBatch } from '../../src/stock/resolved.js';
import type { Batch } from '../../src/terms.js';
import { contractBatch } from '../tools/spoil-batches.js';
import { changesOf } from '../tools/spoil-leaves.js';

/** Seconds of solving a batch, by a clock that counts its readings: the same plans however busy the machine is. */
const TIME_LIMIT = 2;
const MS_PER_READING = 2;
const BATCHES = 40;
const CHANGES = 40;

interface Planned {
  readonly name: string;
  readonly batch: Batch;
  readonly plan: Plan;
}

const planned: Planned[] = [];

/** Whether every frame of the batch fits some stick. */
function cuttable(batch: Batch): boolean {
  try {
    refuseUncuttable(new ResolvedBatch(batch));
    return true;
  } catch {
    return false;
  }
}

beforeAll(async () => {
  const engine = createEngine({ highs: highsRuntime });
  for (let i = 0; i < BATCHES; i++) {
    const name = `spring-${i}`;
    const document = contractBatch(name);
    const batch = checkBatch({ ...document, options: { ...document.options, timeLimit: TIME_LIMIT } });
    if (!cuttable(batch)) continue;
    let now = 0;
    const clock = () => {
      now += MS_PER_READING;
      return now;
    };
    planned.push({ name, batch, plan: planBatchHere(batch, engine, { now: clock }) });
  }
}, 300_000);

describe('plans of batches of every kind', () => {
  it('hold', () => {
    const wrong = planned.flatMap(({ name, batch, plan }) =>
      checkPlan(batch, plan).findings.map((finding) => `${name}: ${findingText(finding)}`),
    );
    expect(wrong).toEqual([]);
    expect(planned.length).toBeGreaterThan(BATCHES / 2);
  });

  it('hold after a journey as text', () => {
    for (const { batch, plan } of planned) {
      expect(checkPlan(batch, readPlan(JSON.stringify(plan))).total).toBe(0);
    }
  });

  it('are of every kind', () => {
    const has = (what: (one: Planned) => boolean) => planned.filter(what).length;
    const rails = (one: Planned) =>
      one.plan.mouldings.flatMap((part) => part.sticks.flatMap((stick) => stick.rails));
    expect(has((one) => one.plan.status === 'short')).toBeGreaterThan(2);
    expect(has((one) => one.plan.buy.length > 0)).toBeGreaterThan(10);
    expect(has((one) => rails(one).some((rail) => rail.flipped))).toBeGreaterThan(5);
    expect(has((one) => rails(one).some((rail) => rail.angle !== 45))).toBeGreaterThan(10);
    for (const match of ['stop', 'pair', 'frame']) {
      expect(has((one) => one.batch.frames.some((line) => line.match === match))).toBeGreaterThan(10);
    }
    const sticks = (one: Planned) => one.plan.mouldings.flatMap((part) => part.sticks);
    const flawed = (one: Planned) =>
      one.batch.sticks.some(
        (entry) => entry.flaws.length > 0 && sticks(one).some((stick) => stick.ref === entry.id),
      );
    expect(has(flawed)).toBeGreaterThan(5);
  });

  it('do not hold once anything in them is changed', () => {
    const unnoticed: string[] = [];
    let changes = 0;
    for (const { name, batch, plan } of planned) {
      const freedom = {
        reversible: batch.mouldings.some((moulding) => moulding.reversible),
        flawed: batch.sticks.some((entry) => entry.flaws.length > 0),
      };
      const all = seeded(`${name} changed`).shuffled(changesOf(plan, freedom));
      for (const make of all.slice(0, CHANGES)) {
        const change = make();
        changes += 1;
        if (checkPlan(batch, change.plan).ok)
          unnoticed.push(`${name} ${change.path.join('.')}: ${change.what}`);
      }
    }
    expect(unnoticed).toEqual([]);
    expect(changes).toBeGreaterThan((BATCHES / 2) * CHANGES * 0.8);
  });
});
