/**
 * The engine against general solvers in the same run, on the same instances, to the same proven value: HiGHS (MIP, one
 * thread, the `highs` package) on the arc-flow model and on all maximal patterns.
 *
 *     npm run bench:peers -- [--limit 60] [--count 5] [--literature ../shared/literature] [--only NAME]
 *
 * Each set in a process of its own, twice. Cold: the first instances that solver and peers meet, charged with what is
 * compiled for them. Warm: the same again, after all of them have been run on instances made by seed that are in no set
 * (a peer that came to the limit when cold is not run again). Times include building each model. A solver that proves no
 * value within the limit counts as having taken the limit. Ratios are peer time over engine time, geometric mean a set;
 * below 1 the peer was faster, and `losses` counts the instances where either peer was, or proved what the engine did
 * not. Exit 1 when two proven values differ.
 */
import { spawnSync } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import type { Highs } from 'highs';
import { highsRuntime } from '../src/processes/solver/load-highs.js';
import { createEngine, type Engine } from '../src/solve/engine.js';
import type { Outcome, Problem } from '../src/solve/problem.js';
import { allPatterns } from './reference/all-patterns.js';
import { solveArcFlow, TooManyArcs } from './reference/arc-flow.js';
import { peerHighs } from './reference/mip.js';
import { TooManyPatterns } from './reference/patterns.js';
import { verifyOutcome } from './reference/verify.js';
import { type Family, generated, warmUps } from './tools/families.js';
import { geometricMean, rounded, table } from './tools/figures.js';
import { instancePaths, problemOf, readInstances } from './tools/instances.js';
import { seeded } from './tools/random.js';

/** Value when proven within the limit, else null with the limit as its time; `left out`: the model is too large to build. */
type Run = { readonly seconds: number; readonly value: number | null } | 'left out';

/** HiGHS in WebAssembly crawls or runs out of memory on models much larger than these, whatever the limit. */
const MOST_PATTERNS = 20_000;
const MOST_ARCS = 200_000;

function timed(limit: number, solve: () => number | null): Run {
  const began = performance.now();
  try {
    const value = solve();
    const seconds = (performance.now() - began) / 1000;
    // HiGHS sometimes looks at its clock too rarely: neither proof nor delay after the limit counts.
    return seconds > limit ? { seconds: limit, value: null } : { seconds, value };
  } catch (error) {
    if (error instanceof TooManyPatterns || error instanceof TooManyArcs) return 'left out';
    throw error;
  }
}

/** The plan is checked once the time is taken. */
function byEngine(engine: Engine, problem: Problem, limit: number): Run {
  let made: Outcome | null = null;
  const run = timed(limit, () => {
    const deadline = performance.now() + limit * 1000;
    const outcome = engine.solve(problem, { now: () => performance.now(), deadline, seed: 1 });
    made = outcome;
    const proof = outcome.kind === 'solved' ? outcome.proofs[0] : undefined;
    return proof?.status === 'optimal' ? proof.value : null;
  });
  const faults = made === null ? [] : verifyOutcome(problem, made);
  if (faults.length > 0) throw new Error(`the engine's plan does not hold: ${faults.join('; ')}`);
  return run;
}

function byArcFlow(highs: Highs, problem: Problem, limit: number): Run {
  return timed(limit, () => {
    const answer = solveArcFlow(highs, problem, limit, MOST_ARCS);
    return answer.status === 'optimal' ? Math.round(answer.value) : null;
  });
}

function byPatterns(highs: Highs, problem: Problem, limit: number): Run {
  return timed(limit, () => {
    const answer = allPatterns(highs, problem, { seconds: limit, limit: MOST_PATTERNS });
    return answer.kind === 'optimal' ? (answer.values[0] ?? null) : null;
  });
}

interface Tools {
  readonly engine: Engine;
  readonly highs: Highs;
  /** Seconds. */
  readonly limit: number;
}

type Peer = 'arcFlow' | 'patterns';

interface Compared {
  readonly engine: Run;
  readonly arcFlow: Run;
  readonly patterns: Run;
}

/** `cold`: what came of it before; a peer that reached its limit then is not run again. */
function compare(tools: Tools, problem: Problem, where: string, cold?: Compared): Compared {
  const { engine, highs, limit } = tools;
  const again = (peer: Peer, run: () => Run): Run => {
    const before = cold?.[peer];
    return before === 'left out' || before?.value === null ? before : run();
  };
  const compared = {
    engine: byEngine(engine, problem, limit),
    arcFlow: again('arcFlow', () => byArcFlow(highs, problem, limit)),
    patterns: again('patterns', () => byPatterns(highs, problem, limit)),
  };
  const values = Object.values(compared).flatMap((run) =>
    run === 'left out' || run.value === null ? [] : [run.value],
  );
  if (new Set(values).size > 1) {
    console.error(`${where}: proven values differ: ${JSON.stringify(compared)}`);
    process.exitCode = 1;
  }
  return compared;
}

/**
 * How much longer the peer took, over the instances that it or the engine proved. `>`: at least that, the peer hit the
 * limit; `<`: at most that, the engine did; `~`: both happened, on different instances.
 */
