/**
 * Fewest sticks begun at once on published instances (open stacks): `npm run bench:begun -- [FOLDER]`. The instances are
 * not part of this project; the folder holds `instances.jsonl` with `name`, `sticks` and the published optimum `fewest`.
 */
import { existsSync, readFileSync } from 'node:fs';
import path from 'node:path';
import { fewestBegun } from '../src/runs/stacks.js';

const EFFORT = 50_000_000;
const folder = process.argv[2] ?? '../shared/begun-sticks';
const file = path.join(folder, 'instances.jsonl');

interface Published {
  readonly name: string;
  readonly settings: number;
  readonly sticks: readonly (readonly number[])[];
  readonly fewest: number;
}

/** Counted from the order itself. */
function most(sticks: Published['sticks'], order: readonly number[]): number {
  const place = new Map(order.map((turn, at) => [turn, at]));
  const change = new Array<number>(order.length + 1).fill(0);
  for (const turns of sticks) {
    const places = turns.map((turn) => place.get(turn) ?? Number.NaN);
    change[Math.min(...places)]! += 1;
    change[Math.max(...places) + 1]! -= 1;
  }
  let [open, peak] = [0, 0];
  for (const by of change) {
    open += by;
    peak = Math.max(peak, open);
  }
  return peak;
}

function main(): void {
  if (!existsSync(file)) {
    console.log(`No instances: ${file} is not there. Nothing was measured.`);
    return;
  }
  const instances = readFileSync(file, 'utf8')
    .trim()
    .split('\n')
    .map((line) => JSON.parse(line) as Published);
  let [proven, wrong, ms] = [0, 0, 0];
  for (const { name, settings, sticks, fewest } of instances) {
    const began = performance.now();
    const found = fewestBegun(sticks, EFFORT);
    const took = performance.now() - began;
    ms += took;
    const counted = most(sticks, found.order);
    const right = counted === fewest && found.bound === fewest;
    if (found.bound === found.most) proven += 1;
    if (!right) wrong += 1;
    console.log(
      `${name.padEnd(20)} ${String(settings).padStart(4)} settings ${String(sticks.length).padStart(4)} sticks: ` +
        `${counted} begun, bound ${found.bound}, published ${fewest}, ${took.toFixed(0)} ms${right ? '' : '  NOT AS PUBLISHED'}`,
    );
  }
  console.log(
    `${proven} of ${instances.length} proven, ${wrong} not as published, ${(ms / 1000).toFixed(2)} s in all`,
  );
  if (wrong > 0) process.exitCode = 1;
}

main();
