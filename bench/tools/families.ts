/** Own seeded families of instances: random ones as the literature draws them, degenerate ones, and frame batches. */
import type { Problem } from '../../src/solve/problem.js';
import { frameBatch, problemsOf } from './batches.js';
import { critical } from './critical.js';
import { cuttingStock, withStocks } from './problems.js';
import { seeded } from './random.js';

export interface Family {
  readonly name: string;
  readonly problems: readonly Problem[];
}

/** Sizes uniform in a range of the capacity, `n` pieces, equal sizes counted together. */
function uniform(name: string, capacity: number, from: number, to: number, n: number): Problem {
  const random = seeded(name);
  return counted(
    capacity,
    Array.from({ length: n }, () => random.int(from, to)),
  );
}

export interface FineLengths {
  readonly lengths: number;
  readonly stick: number;
  /** Shortest and longest rail, in sticks. */
  readonly from: number;
  readonly to: number;
  /** Of each length 1 to so many are needed. */
  readonly copies: number;
}

/**
 * Unlike lengths to the single unit of a stick of hundreds of thousands, each in some copies: in the image of the GI
 * instances of Gschwind and Irnich (INFORMS Journal on Computing 28, 2016), whose ranges are from memory.
 */
export function fineLengths(name: string, { lengths, stick, from, to, copies }: FineLengths): Problem {
  const random = seeded(name);
  const demand = new Map<number, number>();
  while (demand.size < lengths) {
    demand.set(random.int(Math.ceil(from * stick), Math.floor(to * stick)), random.int(1, copies));
  }
  return cuttingStock(stick, [...demand.keys()], [...demand.values()]);
}

export interface NearlyFull {
  readonly rails: number;
  /** Longest rail; the shortest is a unit. */
  readonly longest: number;
  /** What whole sticks leave over in all. */
  readonly over: number;
}

/**
 * Rails of 1 to some three quarters of a stick of 1,000, mostly one of each, that come to whole sticks but for `over`: in
 * the image of the Hard28 instances (Schoenfield 2002; Belov and Scheithauer 2006), 160 to 200 rails whose linear programme
 * is all but whole. Their ranges are from memory, and theirs were chosen from many as the hardest: one in some hundred of
 * these is.
 */
export function nearlyFull(name: string, { rails: n, longest, over }: NearlyFull): Problem {
  const random = seeded(name);
  const rails = Array.from({ length: n }, () => random.int(1, longest));
  const length = rails.reduce((sum, rail) => sum + rail, 0);
  for (let diff = Math.round(length / 1000) * 1000 - over - length; diff !== 0; ) {
    const k = random.int(0, n - 1);
    const to = rails[k]! + Math.max(-NUDGE, Math.min(NUDGE, diff));
    if (to < 1 || to > longest) continue;
    diff -= to - rails[k]!;
    rails[k] = to;
  }
  return counted(1000, rails);
}

/** By how much a rail is changed at most to come to whole sticks. */
const NUDGE = 40;

function counted(stick: number, rails: readonly number[]): Problem {
  const demand = new Map<number, number>();
  for (const rail of rails) demand.set(rail, (demand.get(rail) ?? 0) + 1);
  return cuttingStock(stick, [...demand.keys()], [...demand.values()]);
}

/**
 * In the image of four published sets (Scholl, Klein and Jürgens 1997; Schwerin and Wäscher 1997; Hard28), by turns over
 * their sizes; the ranges are from memory. `critical` is like Hard28, too, at the edge to a stick more (`critical.ts`).
 */
export const CLASSIC_KINDS = ['hard', 'critical', 'scholl-2', 'scholl-3', 'schwerin-2'] as const;

