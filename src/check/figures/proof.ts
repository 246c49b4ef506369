/**
 * What a plan claims of its own quality. A bound cannot be proved again without solving. But a true bound is never
 * above the cost of a plan that holds, and the plan is optimal exactly when the two are equal.
 */
import type { PlanProof } from '../../documents/plan/types.js';
import type { InMoulding } from '../context.js';
import { centsOf, umOf } from '../numbers.js';

/** `cost` in cents; `length` of the sticks used, in micrometres; `offers`: the moulding has any. */
export function checkProof(
  on: InMoulding,
  proof: PlanProof,
  cost: number,
  length: number,
  offers: boolean,
): void {
  const { findings } = on;
  const path = `${on.path}.proof`;
  const measure = offers ? 'cost' : 'length';
  if (proof.measure !== measure) {
    const holds = `"${measure}", as the moulding has ${offers ? 'offers' : 'no offers'}`;
    findings.add('CHECK_PROOF', `${path}.measure`, `"${proof.measure}"`, holds);
    return;
  }
  const value = offers ? centsOf(proof.value) : umOf(proof.value);
  const due = offers ? cost : length;
  if (value !== due) {
    findings.add('CHECK_PROOF', `${path}.value`, String(proof.value), String(due / (offers ? 100 : 1000)));
  }
  if (!(proof.bound >= 0 && proof.bound <= proof.value)) {
    findings.add('CHECK_PROOF', `${path}.bound`, String(proof.bound), `from 0 to the value, ${proof.value}`);
  }
  // Where nothing could be planned, nothing is proven either.
  const nothing = proof.status === 'unproven' && due === 0;
  if (!nothing && (proof.status === 'optimal') !== (proof.bound === proof.value)) {
    const found = `"${proof.status}" with bound ${proof.bound} and value ${proof.value}`;
    findings.add('CHECK_PROOF', `${path}.status`, found, '"optimal" exactly when they are equal');
  }
}
