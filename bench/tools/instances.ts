/**
 * Cutting-stock instances as JSON lines: `name`, `capacity` (or `stocks`: length, cost, supply), `sizes`, `demands`
 * (each 1 when absent), `optimum` when it is known. Repeated sizes are one item with their demands added.
 */
import { existsSync, readdirSync, readFileSync, statSync } from 'node:fs';
import { basename, join } from 'node:path';
import { z } from 'zod';
import type { Problem } from '../../src/solve/problem.js';
import { withStocks } from './problems.js';

const whole = z.int().min(0);
const positive = z.int().min(1);
const line = z.object({
  name: z.string(),
  capacity: positive.optional(),
  stocks: z
    .array(z.object({ length: positive, cost: whole, supply: whole.nullable().optional() }))
    .optional(),
  sizes: z.array(positive),
  demands: z.array(positive).optional(),
  optimum: whole.nullable().optional(),
});

export type Instance = z.infer<typeof line>;

export interface InstanceFile {
  readonly name: string;
  readonly instances: readonly Instance[];
}

/** Throws with file and line when a line is not an instance. */
export function readInstances(path: string): InstanceFile {
  const instances: Instance[] = [];
  for (const [i, text] of readFileSync(path, 'utf8').split('\n').entries()) {
    if (text.trim() === '') continue;
    const parsed = line.safeParse(JSON.parse(text));
    if (!parsed.success) throw new Error(`${path}:${i + 1}: ${z.prettifyError(parsed.error)}`);
    const { name, capacity, stocks, sizes, demands } = parsed.data;
    if ((capacity === undefined) === (stocks === undefined))
      throw new Error(`${path}:${i + 1}: ${name} needs either capacity or stocks`);
    if (demands !== undefined && demands.length !== sizes.length)
      throw new Error(`${path}:${i + 1}: ${name} has ${sizes.length} sizes and ${demands.length} demands`);
    instances.push(parsed.data);
  }
  return { name: basename(path, '.jsonl'), instances };
}

/** The files named, and every `*.jsonl` of the folders named; null where a path does not exist. */
export function instancePaths(path: string): string[] | null {
  if (!existsSync(path)) return null;
  if (!statSync(path).isDirectory()) return [path];
  return readdirSync(path)
    .filter((name) => name.endsWith('.jsonl'))
    .sort()
    .map((name) => join(path, name));
}

export function problemOf(instance: Instance): Problem {
  const demand = new Map<number, number>();
  for (const [i, size] of instance.sizes.entries())
    demand.set(size, (demand.get(size) ?? 0) + (instance.demands?.[i] ?? 1));
  const stocks = instance.stocks ?? [{ length: instance.capacity ?? 0, cost: 1, supply: null }];
  return withStocks(
    [...demand],
    stocks.map(({ length, cost, supply }) => ({ length, cost, supply: supply ?? null })),
  );
}