/** Null beyond the last; only of `critical` they come to an end. */
export function classic(kind: (typeof CLASSIC_KINDS)[number], k: number): Problem | null {
  if (kind === 'critical') return critical(k);
  const name = `${kind} ${k}`;
  const random = seeded(name);
  if (kind === 'hard') {
    const rails = random.pick([160, 180, 200]);
    return nearlyFull(`${name} of ${rails}`, {
      rails,
      longest: random.int(720, 840),
      over: random.int(0, 45),
    });
  }
  if (kind === 'scholl-3') return uniform(name, 100_000, 20_000, 35_000, 200);
  if (kind === 'schwerin-2') return uniform(name, 1000, 150, 200, 120);
  const mean = 1000 / [3, 5, 7, 9][k % 4]!;
  const spread = [0.2, 0.5, 0.9][Math.floor(k / 4) % 3]!;
  const n = [50, 100, 200, 500][Math.floor(k / 12) % 4]!;
  return uniform(name, 1000, Math.ceil(mean * (1 - spread)), Math.floor(mean * (1 + spread)), n);
}

function several(name: string, lengths: readonly number[], n: number, supply: number | null): Problem {
  const random = seeded(name);
  const items = Array.from({ length: n }, () => [random.int(60, 450), random.int(1, 12)] as const);
  return withStocks(
    items,
    lengths.map((length, i) => ({ length, cost: length + 10, supply: i === 0 ? null : supply })),
  );
}

function times<T>(count: number, of: (i: number) => T): T[] {
  return Array.from({ length: count }, (_, i) => of(i));
}

function range(count: number, of: (i: number) => number): number[] {
  return Array.from({ length: count }, (_, i) => of(i));
}

export function generated(count: number): readonly Family[] {
  return [
    {
      name: 'uniform 20-100 of 150, 120',
      problems: times(count, (i) => uniform(`u ${i}`, 150, 20, 100, 120)),
    },
    { name: 'uniform 1-100 of 100, 200', problems: times(count, (i) => uniform(`s ${i}`, 100, 1, 100, 200)) },
    {
      name: 'uniform 150-200 of 1000, 100',
      problems: times(count, (i) => uniform(`w ${i}`, 1000, 150, 200, 100)),
    },
    {
      name: 'three lengths, 20 sizes',
      problems: times(count, (i) => several(`l ${i}`, [1000, 800, 600], 20, null)),
    },
    {
      name: 'three lengths, limited',
      problems: times(count, (i) => several(`m ${i}`, [1000, 800, 600], 20, 9)),
    },
    { name: 'frames 12, three offers', problems: times(count, (i) => frameProblem(`peers 12 ${i}`, 12)) },
    { name: 'frames 40, three offers', problems: times(count, (i) => frameProblem(`peers 40 ${i}`, 40)) },
    { name: 'degenerate', problems: degenerate() },
  ];
}

function frameProblem(name: string, frames: number): Problem {
  const shape = { frames, mouldings: 1, offers: [8, 10, 12], sizes: 'usual', timeLimit: 30 } as const;
  const problem = problemsOf(frameBatch(name, shape))[0];
  if (problem === undefined) throw new RangeError(`${name} has no problem`);
  return problem;
}

/** Of the kinds that sets are of, and of none: what a solver is run on before it is timed warm. */
export function warmUps(): readonly Problem[] {
  return times(8, (i) => [
    uniform(`warm u ${i}`, 150, 20, 100, 250),
    uniform(`warm s ${i}`, 120, 1 + 10 * i, 100, 200),
    uniform(`warm w ${i}`, 1000, 150, 200, 100),
    uniform(`warm t ${i}`, 1000, 250, 500, 120),
    several(`warm l ${i}`, [1000, 800, 600], 20, i % 2 === 0 ? null : 9),
  ]).flat();
}

/** All rails equal, one rail a stick, nearly equal lengths, large demands, a stick just long enough, primes. */
export function degenerate(): Problem[] {
  return [
    cuttingStock(1000, [300], [1000]),
    cuttingStock(
      1000,
      range(40, (i) => 501 + i),
      range(40, () => 3),
    ),
    cuttingStock(
      20_000,
      range(200, (i) => 4_500 + i),
      range(200, () => 2),
    ),
    cuttingStock(
      1009,
      range(12, (i) => 90 + 41 * i),
      range(12, () => 100_000),
    ),
    cuttingStock(999, [999, 500, 499], [7, 20, 20]),
    cuttingStock(
      1009,
      [101, 103, 107, 109, 113, 127, 131, 137, 139, 149],
      range(10, (i) => 5 + i),
    ),
  ];
}
