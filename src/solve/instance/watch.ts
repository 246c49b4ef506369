import type { SolveOptions } from '../problem.js';

/** The clock and the wish to stop, as the search sees them. */
export interface Watch {
  over(): boolean;
  /** Until the deadline; not below 0. */
  seconds(): number;
}

export function watchOf(options: Pick<SolveOptions, 'now' | 'deadline' | 'stopped'>): Watch {
  let ended = false;
  return {
    over() {
      ended ||= options.now() >= options.deadline || options.stopped?.() === true;
      return ended;
    },
    seconds: () => Math.max(0, (options.deadline - options.now()) / 1000),
  };
}
