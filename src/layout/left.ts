/**
 * What is left of a stick, lane by lane: from one blade's width past the last long point to the lane's end. Over that
 * span the stick has its full width, whichever way the last cut leans.
 */
import type { MouldingTask, Source } from '../stock/task.js';
import type { Um } from '../terms.js';

export interface Left {
  readonly from: Um;
  readonly to: Um;
  readonly keep: boolean;
}

interface Standing {
  readonly start: Um;
  readonly length: Um;
  readonly kind: number;
}

export function leftOf(
  task: MouldingTask,
  source: Source,
  lanes: readonly (readonly Standing[])[],
): readonly Left[] {
  return source.lanes.flatMap((lane, i) => {
    // On reversible stock the last but one may reach further: its long edge is on the other side.
    const ends = (lanes[i] ?? []).map(
      (rail) => rail.start + rail.length + task.spacing.mitres[rail.kind]!.blade,
    );
    const from = ends.reduce((most, end) => Math.max(most, end), lane.from);
    if (from >= lane.to) return [];
    return [{ from, to: lane.to, keep: lane.to - from >= task.moulding.keepOver }];
  });
}
