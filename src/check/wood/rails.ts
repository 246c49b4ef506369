/** The rails of one stick: which they are, their length and angle, and the room for wood and blade between them. */
import type { PlacedRail } from '../../documents/plan/types.js';
import type { PieceEnds, Um } from '../../terms.js';
import type { InMoulding } from '../context.js';
import { lengthAt, mm } from '../numbers.js';
import { sizeOf } from '../roster.js';
import type { CheckCode } from '../rules.js';
import { clearance, GUARD, type Joint, jointOf, parallel, sharesCut, type Wood } from './geometry.js';

/** A rail where it stands. */
export interface StandingRail extends Wood {
  /** Its number in the roster; −1 where it is not ordered. */
  readonly rail: number;
  /** The document's list it stands in, and its index there. */
  readonly list: string;
  readonly at: number;
  /** Its wood is gone, and nothing more is asked of it. */
  readonly lost: boolean;
  /** Flaws to its left: rails with the same number are in one segment. */
  lane: number;
}

const JOINT: Readonly<Record<Exclude<Joint, 'sound'>, CheckCode>> = {
  wood: 'CHECK_WOOD',
  kerf: 'CHECK_KERF',
  recut: 'CHECK_RECUT',
  nest: 'CHECK_NEST',
};

/** Whether `id` is `frame/side`, without building it. */
function named(id: string, frame: string, side: string): boolean {
  const at = frame.length;
  return id.length === at + 1 + side.length && id[at] === '/' && id.startsWith(frame) && id.endsWith(side);
}

function identify(on: InMoulding, placed: PlacedRail, list: string, at: number, lost: boolean): number {
  const { roster, findings, moulding } = on;
  const frame = roster.frameAt(placed.frame);
  const rail = frame < 0 ? -1 : roster.railAt(frame, placed.side);
  const path = () => `${list}[${at}]`;
  if (rail < 0 || !named(placed.rail, placed.frame, placed.side)) {
    const given = `rail "${placed.rail}", frame "${placed.frame}", side "${placed.side}"`;
    findings.add('CHECK_RAIL_ID', path(), given, 'frame id/copy/side of an order line');
    return -1;
  }
  const ordered = roster.lineOf(frame).moulding;
  if (ordered.id !== moulding.id) {
    const given = `"${placed.rail}" of moulding "${ordered.id}"`;
    findings.add('CHECK_RAIL_ID', path(), given, 'rails of this moulding');
    return -1;
  }
  if (lost) return rail;
  if (roster.length[rail]! > 0) {
    findings.add('CHECK_RAIL_TWICE', path(), `"${placed.rail}" a second time`);
    return -1;
  }
  return rail;
}

/** Notes the length of a rail, and checks it and the angle against the order line. */
function measure(
  on: InMoulding,
  placed: PlacedRail,
  rail: number,
  length: Um,
  list: string,
  at: number,
  lost: boolean,
): void {
  const { roster, settings, findings, moulding } = on;
  const { line, index, sides } = roster.lineOf(roster.frameOf(rail));
  const size = sizeOf(line, roster.sideOf(rail));
  if (!lost) roster.length[rail] = length;
  if (!settings.allows(index, size, moulding, length)) {
    const wanted = settings.wanted(index, size, moulding);
    findings.add('CHECK_LENGTH', `${list}[${at}].length`, mm(length), wanted);
  }
  const { angle } = on.mitreOf(sides.length);
  // Half of a third decimal: 25.714 says 180/7.
  if (Math.abs(placed.angle - angle) <= 0.0005) return;
  const wanted = `${angle}°, a ring of ${sides.length}`;
  findings.add('CHECK_ANGLE', `${list}[${at}].angle`, String(placed.angle), wanted);
}

/** Sides of the ring whose mitre is nearest to this angle; 4 where there is no such ring. */
function ringOf(angle: number): number {
  const sides = Math.round(180 / angle);
  return sides >= 3 && sides <= 1000 ? sides : 4;
}

function standingRail(
  on: InMoulding,
  placed: PlacedRail,
  list: string,
  at: number,
  lost: boolean,
): StandingRail | null {
  const { roster, findings, moulding, verified } = on;
  verified.rails += 1;
  const start = lengthAt(placed.start, findings, list, at, 'start');
  const length = lengthAt(placed.length, findings, list, at, 'length');
  if (length === 0) findings.add('CHECK_NUMBER', `${list}[${at}].length`, '0', 'a length above 0');
  const flipped = placed.flipped;
  if (flipped && !moulding.reversible) findings.add('CHECK_FLIPPED', `${list}[${at}]`, 'a flipped rail');
  const rail = identify(on, placed, list, at, lost);
  if (!(length > 0 && start >= 0)) return null;
  if (rail >= 0) measure(on, placed, rail, length, list, at, lost);
  // A rail nobody ordered is still wood; only its own angle says how it is cut.
  const sides = rail >= 0 ? roster.lineOf(roster.frameOf(rail)).sides.length : ringOf(placed.angle);
  return { start, end: start + length, flipped, mitre: on.mitreOf(sides), rail, list, at, lost, lane: 0 };
}

