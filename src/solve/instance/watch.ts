import type { SolveOptions } from '../problem.js';

/**
 * Work done, in units of some two microseconds on one core, counted from what is worked on: table cells,
 * nodes, sizes of linear programmes. The same search counts the same work on any machine.
 */
export interface Work {
  spend(units: number): void;
}

/** Work that may have to end before it is done. */
export interface EndingWork extends Work {
  /** Asked every few thousand units; once true, it stays so. */
  over(): boolean;
}

export const UNCOUNTED: EndingWork = { spend: () => undefined, over: () => false };

/** Units of work: of cells of a pricing table, nodes of a search in typed arrays, nodes of one over bins, and over a few. */
export const CELLS_A_UNIT = 250;
export const NODES_A_UNIT = 1;
export const BIN_NODES_A_UNIT = 5;
export const FEW_NODES_A_UNIT = 40;
/** Bins times items that packing looks at. */
export const PACKED_A_UNIT = 10;
/** For solving a linear programme again, and for each of its rows. */
const PROGRAMME_UNITS = 150;
const ROW_UNITS = 8;

export function programmeWork(rows: number): number {
  return PROGRAMME_UNITS + ROW_UNITS * rows;
}

/** What ends a search: the budget of work, the clock, and a request to stop. */
export interface Watch extends EndingWork {
  /** Until the deadline; not below 0. */
  seconds(): number;
  readonly spent: number;
  /** The search ends once so much work is done, unless a smaller limit holds. */
  limit(work: number): void;
  /** Something better was met: the search goes on as long as `SolveOptions.patience` says. */
  met(): void;
}

export function watchOf(
  options: Pick<SolveOptions, 'now' | 'deadline' | 'stopped' | 'work' | 'patience'>,
): Watch {
  let ended = false;
  let spent = 0;
  let most = options.work ?? Infinity;
  let patient = Infinity;
  return {
    over() {
      ended ||=
        spent >= most ||
        spent >= patient ||
        options.now() >= options.deadline ||
        options.stopped?.() === true;
      return ended;
    },
    seconds: () => Math.max(0, (options.deadline - options.now()) / 1000),
    spend(units) {
      spent += units;
    },
    get spent() {
      return spent;
    },
    limit(work) {
      most = Math.min(most, work);
    },
    met() {
      patient = options.patience?.(spent) ?? Infinity;
    },
  };
}