function ratioOf(runs: readonly Compared[], peer: Peer): string {
  const ratios: number[] = [];
  let [peerGaveUp, engineGaveUp] = [false, false];
  for (const { engine, [peer]: other } of runs) {
    if (engine === 'left out' || other === 'left out') continue;
    if (engine.value === null && other.value === null) continue;
    if (other.value === null) peerGaveUp = true;
    if (engine.value === null) engineGaveUp = true;
    ratios.push(other.seconds / engine.seconds);
  }
  if (ratios.length === 0) return 'none';
  const sign = peerGaveUp && engineGaveUp ? '~' : peerGaveUp ? '>' : engineGaveUp ? '<' : '';
  const missing = ratios.length < runs.length ? ` (${ratios.length} of ${runs.length})` : '';
  return `${sign}${rounded(geometricMean(ratios), 2)}${missing}`;
}

function lossesOf(runs: readonly Compared[]): number {
  return runs.filter(({ engine, arcFlow, patterns }) =>
    [arcFlow, patterns].some((other) => {
      if (engine === 'left out' || other === 'left out' || other.value === null) return false;
      return engine.value === null || other.seconds < engine.seconds;
    }),
  ).length;
}

function provenOf(runs: readonly Compared[], of: keyof Compared): number {
  return runs.filter(({ [of]: run }) => run !== 'left out' && run.value !== null).length;
}

function literature(folder: string, count: number): Family[] {
  const paths = instancePaths(folder);
  if (paths === null) {
    console.error(`${folder} is absent: only generated instances are compared.`);
    return [];
  }
  return paths.map((path) => {
    const { name, instances } = readInstances(path);
    return { name, problems: seeded(name).shuffled(instances).slice(0, count).map(problemOf) };
  });
}

/** Seconds a peer may take of each instance it is warmed up on; of those it has fewer, since each takes it longer. */
const WARM_LIMIT = 2;
const WARM_PEERS = 10;

function warmUp({ engine, highs }: Tools): void {
  for (const [i, problem] of warmUps().entries()) {
    byEngine(engine, problem, WARM_LIMIT);
    if (i >= WARM_PEERS) continue;
    byArcFlow(highs, problem, WARM_LIMIT);
    byPatterns(highs, problem, WARM_LIMIT);
  }
}

function engineMs(runs: readonly Compared[]): number {
  const mean = geometricMean(runs.map(({ engine: run }) => (run === 'left out' ? 1 : run.seconds)));
  return rounded(1000 * mean, 1);
}

async function one({ name, problems }: Family, limit: number): Promise<void> {
  const tools: Tools = { engine: createEngine({ highs: highsRuntime }), highs: await peerHighs(), limit };
  const cold = problems.map((problem, i) => compare(tools, problem, `${name} ${i}`));
  warmUp(tools);
  const warm = problems.map((problem, i) => compare(tools, problem, `${name} ${i}`, cold[i]!));
  const row = {
    set: name,
    n: cold.length,
    proven: provenOf(cold, 'engine'),
    provenArcFlow: provenOf(cold, 'arcFlow'),
    provenPatterns: provenOf(cold, 'patterns'),
    coldMs: engineMs(cold),
    warmMs: engineMs(warm),
    coldArcFlow: ratioOf(cold, 'arcFlow'),
    warmArcFlow: ratioOf(warm, 'arcFlow'),
    coldPatterns: ratioOf(cold, 'patterns'),
    warmPatterns: ratioOf(warm, 'patterns'),
    losses: `${lossesOf(cold)}, ${lossesOf(warm)}`,
  };
  console.log(JSON.stringify(row));
}

async function main(): Promise<void> {
  const { values } = parseArgs({
    options: {
      limit: { type: 'string', default: '60' },
      count: { type: 'string', default: '5' },
      literature: { type: 'string', default: '../shared/literature' },
      only: { type: 'string' },
    },
  });
  const limit = Number(values.limit);
  const count = Number(values.count);
  const families = [...literature(values.literature, count), ...generated(count)];
  if (values.only !== undefined) {
    const found = families.filter(({ name }) => name === values.only);
    for (const family of found) await one(family, limit);
    if (found.length === 0) throw new RangeError(`--only: there is no set ${values.only}`);
    return;
  }
  const rows: (string | number)[][] = [];
  for (const { name } of families) {
    const args = [fileURLToPath(import.meta.url), ...process.argv.slice(2), '--only', name];
    const ended = spawnSync(process.execPath, args, {
      encoding: 'utf8',
      stdio: ['ignore', 'pipe', 'inherit'],
    });
    process.stdout.write(ended.stdout);
    if (ended.status !== 0) process.exitCode = 1;
    const line = ended.stdout.trim().split('\n').at(-1) ?? '';
    if (line.startsWith('{')) rows.push(Object.values(JSON.parse(line) as Record<string, string | number>));
  }
  const header = [
    'set',
    'n',
    'proven',
    'arc-flow',
    'patterns',
    'cold ms',
    'warm ms',
    'arc-flow ×, cold',
    'warm',
    'patterns ×, cold',
    'warm',
    'losses, cold and warm',
  ];
  console.log(`\n${table(header, rows)}`);
}

await main();
