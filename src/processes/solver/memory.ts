/** How much memory solver processes may take. */
import { totalmem } from 'node:os';

const MB = 2 ** 20;
const LEAST_MB = 512;
const HEAP_MOST_MB = 8_192;

/** Bytes this process may use: those of the machine, or of the container it runs in. */
export function availableMemory(): number {
  const limit = process.constrainedMemory() ?? 0;
  return limit > 0 ? Math.min(limit, totalmem()) : totalmem();
}

export interface ProcessLimits {
  /** JavaScript heap, and all memory, of one process. */
  readonly heapMb: number;
  readonly rssMb: number;
}

/** The heap of a process that may take this much memory in all. */
export function heapOf(rssMb: number): number {
  return Math.min(HEAP_MOST_MB, rssMb);
}

/** What each of `processes` may take when together they may take `share` of the memory; never less than a process needs. */
export function limitsFor(processes: number, share: number, memory = availableMemory()): ProcessLimits {
  const rssMb = Math.max(LEAST_MB, Math.floor((memory * share) / MB / Math.max(1, processes)));
  return { heapMb: heapOf(rssMb), rssMb };
}

/**
 * Memory of an idle solver process, and memory a rail where all are of one moulding: solving that takes most. With 512 MB
 * 200,000 rails of one moulding were planned, and 256,000 were too many.
 */
const BASE_MB = 120;
const BYTES_A_RAIL = 2_200;

/** Rails of the largest plan that a process with this much memory can put together and check; measured, see DEVELOPERS.md. */
export function mostRails(rssMb: number): number {
  return Math.max(0, Math.floor(((rssMb - BASE_MB) * MB) / BYTES_A_RAIL));
}
