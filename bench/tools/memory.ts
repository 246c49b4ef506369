/** Peak memory of a whole tree of processes, sampled; Linux only, since it reads /proc. */
import { existsSync, readdirSync, readFileSync } from 'node:fs';

const EVERY_MS = 50;
const KIB_PER_MIB = 1024;

export interface Watch {
  /** Ends the sampling; greatest sum of resident memory seen, MiB, or null where there is no /proc. */
  readonly end: () => number | null;
}

/** Of this process and all below it, or of another. */
export function watchMemory(pid = process.pid): Watch {
  if (!existsSync('/proc/self/status')) return { end: () => null };
  let peak = residentMiB(pid);
  const timer = setInterval(() => {
    peak = Math.max(peak, residentMiB(pid));
  }, EVERY_MS);
  return {
    end: () => {
      clearInterval(timer);
      if (pid !== process.pid) return Math.round(peak);
      // A solve in this process keeps the timer waiting; the kernel's own peak covers that.
      return Math.round(Math.max(peak, process.resourceUsage().maxRSS / KIB_PER_MIB));
    },
  };
}

/** A process and all its descendants; one that ends meanwhile counts as nothing. */
function residentMiB(pid: number): number {
  try {
    const status = readFileSync(`/proc/${pid}/status`, 'utf8');
    let sum = Number(/^VmRSS:\s+(\d+)/m.exec(status)?.[1] ?? 0) / KIB_PER_MIB;
    for (const task of readdirSync(`/proc/${pid}/task`)) {
      const children = readFileSync(`/proc/${pid}/task/${task}/children`, 'utf8');
      for (const child of children.split(' ')) if (child !== '') sum += residentMiB(Number(child));
    }
    return sum;
  } catch {
    return 0;
  }
}
