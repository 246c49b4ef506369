/**
 * A sample of published instances with known optima (Falkenauer U and T, J. Heuristics 2, 1996; Scholl, Klein, Jürgens,
 * Computers & OR 24, 1997; Schwerin, Wäscher, ITOR 4, 1997; Wäscher, Gau, OR Spektrum 18, 1996; collected in BPPLIB,
 * Delorme, Iori, Martello, Optimization Letters 12, 2018). The data is not part of the project. Without the folder the
 * one test here says so by its name, and fails where PAIRSTOP_LITERATURE says that there should be one; the worked
 * examples beside this file need nothing. The whole sets are run by `npm run bench:literature`.
 */
import { existsSync } from 'node:fs';
import { beforeAll, describe, expect, it } from 'vitest';
import { type Instance, instancePaths, problemOf, readInstances } from '../../bench/tools/instances.js';
import { seeded } from '../../bench/tools/random.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { createEngine, type Engine } from '../../src/solve/engine.js';
import { solveChecked } from '../engine/checked.js';

const wanted = process.env.PAIRSTOP_LITERATURE;
const FOLDER = wanted ?? '../shared/literature';
const A_FILE = 5;

const present = existsSync(FOLDER);
if (!present) process.stderr.write(`\nNOT SOLVED: published instances; ${FOLDER} is absent\n\n`);

it(`published instances are ${present ? 'solved' : `NOT SOLVED: ${FOLDER} is absent`}`, () => {
  expect(present || wanted === undefined).toBe(true);
});

const sample: readonly (readonly [name: string, instance: Instance])[] = (instancePaths(FOLDER) ?? [])
  .map((path) => readInstances(path))
  .flatMap((file) => seeded(file.name).shuffled(file.instances).slice(0, A_FILE))
  .map((instance) => [instance.name, instance]);

describe.runIf(present)('published instances', () => {
  let engine: Engine;
  beforeAll(async () => {
    engine = createEngine({ highs: highsRuntime });
  });

  it('the folder holds instances', () => {
    expect(sample.length).toBeGreaterThanOrEqual(A_FILE);
  });

  it.each(sample)('%s: nothing contradicts the known optimum', (_, instance) => {
    const outcome = solveChecked(engine, problemOf(instance), { ms: 2_000 });
    const proof = outcome.kind === 'solved' ? outcome.proofs[0] : undefined;
    const optimum = instance.optimum ?? 0;
    expect(proof?.value).toBeGreaterThanOrEqual(optimum);
    // However early it is stopped: no worse than first fit decreasing, 11/9 of the optimum and 6/9 (Dósa 2007; from memory).
    expect(9 * (proof?.value ?? Infinity)).toBeLessThanOrEqual(11 * optimum + 6);
    expect(proof?.bound).toBeLessThanOrEqual(optimum);
  });
});
