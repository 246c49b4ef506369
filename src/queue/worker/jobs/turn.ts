/** How long an attempt at a moulding has, by the rule that a plan in process goes by. */
import { evenShare, turnShare } from '../../../processes/share.js';
import type { BegunAttempt } from '../../record/steps.js';

/** A repeated attempt always gets this much, in milliseconds, so that it can hand on its checkpoint. */
const LEAST_BUDGET = 50;

export interface AllottedTurn {
  /** Milliseconds of solving. */
  readonly budget: number;
  /** Only the wood is searched for: how it is cut has its turn later. */
  readonly woodOnly: boolean;
}

/** `slots`: mouldings that all workers together can solve at a time. */
export function turnOf(
  begun: Omit<BegunAttempt, 'kind' | 'fence' | 'best' | 'late' | 'shop'>,
  slots: number,
): AllottedTurn {
  const { size, allotted, used } = begun;
  const own = Math.min(size, slots);
  const even = evenShare(begun, size, own);
  const budget =
    allotted === null ? turnShare({ ...begun, slots: own, even }) : Math.max(LEAST_BUDGET, allotted - used);
  return { budget, woodOnly: even > 0 };
}
