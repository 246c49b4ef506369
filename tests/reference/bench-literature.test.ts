/** The literature bench itself: what it reads, what it prints, and that it does not let a contradiction pass. */
import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { instancePaths, problemOf, readInstances } from '../../bench/tools/instances.js';

let folder = '';
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'pairstop-bench-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

function file(name: string, lines: readonly unknown[]): string {
  const path = join(folder, name);
  writeFileSync(path, lines.map((line) => `${JSON.stringify(line)}\n`).join(''));
  return path;
}

// Chvátal, Linear Programming, 1983, p. 195: 453.
const CHVATAL = { capacity: 100, sizes: [45, 36, 31, 14], demands: [97, 610, 395, 211] };
// Gilmore, Gomory, Operations Research 9, 1961, with stock 9 limited to 8 (limit ours): 171.
const LIMITED = {
  stocks: [
    { length: 5, cost: 6, supply: null },
    { length: 6, cost: 7 },
    { length: 9, cost: 10, supply: 8 },
  ],
  sizes: [2, 3, 4],
  demands: [20, 10, 20],
};

function run(...args: string[]): { status: number | null; rows: Record<string, unknown>[]; error: string } {
  const { status, stdout, stderr } = spawnSync(
    process.execPath,
    ['--import', 'tsx', 'bench/literature.ts', ...args],
    { encoding: 'utf8' },
  );
  const rows = stdout
    .split('\n')
    .filter((line) => line !== '')
    .map((line): Record<string, unknown> => JSON.parse(line));
  return { status, rows, error: stderr };
}

describe('reading instances', () => {
  it('adds the demands of repeated sizes, each 1 when none are given', () => {
    const path = file('repeated.jsonl', [{ name: 'r', capacity: 10, sizes: [4, 6, 4, 4] }]);
    const [instance] = readInstances(path).instances;
    expect(instance && problemOf(instance).items).toEqual([
      { weight: 4, demand: 3, kind: 0 },
      { weight: 6, demand: 1, kind: 0 },
    ]);
  });

  it.each([
    ['neither capacity nor stocks', { name: 'x', sizes: [1] }],
    ['both capacity and stocks', { ...LIMITED, name: 'x', capacity: 3 }],
    ['other numbers of sizes and demands', { name: 'x', capacity: 3, sizes: [1], demands: [1, 2] }],
    ['a size that is not whole', { name: 'x', capacity: 3, sizes: [1.5] }],
  ])('refuses %s, naming the line', (_, line) => {
    const path = file('refused.jsonl', [{ ...CHVATAL, name: 'good' }, line]);
    expect(() => readInstances(path)).toThrow(/refused\.jsonl:2: /);
  });

  it('takes the JSON lines of a folder', () => {
    file('a.jsonl', []);
    expect(instancePaths(folder)).toContain(join(folder, 'a.jsonl'));
    expect(instancePaths(join(folder, 'absent'))).toBeNull();
  });
});

describe('the command', () => {
  it('prints a line an instance and a summary, and exits 0', () => {
    const path = file('good.jsonl', [
      { ...CHVATAL, name: 'one', optimum: 453 },
      { ...LIMITED, name: 'two', optimum: 171 },
    ]);
    const { status, rows } = run(path, '--limit', '20');
    expect(rows).toEqual([
      { name: 'one', status: 'optimal', value: 453, bound: 453, optimum: 453, seconds: expect.any(Number) },
      { name: 'two', status: 'optimal', value: 171, bound: 171, optimum: 171, seconds: expect.any(Number) },
      expect.objectContaining({ file: 'good', n: 2, proven: 2, wrong: 0 }),
    ]);
    expect(Object.keys(rows[2] ?? {})).toEqual(['file', 'n', 'proven', 'wrong', 'mean', 'p95', 'max']);
    expect(status).toBe(0);
  });

  it('exits 1 when a value is below a known optimum, or a bound above it', () => {
    const { status, rows } = run(
      file('contradicted.jsonl', [
        { ...CHVATAL, name: 'below', optimum: 454 },
        { ...CHVATAL, name: 'above', optimum: 452 },
        { ...CHVATAL, name: 'true', optimum: 453 },
      ]),
    );
    expect(rows.map((row) => row['status'])).toEqual(['wrong', 'wrong', 'optimal', undefined]);
    expect(rows[0]).toMatchObject({ faults: ['value 453 below the known optimum 454'] });
    expect(rows[1]).toMatchObject({ faults: ['bound 453 above the known optimum 452'] });
    expect(rows[3]).toMatchObject({ n: 3, proven: 1, wrong: 2 });
    expect(status).toBe(1);
  });

  it('runs only what is asked for, and says what is absent', () => {
    const path = file('some.jsonl', [
      { ...CHVATAL, name: 'first' },
      { ...CHVATAL, name: 'second' },
    ]);
    const { status, rows, error } = run(path, join(folder, 'absent.jsonl'), '--only', 'second');
    expect(rows.map((row) => row['name'] ?? row['n'])).toEqual(['second', 1]);
    expect(error).toMatch(/absent\.jsonl is absent/);
    expect(status).toBe(2);
  });
});
