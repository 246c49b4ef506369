/** How much memory solver processes may take. */
import { totalmem } from 'node:os';

const MB = 2 ** 20;
const LEAST_MB = 512;
const HEAP_MOST_MB = 8_192;

/** Bytes this process may use: those of the machine, or of the container it runs in. */
function memory(): number {
  const limit = process.constrainedMemory() ?? 0;
  return limit > 0 ? Math.min(limit, totalmem()) : totalmem();
}

export interface ProcessLimits {
  /** JavaScript heap, and all memory, of one process. */
  readonly heapMb: number;
  readonly rssMb: number;
}

/** What each of `processes` may take when together they may take `share` of the memory. */
export function limitsFor(processes: number, share: number): ProcessLimits {
  const rssMb = Math.max(LEAST_MB, Math.floor((memory() * share) / MB / processes));
  return { heapMb: Math.min(HEAP_MOST_MB, rssMb), rssMb };
}
