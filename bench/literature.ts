/**
 * Published instances through the engine the planner uses, one process, one core.
 *
 *     npm run bench:literature -- [FILE.jsonl | FOLDER]… [--limit 60] [--only NAME]
 *
 * One JSON line an instance, one summary line a file. `seconds` covers everything from the instance's numbers to the
 * outcome, except loading the WebAssembly, which happens once before the first instance; nothing is warmed up, so the
 * first instances also pay for compiling. Every plan is re-checked from the definition. Exit 1 when a plan does not
 * hold or a value or bound contradicts a known optimum; 2 when a named file is absent.
 */
import { parseArgs } from 'node:util';
import { highsRuntime } from '../src/processes/solver/load-highs.js';
import { createEngine, type Engine } from '../src/solve/engine.js';
import type { Outcome, Problem } from '../src/solve/problem.js';
import { verifyOutcome } from './reference/verify.js';
import { mean, percentile, rounded } from './tools/figures.js';
import { type Instance, instancePaths, problemOf, readInstances } from './tools/instances.js';

const DEFAULT_FOLDER = '../shared/literature';

interface Row {
  readonly name: string;
  readonly status: 'optimal' | 'within' | 'unproven' | 'none' | 'wrong';
  readonly value: number | null;
  readonly bound: number | null;
  readonly optimum: number | null;
  readonly seconds: number;
  readonly faults?: readonly string[];
}

function run(engine: Engine, instance: Instance, limit: number): Row {
  const optimum = instance.optimum ?? null;
  const began = performance.now();
  const problem = problemOf(instance);
  let outcome: Outcome;
  try {
    const deadline = performance.now() + limit * 1000;
    outcome = engine.solve(problem, { now: () => performance.now(), deadline, seed: 1 });
  } catch (error) {
    const seconds = rounded((performance.now() - began) / 1000, 4);
    const faults = [String(error).slice(0, 300)];
    return { name: instance.name, status: 'wrong', value: null, bound: null, optimum, seconds, faults };
  }
  const seconds = rounded((performance.now() - began) / 1000, 4);
  const faults = contradictions(problem, outcome, optimum);
  const proof = outcome.kind === 'solved' ? outcome.proofs[0] : undefined;
  const claimed = proof?.status ?? 'none';
  return {
    name: instance.name,
    status: faults.length > 0 ? 'wrong' : claimed,
    value: proof?.value ?? null,
    bound: proof?.bound ?? null,
    optimum,
    seconds,
    ...(faults.length > 0 ? { faults } : {}),
  };
}

function contradictions(problem: Problem, outcome: Outcome, optimum: number | null): string[] {
  const faults = verifyOutcome(problem, outcome);
  if (optimum === null) return faults;
  if (outcome.kind === 'none') {
    if (outcome.proven) faults.push(`says no plan exists, but ${optimum} is known`);
    return faults;
  }
  const proof = outcome.proofs[0];
  if (proof === undefined) return faults;
  if (proof.value < optimum) faults.push(`value ${proof.value} below the known optimum ${optimum}`);
  if (proof.bound > optimum) faults.push(`bound ${proof.bound} above the known optimum ${optimum}`);
  return faults;
}

async function main(): Promise<void> {
  const { values, positionals } = parseArgs({
    allowPositionals: true,
    options: { limit: { type: 'string', default: '60' }, only: { type: 'string' } },
  });
  const limit = Number(values.limit);
  if (!(limit > 0)) throw new RangeError(`--limit ${values.limit}: seconds, more than 0`);
  const paths: string[] = [];
  for (const given of positionals.length > 0 ? positionals : [DEFAULT_FOLDER]) {
    const found = instancePaths(given);
    if (found === null) {
      console.error(
        `${given} is absent: no instances from there. Name a file of JSON lines or a folder of them.`,
      );
      if (positionals.length > 0) process.exitCode = 2;
    }
    paths.push(...(found ?? []));
  }
  if (paths.length === 0) return;
  const engine = createEngine({ highs: highsRuntime });
  for (const path of paths) {
    const file = readInstances(path);
    const rows: Row[] = [];
    for (const instance of file.instances) {
      if (values.only !== undefined && !instance.name.includes(values.only)) continue;
      const row = run(engine, instance, limit);
      rows.push(row);
      console.log(JSON.stringify(row));
    }
    const seconds = rows.map((row) => row.seconds);
    const wrong = rows.filter((row) => row.status === 'wrong').length;
    if (wrong > 0) process.exitCode = 1;
    const summary = {
      file: file.name,
      n: rows.length,
      proven: rows.filter((row) => row.status === 'optimal').length,
      wrong,
      mean: rounded(mean(seconds), 4),
      p95: rounded(percentile(seconds, 0.95), 4),
      max: rounded(Math.max(0, ...seconds), 4),
    };
    console.log(JSON.stringify(summary));
  }
}

await main();
