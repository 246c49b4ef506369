import { describe, expect, it } from 'vitest';
import { seeded } from '../../bench/tools/random.js';
import { firstFit } from '../../src/processes/first-fit.js';
import type { Pattern, Problem } from '../../src/solve/problem.js';

/** From the definition in src/solve/problem.ts. */
function fits(problem: Problem, { stock, segments }: Pattern): boolean {
  const { kinds, items } = problem;
  return segments.every((segment, s) => {
    const cut = segment.flatMap(({ item, count }) => Array.from({ length: count }, () => item));
    let length = 0;
    for (const [i, item] of cut.entries()) {
      const { weight, kind } = items[item]!;
      const before = i === 0 ? undefined : items[cut[i - 1]!]!.kind;
      length += weight;
      if (kinds !== null) length += before === undefined ? kinds.start[kind]! : kinds.joint[before]![kind]!;
    }
    const inOrder = cut.every((item, i) => i === 0 || cut[i - 1]! <= item);
    return inOrder && length <= problem.stocks[stock]!.segments[s]!;
  });
}

function randomProblem(name: string): Problem {
  const random = seeded(name);
  const kinds = random.chance(0.5)
    ? null
    : {
        start: [random.int(0, 9), random.int(0, 9)],
        joint: [
          [0, random.int(0, 9)],
          [random.int(0, 9), 3],
        ],
      };
  const items = Array.from({ length: random.int(1, 8) }, () => ({
    weight: random.int(5, 40),
    demand: random.int(1, 12),
    kind: kinds === null ? 0 : random.int(0, 1),
  }));
  const stocks = Array.from({ length: random.int(1, 3) }, (_, s) => ({
    segments: Array.from({ length: random.int(1, 2) }, () => random.int(40, 120)),
    costs: [random.int(0, 30), random.int(1, 30)],
    supply: s === 0 && random.chance(0.7) ? null : random.int(0, 6),
    purchase: null,
  }));
  return { items, stocks, kinds, goals: 2 };
}

describe('first fit', () => {
  it('makes exactly the demand within every limit, or says that it could not', () => {
    let solved = 0;
    for (let i = 0; i < 400; i++) {
      const problem = randomProblem(`first fit ${i}`);
      const outcome = firstFit.solve(problem, { now: () => 0, deadline: 0, seed: 1 });
      if (outcome.kind === 'none') {
        expect(outcome.proven).toBe(false);
        continue;
      }
      solved += 1;
      const made = problem.items.map(() => 0);
      const used = problem.stocks.map(() => 0);
      for (const pattern of outcome.patterns) {
        expect(fits(problem, pattern)).toBe(true);
        used[pattern.stock]! += pattern.count;
        for (const { item, count } of pattern.segments.flat()) made[item]! += count * pattern.count;
      }
      expect(made).toEqual(problem.items.map(({ demand }) => demand));
      problem.stocks.forEach(({ supply }, s) => {
        expect(used[s]).toBeLessThanOrEqual(supply ?? Number.POSITIVE_INFINITY);
      });
      outcome.proofs.forEach(({ value, bound }, goal) => {
        expect(value).toBe(problem.stocks.reduce((sum, { costs }, s) => sum + costs[goal]! * used[s]!, 0));
        expect(bound).toBe(0);
      });
    }
    expect(solved).toBeGreaterThan(200);
  });

  it('pays for packs and price breaks as the purchase says', () => {
    const purchase = {
      pack: 4,
      tiers: [
        { from: 1, price: 10 },
        { from: 10, price: 7 },
      ],
    };
    const problem: Problem = {
      items: [{ weight: 10, demand: 9, kind: 0 }],
      stocks: [{ segments: [10], costs: [10, 1], supply: null, purchase }],
      kinds: null,
      goals: 2,
    };
    const outcome = firstFit.solve(problem, { now: () => 0, deadline: 0, seed: 1 });
    // 9 pieces are 3 packs: 12 at 7.
    expect(outcome).toMatchObject({ kind: 'solved', proofs: [{ value: 84 }, { value: 9 }] });
  });
});
