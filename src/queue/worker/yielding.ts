/** A worker that shares its machine with a door: whoever calls the door goes before the worker's own bookkeeping. */
import { readdirSync } from 'node:fs';
import { setPriority } from 'node:os';

/** On Linux each thread has a priority of its own; elsewhere 0 is the whole process. */
function threads(): readonly number[] {
  try {
    return readdirSync('/proc/self/task').map(Number);
  } catch {
    return [0];
  }
}

/** This process, all its threads, and what they start yield as nice(1) says. Solvers that run already stay as they are. */
export function yieldTo(nice: number): void {
  if (nice === 0) return;
  for (const thread of threads()) {
    try {
      setPriority(thread, nice);
    } catch {
      // The thread has ended, or the system has no priorities: then the processor is shared evenly.
    }
  }
}
