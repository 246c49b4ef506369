/** Counts again how much handling a plan takes. A plan of an older program may leave the figures out. */
import type { HandlingFigures } from '../../documents/plan/types.js';
import type { Context } from '../context.js';
import type { CheckedPart } from '../frames.js';
import { opposite } from '../roster.js';

type Counts = { -readonly [K in keyof HandlingFigures]: HandlingFigures[K] };

const FIGURES = ['visits', 'layouts', 'splitPairs', 'offcuts'] as const;

function visitsOf({ roster }: Context, entry: CheckedPart): number {
  let visits = 0;
  for (const { rails } of entry.settings) {
    let before = -1;
    for (const rail of rails) {
      const stick = roster.stick[rail]!;
      if (before < 0 || stick !== before) visits += 1;
      before = stick;
    }
  }
  return visits;
}

/** Opposing rails on two sticks, by moulding id. */
function splitPairs({ roster }: Context): ReadonlyMap<string, number> {
  const split = new Map<string, number>();
  for (const { line, sides, moulding, firstRail } of roster.lines) {
    let found = 0;
    for (let copy = 0; copy < line.quantity; copy++) {
      const first = firstRail + copy * sides.length;
      for (let side = 0; side < sides.length; side++) {
        const other = opposite(side, sides.length);
        if (other <= side || roster.length[first + side] === 0) continue;
        if (roster.stick[first + side] !== roster.stick[first + other]) found += 1;
      }
    }
    split.set(moulding.id, (split.get(moulding.id) ?? 0) + found);
  }
  return split;
}

function compare(on: Context, path: string, found: HandlingFigures | undefined, due: HandlingFigures): void {
  if (found === undefined) return;
  for (const key of FIGURES) {
    if (found[key] === due[key]) continue;
    on.findings.add('CHECK_HANDLING', `${path}.${key}`, String(found[key]), String(due[key]));
  }
}

/** `entries` by moulding id; every stick and stop has been looked at. */
export function checkHandling(on: Context, entries: ReadonlyMap<string, CheckedPart>): void {
  const split = splitPairs(on);
  const sum: Counts = { visits: 0, layouts: 0, splitPairs: 0, offcuts: 0 };
  for (const [id, entry] of entries) {
    const due = { ...entry.counts, visits: visitsOf(on, entry), splitPairs: split.get(id) ?? 0 };
    compare(on, `${entry.path}.handling`, entry.part.handling, due);
    for (const key of FIGURES) sum[key] += due[key];
  }
  compare(on, 'totals.handling', on.plan.totals.handling, sum);
}
