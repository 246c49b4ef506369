/**
 * Which frames are left out when stock is short. Only planning can tell which frames could be made. But of two frames
 * that ask for equal rails and the same match, the earlier could have been cut in place of the later.
 */
import type { Context } from './context.js';
import type { OrderedLine } from './roster.js';

/** 1 before 2, before those without; then in the order given. */
function earlier(a: OrderedLine, b: OrderedLine): number {
  const [one, other] = [a.line.priority, b.line.priority];
  if (one === other) return a.index - b.index;
  if (one === null) return 1;
  return other === null ? -1 : one - other;
}

function askFor({ settings }: Context, { line, index, moulding, sides }: OrderedLine): string {
  const own = [settings.own(index, 0, moulding)];
  if (line.shape.kind === 'rectangle') own.push(settings.own(index, 1, moulding));
  return JSON.stringify([moulding.id, sides.length, line.match, own.sort((a, b) => a - b)]);
}

export function checkPriority(on: Context): void {
  const { roster, findings, plan } = on;
  const short = new Set(plan.shortfall.map(({ moulding }) => moulding));
  /** The last line with a frame made, for each set of rails and match. */
  const made = new Map<string, OrderedLine>();
  const lines = roster.lines.filter(({ moulding }) => short.has(moulding.id)).sort(earlier);
  const copies = ({ line, firstFrame }: OrderedLine) =>
    roster.short.subarray(firstFrame, firstFrame + line.quantity);
  for (const ordered of lines) {
    if (copies(ordered).includes(0)) made.set(askFor(on, ordered), ordered);
  }
  for (const ordered of lines) {
    const missing = copies(ordered).indexOf(1);
    if (missing < 0) continue;
    const later = made.get(askFor(on, ordered));
    if (later === undefined || earlier(ordered, later) >= 0) continue;
    const name = roster.frameName(ordered.firstFrame + missing);
    const found = `"${name}" left out, frames of "${later.line.id}" made`;
    findings.add('CHECK_PRIORITY', 'shortfall', found, `"${name}" before any frame of "${later.line.id}"`);
  }
}
