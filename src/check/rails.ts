/** The rails of one stick: who they are, their length and angle, and that wood and blade have room between them. */
import type { PlacedRail, PlannedStick } from '../plan/types.js';
import type { Um } from '../terms.js';
import type { InMoulding } from './context.js';
import { clearance, GUARD, type Joint, jointOf, parallel, sharesCut, type Wood } from './geometry.js';
import { lengthAt, mm } from './numbers.js';
import { sizeOf } from './roster.js';
import type { CheckCode } from './rules.js';

/** A rail where it stands. */
export interface Standing extends Wood {
  /** Its number in the roster; −1 where nobody ordered it. */
  readonly rail: number;
  /** Index in the plan's list. */
  readonly at: number;
  /** Flaws to its left: rails with the same number are in one segment. */
  lane: number;
}

const JOINT: Readonly<Record<Exclude<Joint, 'sound'>, CheckCode>> = {
  wood: 'CHECK_WOOD',
  kerf: 'CHECK_KERF',
  recut: 'CHECK_RECUT',
  nest: 'CHECK_NEST',
};

function identify(on: InMoulding, placed: PlacedRail, path: () => string): number {
  const { roster, findings, moulding } = on;
  const frame = roster.frameAt(placed.frame);
  const rail = frame < 0 ? -1 : roster.railAt(frame, placed.side);
  if (rail < 0 || placed.rail !== `${placed.frame}/${placed.side}`) {
    const given = `rail "${placed.rail}", frame "${placed.frame}", side "${placed.side}"`;
    findings.add('CHECK_RAIL_ID', path(), given, 'frame id/copy/side of an order line');
    return -1;
  }
  const ordered = roster.lineOf(frame).moulding;
  if (ordered.id !== moulding.id) {
    findings.add(
      'CHECK_RAIL_ID',
      path(),
      `"${placed.rail}" of moulding "${ordered.id}"`,
      'rails of this moulding',
    );
    return -1;
  }
  if (roster.lengthOf(rail) > 0) {
    findings.add('CHECK_RAIL_TWICE', path(), `"${placed.rail}" a second time`);
    return -1;
  }
  return rail;
}

function measure(on: InMoulding, placed: PlacedRail, rail: number, length: Um, path: () => string): void {
  const { roster, settings, findings, moulding } = on;
  const { line, index, sides } = roster.lineOf(roster.frameOf(rail));
  const size = sizeOf(line, roster.sideOf(rail));
  roster.length[rail] = length;
  if (!settings.allows(index, size, moulding, length)) {
    findings.add('CHECK_LENGTH', `${path()}.length`, mm(length), settings.wanted(index, size, moulding));
  }
  const { angle } = on.mitreOf(sides.length);
  // Half of a third decimal: 25.714 says 180/7.
  if (!(Math.abs(placed.angle - angle) <= 0.0005)) {
    findings.add(
      'CHECK_ANGLE',
      `${path()}.angle`,
      String(placed.angle),
      `${angle}°, a ring of ${sides.length}`,
    );
  }
}

/** Sides of the ring whose mitre an angle is; 4 for an angle that is none. */
function ringOf(angle: number): number {
  const sides = Math.round(180 / angle);
  return sides >= 3 && sides <= 1000 ? sides : 4;
}

/** The rails whose numbers can be trusted, left to right. */
export function standingRails(on: InMoulding, stick: PlannedStick, stickPath: string): Standing[] {
  const { roster, findings, moulding, verified } = on;
  const standing: Standing[] = [];
  stick.rails.forEach((placed, at) => {
    const path = () => `${stickPath}.rails[${at}]`;
    verified.rails += 1;
    const start = lengthAt(placed.start, () => `${path()}.start`, findings);
    const length = lengthAt(placed.length, () => `${path()}.length`, findings);
    if (length === 0) findings.add('CHECK_NUMBER', `${path()}.length`, '0', 'a length above 0');
    if (placed.flipped && !moulding.reversible) findings.add('CHECK_FLIPPED', path(), 'a flipped rail');
    const rail = identify(on, placed, path);
    if (!(length > 0 && start >= 0)) return;
    if (rail >= 0) measure(on, placed, rail, length, path);
    // A stranger still is wood; how it is cut only its own angle says.
    const sides = rail >= 0 ? roster.lineOf(roster.frameOf(rail)).sides.length : ringOf(placed.angle);
    const wood = { start, end: start + length, flipped: placed.flipped, mitre: on.mitreOf(sides) };
    standing.push({ ...wood, rail, at, lane: 0 });
  });
  for (let i = 1; i < standing.length; i++) {
    if (standing[i]!.start < standing[i - 1]!.start) return standing.sort((a, b) => a.start - b.start);
  }
  return standing;
}

/** Trims, flaws, and what is between neighbours. Fills in `lane`. */
export function checkPlaces(
  on: InMoulding,
  rails: readonly Standing[],
  length: Um,
  flaws: readonly (readonly [Um, Um])[],
  stickPath: string,
): void {
  const { findings, moulding, batch, verified } = on;
  const last = length - moulding.endTrim;
  let lane = 0;
  rails.forEach((rail, i) => {
    const path = () => `${stickPath}.rails[${rail.at}]`;
    const span = () => `${mm(rail.start)} to ${mm(rail.end)}`;
    if (rail.start < moulding.endTrim || rail.end > last) {
      findings.add('CHECK_TRIM', path(), span(), `within ${mm(moulding.endTrim)} to ${mm(last)}`);
    }
    while (lane < flaws.length && flaws[lane]![1] <= rail.start) lane += 1;
    rail.lane = lane;
    const flaw = flaws[lane];
    if (flaw !== undefined && rail.end > flaw[0]) {
      findings.add('CHECK_FLAW', path(), span(), `clear of the flaw from ${mm(flaw[0])} to ${mm(flaw[1])}`);
    }
    const before = rails[i - 1];
    if (before === undefined) return;
    verified.joints += 1;
    const joint = jointOf(before, rail, batch.saw.recut);
    if (joint === 'sound') return;
    findings.add(JOINT[joint], path(), foundAt(before, rail), roomFor(before, rail, batch.saw.recut));
  });
}

function foundAt(left: Standing, right: Standing): string {
  if (!parallel(left, right))
    return `${mm(right.start - left.end)} after the long point of rails[${left.at}]`;
  return `${mm(Math.round(clearance(left, right)))} between facing cuts with rails[${left.at}]`;
}

function roomFor(left: Standing, right: Standing, recut: Um): string {
  const blade = mm(Math.ceil(Math.max(left.mitre.blade, right.mitre.blade) - GUARD));
  if (parallel(left, right)) return `${blade} along the stick for the blade`;
  return `${blade} for the blade${recut > 0 ? ` and ${mm(recut)} recut` : ''} between long points`;
}

/** Adds the lengths and cuts of a stick's rails to the sums. */
export function sumRails(on: InMoulding, rails: readonly Standing[]): void {
  const { sums, moulding } = on;
  rails.forEach((rail, i) => {
    const [before, after] = [rails[i - 1], rails[i + 1]];
    const nests = moulding.reversible;
    const joined = nests && before?.lane === rail.lane && sharesCut(before, rail);
    const joins = nests && after?.lane === rail.lane && sharesCut(rail, after);
    const lean = joined || joins ? rail.mitre.lean : 0;
    sums.railLeast += rail.end - rail.start - Math.ceil(lean - GUARD);
    sums.railMost += rail.end - rail.start - Math.floor(lean + GUARD);
    sums.cuts += joined ? 1 : 2;
  });
}
