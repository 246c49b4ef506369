/** One conformance suite for every LP library behind the engine's interface. */
import { beforeAll, describe, expect, it } from 'vitest';
import { seeded } from '../../bench/tools/random.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { highsLp } from '../../src/solve/lp/highs-lp.js';
import { jsLp } from '../../src/solve/lp/js-lp.js';
import type { Lp, LpFactory, LpOptimal } from '../../src/solve/lp/lp.js';
import { simplexLp } from '../../src/solve/lp/simplex-lp.js';

const factories: Record<string, LpFactory> = {};
beforeAll(async () => {
  factories['highs'] = highsLp(highsRuntime);
  factories['javascript-lp-solver'] = jsLp;
  factories['simplex'] = simplexLp;
});

const SECONDS = 10;

interface Column {
  readonly cost: number;
  readonly values: readonly number[];
}

function add(lp: Lp, { cost, values }: Column): void {
  const rows = [...values.keys()].filter((i) => values[i] !== 0);
  lp.addColumn(
    cost,
    Int32Array.from(rows),
    Float64Array.from(rows, (i) => values[i] ?? 0),
  );
}

function optimal(lp: Lp): LpOptimal {
  const result = lp.solve(SECONDS);
  if (result.status !== 'optimal') throw new Error(result.reason);
  return result;
}

interface Limit {
  readonly lower: number;
  readonly upper: number;
}

const atLeast = (lower: number): Limit => ({ lower, upper: Infinity });
const atMost = (upper: number): Limit => ({ lower: -Infinity, upper });

/** Primal and dual feasible with equal objectives prove each other optimal; what is missing of that, in words. */
function unproven(rows: readonly Limit[], columns: readonly Column[], result: LpOptimal): string[] {
  const near = 1e-6;
  const faults: string[] = [];
  const holds = (so: boolean, what: string): void => {
    if (!so) faults.push(what);
  };
  holds(result.x.length === columns.length, `${result.x.length} values for ${columns.length} columns`);
  holds(result.duals.length === rows.length, `${result.duals.length} duals for ${rows.length} rows`);
  let primal = 0;
  for (const [j, column] of columns.entries()) {
    const x = result.x[j] ?? Number.NaN;
    holds(x >= -near, `x${j} = ${x}`);
    primal += x * column.cost;
    const priced = column.values.reduce((sum, a, i) => sum + a * (result.duals[i] ?? Number.NaN), 0);
    holds(column.cost - priced >= -near, `column ${j} is worth ${priced} and costs ${column.cost}`);
  }
  let dual = 0;
  for (const [i, row] of rows.entries()) {
    const y = result.duals[i] ?? Number.NaN;
    const activity = columns.reduce((sum, c, j) => sum + (c.values[i] ?? 0) * (result.x[j] ?? 0), 0);
    holds(activity >= row.lower - near && activity <= row.upper + near, `row ${i} is ${activity}`);
    const lower = row.lower > -Infinity;
    holds((lower ? y : -y) >= -near, `dual ${i} = ${y}`);
    dual += y * (lower ? row.lower : row.upper);
  }
  const scale = Math.max(1, Math.abs(primal));
  holds(Math.abs(primal - dual) <= near * scale, `primal ${primal}, dual ${dual}`);
  holds(Math.abs(primal - result.objective) <= near * scale, `says ${result.objective} for ${primal}`);
  return faults;
}

/** A covering master as the engine builds it: patterns over demands, one supply row, artificial columns. */
function master(name: string, size: number): { rows: Limit[]; columns: Column[] } {
  const random = seeded(name);
  const rows = Array.from({ length: size }, () => atLeast(random.int(1, 20)));
  rows.push(atMost(random.int(20, 60)));
  const unit = (i: number, supply: number): number[] => [
    ...Array.from({ length: size }, (_, k) => (k === i ? 1 : 0)),
    supply,
  ];
  const columns: Column[] = Array.from({ length: size }, (_, i) => ({ cost: 50, values: unit(i, 0) }));
  for (let p = 0; p < 3 * size; p++) {
    const values = Array.from({ length: size }, () => (random.chance(3 / size) ? random.int(1, 3) : 0));
    columns.push({ cost: random.int(5, 12), values: [...values, random.chance(0.3) ? 1 : 0] });
  }
  return { rows, columns };
}

