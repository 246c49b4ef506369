/**
 * Re-checks an engine's outcome from the definition in src/solve/problem.ts, in exact arithmetic and without any of
 * the engine's code. Returns what is wrong, one sentence each; an empty list means the outcome holds.
 *
 * It cannot see whether a bound is true, only whether it is consistent; compare it with a reference optimum for that.
 */
import type { Outcome, Pattern, Problem, Proof, Solved } from '../../src/solve/problem.js';
import { stockCost, usedLength } from './patterns.js';

export function verifyOutcome(problem: Problem, outcome: Outcome): string[] {
  switch (outcome.kind) {
    case 'none':
      return [];
    case 'solved':
      return verifySolved(problem, outcome);
    default:
      return [`unknown kind of outcome ${JSON.stringify(outcome satisfies never)}`];
  }
}

export function verifySolved(problem: Problem, solved: Solved): string[] {
  const faults = verifyPatterns(problem, solved.patterns);
  // The value of an invalid plan would say nothing.
  if (faults.length > 0) return faults;
  if (solved.proofs.length !== problem.goals)
    faults.push(`${solved.proofs.length} proofs for ${problem.goals} goals`);
  const values = planValues(problem, solved.patterns);
  for (const [goal, proof] of solved.proofs.entries())
    faults.push(...verifyProof(goal, proof, values[goal] ?? 0n));
  return faults;
}

/** Every demand met exactly, every segment within its capacity, no supply exceeded. */
export function verifyPatterns(problem: Problem, patterns: readonly Pattern[]): string[] {
  const faults: string[] = [];
  const made = problem.items.map(() => 0n);
  const pieces = problem.stocks.map(() => 0n);
  for (const [p, pattern] of patterns.entries()) {
    const stock = problem.stocks[pattern.stock];
    if (stock === undefined) {
      faults.push(`pattern ${p}: no stock ${pattern.stock}`);
      continue;
    }
    if (!isCount(pattern.count)) {
      faults.push(`pattern ${p}: cut ${pattern.count} times`);
      continue;
    }
    pieces[pattern.stock] = (pieces[pattern.stock] ?? 0n) + BigInt(pattern.count);
    if (pattern.segments.length !== stock.segments.length)
      faults.push(`pattern ${p}: ${pattern.segments.length} segments on a piece of ${stock.segments.length}`);
    const onPiece = problem.items.map(() => 0);
    for (const [s, entries] of pattern.segments.entries()) {
      const counts = problem.items.map(() => 0);
      for (const { item, count } of entries) {
        const sought = problem.items[item];
        if (sought === undefined || !isCount(count)) {
          faults.push(`pattern ${p}, segment ${s}: ${count} of item ${item}`);
          continue;
        }
        counts[item] = (counts[item] ?? 0) + count;
        onPiece[item] = (onPiece[item] ?? 0) + count;
        made[item] = (made[item] ?? 0n) + BigInt(count) * BigInt(pattern.count);
      }
      const used = usedLength(problem, counts);
      const capacity = stock.segments[s] ?? 0;
      if (!(Number.isSafeInteger(used) && used <= capacity))
        faults.push(`pattern ${p}, segment ${s}: uses ${used} of ${capacity}`);
    }
    if (onPiece.every((count) => count === 0)) faults.push(`pattern ${p}: a piece is used for nothing`);
    for (const [i, count] of onPiece.entries())
      if (count > (problem.items[i]?.demand ?? 0))
        faults.push(`pattern ${p}: improper, ${count} of item ${i}`);
  }
  for (const [i, item] of problem.items.entries())
    if (made[i] !== BigInt(item.demand)) faults.push(`item ${i}: ${made[i]} made of ${item.demand}`);
  for (const [s, stock] of problem.stocks.entries())
    if (!Number.isFinite(stockCost(stock, 0, Number(pieces[s] ?? 0n))))
      faults.push(`stock ${s}: ${pieces[s]} pieces cannot be bought`);
  for (const [s, stock] of problem.stocks.entries())
    if (stock.supply !== null && (pieces[s] ?? 0n) > BigInt(stock.supply))
      faults.push(`stock ${s}: ${pieces[s]} pieces of ${stock.supply}`);
  return faults;
}

function verifyProof(goal: number, proof: Proof, value: bigint): string[] {
  const faults: string[] = [];
  const says = `goal ${goal}: ${proof.status} value ${proof.value} bound ${proof.bound}`;
  if (!Number.isSafeInteger(proof.value) || BigInt(proof.value) !== value)
    faults.push(`${says}, but the patterns cost ${value}`);
  if (!Number.isFinite(proof.bound) || proof.bound > proof.value)
    faults.push(`${says}: not a bound below it`);
  if ((proof.status === 'optimal') !== (proof.bound === proof.value))
    faults.push(`${says}: optimal means bound = value, and nothing else does`);
  return faults;
}

/** Value of each goal, with packs and price tiers for goal 0. */
export function planValues(problem: Problem, patterns: readonly Pattern[]): bigint[] {
  const pieces = problem.stocks.map(() => 0);
  for (const pattern of patterns) pieces[pattern.stock] = (pieces[pattern.stock] ?? 0) + pattern.count;
  return Array.from({ length: problem.goals }, (_, goal) =>
    problem.stocks.reduce(
      (sum, stock, s) => {
        const n = pieces[s] ?? 0;
        if (goal === 0 && stock.purchase !== null) return sum + BigInt(stockCost(stock, goal, n));
        return sum + BigInt(n) * BigInt(stock.costs[goal] ?? 0);
      },
      goal === 0 ? setupCost(problem, patterns) : 0n,
    ),
  );
}

/** A charge for every piece, and for every item once on each piece that it is cut from. */
function setupCost({ setups }: Problem, patterns: readonly Pattern[]): bigint {
  if (!setups) return 0n;
  let sum = 0n;
  for (const { count, segments } of patterns) {
    const items = new Set(segments.flat().map(({ item }) => item));
    let charge = setups.piece;
    for (const item of items) charge += setups.item[item] ?? 0;
    sum += BigInt(count) * BigInt(charge);
  }
  return sum;
}

function isCount(n: number): boolean {
  return Number.isSafeInteger(n) && n > 0;
}