/** The rails of a list whose numbers are sound, left to right. */
export function standingRails(
  on: InMoulding,
  rails: readonly PlacedRail[],
  list: string,
  lost = false,
): StandingRail[] {
  const standing: StandingRail[] = [];
  let sorted = true;
  for (let at = 0; at < rails.length; at++) {
    const rail = standingRail(on, rails[at]!, list, at, lost);
    if (rail === null) continue;
    const before = standing.at(-1);
    sorted &&= before === undefined || before.start <= rail.start;
    standing.push(rail);
  }
  return sorted ? standing : standing.sort((a, b) => a.start - b.start);
}

/** What no rail may reach into at the left and the right end of a stick. */
export type Trims = readonly [Um, Um];

/**
 * A rough end loses the moulding's trim. One that is sawn or mitred loses at most what getting the saw onto a corner does.
 */
export function trimsOf(on: InMoulding, ends: PieceEnds): Trims {
  const { endTrim } = on.moulding;
  const clean = Math.min(endTrim, on.batch.saw.recut);
  return [ends[0] === 'raw' ? endTrim : clean, ends[1] === 'raw' ? endTrim : clean];
}

/** Trims, flaws, and what is between neighbours. Fills in `lane`. */
export function checkPlaces(
  on: InMoulding,
  rails: readonly StandingRail[],
  length: Um,
  flaws: readonly (readonly [Um, Um])[],
  trims: Trims,
): void {
  const { findings, batch, verified } = on;
  const [first, last] = [trims[0], length - trims[1]];
  const add = (code: CheckCode, rail: StandingRail, found: string, holds: string) =>
    findings.add(code, `${rail.list}[${rail.at}]`, found, holds);
  let lane = 0;
  let before: StandingRail | undefined;
  for (const rail of rails) {
    if (rail.start < first || rail.end > last) {
      add('CHECK_TRIM', rail, spanText(rail), `within ${mm(first)} to ${mm(last)}`);
    }
    while (lane < flaws.length && flaws[lane]![1] <= rail.start) lane += 1;
    rail.lane = lane;
    const flaw = flaws[lane];
    if (flaw !== undefined && rail.end > flaw[0] && !rail.lost) {
      add('CHECK_FLAW', rail, spanText(rail), `clear of the flaw from ${mm(flaw[0])} to ${mm(flaw[1])}`);
    }
    if (before !== undefined) {
      verified.joints += 1;
      const joint = jointOf(before, rail, batch.saw.recut);
      if (joint !== 'sound') {
        add(JOINT[joint], rail, foundAt(before, rail), roomFor(before, rail, batch.saw.recut));
      }
    }
    before = rail;
  }
}

function spanText(rail: StandingRail): string {
  return `${mm(rail.start)} to ${mm(rail.end)}`;
}

/** `rails[3]`. */
function inList({ list, at }: StandingRail): string {
  return `${list.slice(list.lastIndexOf('.') + 1)}[${at}]`;
}

function foundAt(left: StandingRail, right: StandingRail): string {
  if (!parallel(left, right)) return `${mm(right.start - left.end)} after the long point of ${inList(left)}`;
  return `${mm(Math.round(clearance(left, right)))} between facing cuts with ${inList(left)}`;
}

function roomFor(left: StandingRail, right: StandingRail, recut: Um): string {
  const blade = mm(Math.ceil(Math.max(left.mitre.blade, right.mitre.blade) - GUARD));
  if (parallel(left, right)) return `${blade} along the stick for the blade`;
  return `${blade} for the blade${recut > 0 ? ` and ${mm(recut)} recut` : ''} between long points`;
}

/** Adds the lengths and cuts of a stick's rails to the sums. */
export function sumRails(on: InMoulding, rails: readonly StandingRail[]): void {
  const { sums, moulding } = on;
  let joined = false;
  rails.forEach((rail, i) => {
    const after = rails[i + 1];
    const joins = moulding.reversible && after?.lane === rail.lane && sharesCut(rail, after);
    const lean = joined || joins ? rail.mitre.lean : 0;
    sums.railLeast += rail.end - rail.start - Math.ceil(lean - GUARD);
    sums.railMost += rail.end - rail.start - Math.floor(lean + GUARD);
    sums.cuts += joined ? 1 : 2;
    joined = joins;
  });
}