describe.each(['highs', 'javascript-lp-solver', 'simplex'])('%s', (name) => {
  const create = (rows: readonly Limit[]): Lp => {
    const factory = factories[name];
    if (factory === undefined) throw new Error(`no factory ${name}`);
    return factory.create(rows);
  };

  it('solves Chvátal 1983, p. 195, over its maximal patterns: 452 1/4', () => {
    const rows = [97, 610, 395, 211].map(atLeast);
    const lp = create(rows);
    const patterns = [
      [2, 0, 0, 0],
      [1, 1, 0, 1],
      [1, 0, 1, 1],
      [1, 0, 0, 3],
      [0, 2, 0, 2],
      [0, 1, 2, 0],
      [0, 1, 1, 2],
      [0, 1, 0, 4],
      [0, 0, 3, 0],
      [0, 0, 2, 2],
      [0, 0, 1, 4],
      [0, 0, 0, 7],
    ];
    const columns = patterns.map((values) => ({ cost: 1, values }));
    for (const column of columns) add(lp, column);
    const result = optimal(lp);
    expect(result.objective).toBeCloseTo(452.25, 6);
    expect(unproven(rows, columns, result)).toEqual([]);
    lp.dispose();
  });

  it('proves its optimum by its own duals, grown column by column', () => {
    for (let i = 0; i < 15; i++) {
      const { rows, columns } = master(`lp ${i}`, 4 + i);
      const lp = create(rows);
      const known: Column[] = [];
      const faults: string[] = [];
      for (const column of columns) {
        add(lp, column);
        known.push(column);
        const feasible = known.length >= rows.length - 1;
        if (!feasible || known.length % 5 !== 0) continue;
        faults.push(...unproven(rows, known, optimal(lp)));
      }
      expect(faults).toEqual([]);
      expect(unproven(rows, columns, optimal(lp))).toEqual([]);
      lp.dispose();
    }
  });

  it('follows changed rows and columns taken out of use and back', () => {
    const { rows, columns } = master('changes', 8);
    const lp = create(rows);
    for (const column of columns) add(lp, column);
    const before = optimal(lp);
    const used = before.x.findIndex((x, j) => x > 0.5 && j >= 8);
    expect(used).toBeGreaterThanOrEqual(0);
    lp.setUpper(used, 0);
    const without = optimal(lp);
    expect(without.x[used]).toBeCloseTo(0, 9);
    const rest = columns.map((c, j) => (j === used ? { ...c, cost: 1e6 } : c));
    expect(unproven(rows, rest, without)).toEqual([]);
    lp.setUpper(used, Infinity);
    expect(optimal(lp).objective).toBeCloseTo(before.objective, 6);
    const changed = rows.map((row, i) => (i === 0 ? atLeast(row.lower + 7) : row));
    lp.setRow(0, rows[0] ? rows[0].lower + 7 : 0, Infinity);
    expect(unproven(changed, columns, optimal(lp))).toEqual([]);
    lp.dispose();
  });

  it('forgets no column where there are ten times as many as rows, rows change and columns go and come back', () => {
    for (let i = 0; i < 8; i++) {
      const random = seeded(`many ${i}`);
      const { rows, columns } = master(`many ${i}`, 8);
      const lp = create(rows);
      const known: Column[] = [];
      const closed = new Set<number>();
      const limits = [...rows];
      const grow = (column: Column): void => {
        add(lp, column);
        known.push(column);
      };
      for (const column of columns) grow(column);
      const faults: string[] = [];
      for (let round = 0; round < 20; round++) {
        for (let k = 0; k < 6; k++) {
          const values = rows.map((_, r) => (r < 8 && random.chance(0.4) ? random.int(1, 3) : 0));
          grow({ cost: random.int(4, 9), values });
        }
        const row = random.int(0, 7);
        limits[row] = atLeast(random.int(0, 20));
        lp.setRow(row, limits[row].lower, Infinity);
        const column = random.int(8, known.length - 1);
        if (closed.delete(column)) lp.setUpper(column, Infinity);
        else {
          closed.add(column);
          lp.setUpper(column, 0);
        }
        const result = optimal(lp);
        faults.push(...[...closed].filter((j) => result.x[j] !== 0).map((j) => `x${j} is out of use`));
        const priced = known.map((c, j) => (closed.has(j) ? { ...c, cost: 1e6 } : c));
        faults.push(...unproven(limits, priced, result));
      }
      expect(faults).toEqual([]);
      lp.dispose();
    }
  });

  it('says failed, not optimal, where nothing is feasible', () => {
    const lp = create([atLeast(5), atMost(1)]);
    add(lp, { cost: 1, values: [1, 1] });
    expect(lp.solve(SECONDS).status).toBe('failed');
    lp.dispose();
  });

  it('survives degenerate masters: many equal rows and columns', () => {
    const size = 30;
    const rows = Array.from({ length: size }, () => atLeast(1));
    const columns: Column[] = [];
    for (let i = 0; i < size; i++)
      for (let k = 0; k < 4; k++)
        columns.push({
          cost: 1,
          values: Array.from({ length: size }, (_, r) => ((r - i + size) % size <= k ? 1 : 0)),
        });
    const lp = create(rows);
    for (const column of columns) add(lp, column);
    const result = lp.solve(SECONDS);
    // Failing is allowed here, a wrong optimum is not: 30 rows by fours.
    const objective = result.status === 'optimal' ? result.objective : 7.5;
    expect(objective).toBeCloseTo(7.5, 6);
    lp.dispose();
  });
});
