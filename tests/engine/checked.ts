/** Every test solves through here: whatever the engine says is verified from the definition before it is used. */
import { verifyOutcome, verifySolved } from '../../bench/reference/verify.js';
import type { Engine } from '../../src/solve/engine.js';
import type { Outcome, Pattern, Problem, Solved } from '../../src/solve/problem.js';

export interface Limits {
  /** Milliseconds on the real clock. */
  readonly ms?: number;
  readonly seed?: number;
  readonly start?: readonly Pattern[];
  readonly now?: () => number;
  readonly deadline?: number;
  readonly stopped?: () => boolean;
}

export class WrongOutcome extends Error {}

/** The verified outcome; throws WrongOutcome with the problem as JSON when it, or any improvement, does not hold. */
export function solveChecked(engine: Engine, problem: Problem, limits: Limits = {}): Outcome {
  const now = limits.now ?? (() => performance.now());
  const steps: Solved[] = [];
  const outcome = engine.solve(problem, {
    now,
    deadline: limits.deadline ?? now() + (limits.ms ?? 10_000),
    seed: limits.seed ?? 1,
    onImproved: (solved) => steps.push(solved),
    ...(limits.stopped ? { stopped: limits.stopped } : {}),
    ...(limits.start ? { start: limits.start } : {}),
  });
  const faults = verifyOutcome(problem, outcome);
  for (const [i, step] of steps.entries()) {
    for (const fault of verifySolved(problem, step)) faults.push(`improvement ${i}: ${fault}`);
    faults.push(
      ...worsened(step, steps[i + 1] ?? outcome).map((fault) => `after improvement ${i}: ${fault}`),
    );
  }
  if (faults.length > 0) throw new WrongOutcome(`${faults.join('\n')}\n${JSON.stringify(problem)}`);
  return outcome;
}

function worsened(before: Solved, after: Outcome): string[] {
  if (after.kind !== 'solved') return ['a plan was handed out, then none'];
  const bound = [before.proofs[0]?.bound ?? 0, after.proofs[0]?.bound ?? 0] as const;
  if (bound[1] < bound[0]) return [`the first goal's bound fell from ${bound[0]} to ${bound[1]}`];
  for (const [goal, proof] of before.proofs.entries()) {
    const value = after.proofs[goal]?.value ?? Infinity;
    if (value < proof.value) return [];
    if (value > proof.value) return [`goal ${goal} rose from ${proof.value} to ${value}`];
  }
  return [];
}

/** Values of the goals, or null when there is no plan. */
export function valuesOf(outcome: Outcome): readonly number[] | null {
  return outcome.kind === 'solved' ? outcome.proofs.map((proof) => proof.value) : null;
}

/** `optimal`, or `none` proven, on every goal. */
export function isProven(outcome: Outcome): boolean {
  return outcome.kind === 'none'
    ? outcome.proven
    : outcome.proofs.every((proof) => proof.status === 'optimal');
}

/** The first goal's value of a plan that must exist and be proven. */
export function provenValue(outcome: Outcome): number {
  const proof = outcome.kind === 'solved' ? outcome.proofs[0] : undefined;
  if (proof?.status !== 'optimal')
    throw new WrongOutcome(`not proven: ${JSON.stringify(outcome).slice(0, 500)}`);
  return proof.value;
}
