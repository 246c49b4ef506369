import { inward } from '../columns/translate.js';
import type { CountRow } from '../instance/goal.js';
import type { Instance } from '../instance/instance.js';
import type { Watch } from '../instance/watch.js';
import type { Problem } from '../problem.js';
import type { GoalSearch, Tools } from '../search/search.js';
import { type CountRound, countSearch } from './bought.js';

/** Rounds of the search over numbers of pieces, each of twice the effort, beside that over patterns. */
const MOST_COUNT_ROUNDS = 8;

export interface TurnAboutTask {
  readonly problem: Problem;
  readonly instance: Instance;
  /** Which of the problem's goals is searched for; the earlier ones are held by `rows`. */
  readonly goal: number;
  readonly rows: readonly CountRow[];
  /** Its root has been solved and packed. */
  readonly search: GoalSearch;
  readonly tools: Tools;
  readonly seed: number;
  readonly watch: Watch;
}

/**
 * A search over numbers of pieces and one over patterns, turn about, the one that has done less first: where several
 * lengths have prices, numbers that several covers rule out together often lie between the bound and the best plan.
 * Numbers come before the first dive.
 */
export function turnAbout({
  problem,
  instance,
  goal,
  rows,
  search,
  tools,
  seed,
  watch,
}: TurnAboutTask): void {
  if (search.done || watch.over()) return;
  const counts = countSearch({
    ...{ problem, instance, goal, start: null, tools, seed, watch },
    limits: rows.map(({ limit }) => limit),
    report: (patterns, _, bound) => {
      search.take(inward(instance, patterns));
      search.raise(bound);
    },
  });
  let state: CountRound = counts ? 'open' : 'useless';
  let [counted, round, idle] = [0, 0, false];
  const begun = watch.spent;
  while (counts && state === 'open' && round < MOST_COUNT_ROUNDS && !search.done && !watch.over()) {
    const before = watch.spent;
    if (idle || counted <= (before - begun) / 2) {
      const { plan, bound } = search.found();
      counts.know(plan, bound, search.columns);
      state = counts.round(round++);
      counted += watch.spent - before;
    } else {
      search.more(1);
      // Without a linear programme that can be solved nothing is done.
      idle = watch.spent === before;
    }
  }
  if (counts && state === 'ended' && counts.answer(true).none) search.deny();
  search.more(Infinity);
}
