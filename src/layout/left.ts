/**
 * What is left of a stick: wherever no blade passes it has its full width. A rail's two cuts reach k' beyond its long
 * points, whichever edge they are on.
 */
import type { MouldingTask, Source } from '../stock/task.js';
import type { Um } from '../terms.js';

export interface Left {
  readonly from: Um;
  readonly to: Um;
  readonly keep: boolean;
}

interface RailSpan {
  readonly start: Um;
  readonly length: Um;
  readonly kind: number;
}

interface ClearSpan {
  readonly from: Um;
  readonly to: Um;
}

/** What is left of one clear span without the spans taken, which are sorted by `from`. */
function free({ from, to }: ClearSpan, taken: readonly ClearSpan[]): readonly ClearSpan[] {
  const spans: ClearSpan[] = [];
  let at = from;
  for (const span of taken) {
    if (span.from > at) spans.push({ from: at, to: Math.min(span.from, to) });
    at = Math.max(at, span.to);
  }
  if (at < to) spans.push({ from: at, to });
  return spans.filter((span) => span.to > span.from);
}

/** Offcuts wherever they are; waste only where it is the end of a clear span, not the slivers between rails. */
export function leftOf(
  task: MouldingTask,
  source: Source,
  lanes: readonly (readonly RailSpan[])[],
): readonly Left[] {
  const taken = lanes.flat().map(({ start, length, kind }) => {
    const { blade } = task.spacing.mitres[kind]!;
    return { from: start - blade, to: start + length + blade };
  });
  return source.clear.flatMap((clear) => {
    const near = taken.filter((span) => span.from < clear.to && span.to > clear.from);
    return free(clear, near)
      .map((span) => ({ ...span, keep: span.to - span.from >= task.moulding.keepOver }))
      .filter((span) => span.keep || span.to === clear.to);
  });
}
