/** Whole frames, after every stick and stop: all their rails are cut at a stop, and opposing rails are equal. */
import type { MouldingPlan, Shortfall } from '../documents/plan/types.js';
import type { Cents, Moulding, Um } from '../terms.js';
import type { Context } from './context.js';
import { centsOf, mm, umOf } from './numbers.js';
import { type OrderedLine, opposite, sizeOf } from './roster.js';
import type { CheckedStop } from './stops.js';
import type { StickCounts } from './wood/sticks.js';

/** What a plan says of one moulding. */
export interface CheckedPart {
  readonly path: string;
  readonly part: MouldingPlan;
  readonly moulding: Moulding;
  readonly settings: readonly CheckedStop[];
  readonly counts: StickCounts;
  /** Stick length used, and cents paid. */
  readonly stock: Um;
  readonly cost: Cents;
}

/** Marks the frames not made; gives the mouldings that have any. */
export function checkShortfall(on: Context, shortfall: readonly Shortfall[]): ReadonlySet<string> {
  const { roster, findings, batch } = on;
  const known = new Set(batch.mouldings.map((moulding) => moulding.id));
  const priced = new Set(batch.offers.map((offer) => offer.moulding));
  const short = new Set<string>();
  shortfall.forEach(({ moulding, frames, needs, cost }, s) => {
    const path = `shortfall[${s}]`;
    if (!known.has(moulding) || short.has(moulding)) {
      findings.add('CHECK_SHORTFALL', `${path}.moulding`, `"${moulding}"`, 'a moulding of the batch, once');
    }
    short.add(moulding);
    if (!(umOf(needs) > 0)) findings.add('CHECK_NUMBER', `${path}.needs`, String(needs), 'mm above 0');
    if (cost !== null && !(priced.has(moulding) && centsOf(cost) >= 0)) {
      const holds = priced.has(moulding) ? 'whole cents' : 'null, as the moulding has no offers';
      findings.add('CHECK_NUMBER', `${path}.cost`, String(cost), holds);
    }
    if (frames.length === 0) findings.add('CHECK_SHORTFALL', `${path}.frames`, 'none', 'at least one frame');
    frames.forEach((name, f) => {
      const frame = roster.frameAt(name);
      const own = frame >= 0 && roster.lineOf(frame).moulding.id === moulding;
      if (own && roster.short[frame] === 0) roster.short[frame] = 1;
      else
        findings.add(
          'CHECK_SHORTFALL',
          `${path}.frames[${f}]`,
          `"${name}"`,
          'a frame copy of the moulding, once',
        );
    });
  });
  return short;
}

function checkStopOf(on: Context, rail: number, entry: CheckedPart): void {
  const { roster, findings } = on;
  const [stop, length] = [roster.stop[rail]!, roster.length[rail]!];
  if (stop < 0) {
    if (length === 0) return;
    findings.add('CHECK_STOP_RAIL', `${entry.path}.stops`, `"${roster.railName(rail)}" in no pair`);
    return;
  }
  const at = entry.settings[stop]!;
  const { setting, second } = at;
  const path = `${entry.path}.stops[${stop}]`;
  if (length === 0) {
    findings.add('CHECK_STOP_RAIL', path, `"${roster.railName(rail)}", which is on no stick`);
  } else if (length === setting) {
    at.atFirst += 1;
  } else if (length === second) {
    at.atSecond += 1;
  } else {
    const allowed = second === null ? mm(setting) : `${mm(setting)} or ${mm(second)}`;
    findings.add('CHECK_STOP_SETTING', path, `"${roster.railName(rail)}" of ${mm(length)}`, allowed);
  }
}

/** Sides of one size are equal: the opposing rails of a rectangle, all rails of a regular frame. */
function checkEqual(on: Context, ordered: OrderedLine, firstRail: number, path: string): void {
  const { roster, findings } = on;
  const { line, sides } = ordered;
  for (let side = 1; side < sides.length; side++) {
    const regular = line.shape.kind === 'regular';
    const other = regular ? 0 : opposite(side, sides.length);
    if (other > side || sizeOf(line, other) !== sizeOf(line, side)) continue;
    const [length, equal] = [roster.length[firstRail + side]!, roster.length[firstRail + other]!];
    if (length === equal || length === 0 || equal === 0) continue;
    const found = `"${roster.railName(firstRail + side)}" of ${mm(length)}`;
    findings.add('CHECK_OPPOSING', path, found, `${mm(equal)}, as ${sides[other]}`);
  }
}

/** Rails that must be equal are cut at one setting of the stop, not at the same number set twice. */
function checkOneSetting(on: Context, { line, sides }: OrderedLine, firstRail: number, path: string): void {
  const { roster, findings } = on;
  const whole = line.shape.kind === 'regular' || line.match === 'frame';
  for (let side = 1; side < sides.length; side++) {
    const other = whole ? 0 : opposite(side, sides.length);
    const [stop, equal] = [roster.stop[firstRail + side]!, roster.stop[firstRail + other]!];
    if (other > side || stop === equal || stop < 0 || equal < 0) continue;
    const found = `"${roster.railName(firstRail + side)}" at stops[${stop}]`;
    findings.add('CHECK_ONE_SETTING', path, found, `stops[${equal}], as ${sides[other]}`);
  }
}

/** `entries` by moulding id. */
export function checkFrames(on: Context, entries: ReadonlyMap<string, CheckedPart>): void {
  const { roster, findings, verified } = on;
  for (const ordered of roster.lines) {
    const { line, sides, moulding, firstFrame, firstRail } = ordered;
    const entry = entries.get(moulding.id);
    for (let copy = 0; copy < line.quantity; copy++) {
      const frame = firstFrame + copy;
      const first = firstRail + copy * sides.length;
      verified.frames += 1;
      let cut = 0;
      let missing = -1;
      for (let rail = first; rail < first + sides.length; rail++) {
        if (roster.length[rail]! > 0) cut += 1;
        else missing = rail;
        if (entry !== undefined) checkStopOf(on, rail, entry);
      }
      const path = entry?.path ?? 'mouldings';
      if (roster.short[frame] === 1) {
        if (cut === 0) continue;
        findings.add(
          'CHECK_SHORTFALL',
          path,
          `${cut} rails of "${roster.frameName(frame)}", which is in the shortfall`,
        );
      } else if (missing >= 0) {
        const found = `${cut} of ${sides.length} rails of "${roster.frameName(frame)}"`;
        const holds = `"${roster.railName(missing)}" too, or the whole frame in the shortfall`;
        findings.add('CHECK_RAIL_MISSING', path, found, holds);
      }
      checkEqual(on, ordered, first, path);
      checkOneSetting(on, ordered, first, path);
    }
  }
  for (const { path, settings } of entries.values()) {
    settings.forEach(({ second, atFirst, atSecond }, at) => {
      if (second === null || (atFirst > 0 && atSecond > 0)) return;
      const found = `${atFirst} rails at the first stop, ${atSecond} at the second`;
      findings.add(
        'CHECK_SECOND',
        `${path}.stops[${at}].second`,
        found,
        'two stops only where both are used',
      );
    });
  }
}
