/** How true the saw must be for the frames of a batch, and what a measured angle does to them. Pure. */

import type { FrameCheck, Measured, PairTolerance, SawCheck, TestRing } from '../documents/saw/types.js';
import { PairstopError } from '../errors.js';
import { compare, toNumber } from '../lengths/exact.js';
import { formatLength } from '../lengths/format.js';
import { mmFromUm } from '../lengths/units.js';
import { type Notice, notice } from '../notices.js';
import { mitreAngle } from '../rails/mitre.js';
import { railsOf, sidesOf } from '../rails/rails.js';
import type { Batch, Moulding, Um } from '../terms.js';
import {
  cornerFor,
  differenceFor,
  errorFor,
  faceLength,
  lastGap,
  lastMiss,
  type MitredRing,
  sharedGap,
} from './geometry.js';
import { anglesByMitre, degrees } from './measured.js';
import { rounded, testRing } from './test-ring.js';

export interface SawOptions {
  /** The widest joint wanted, micrometres. */
  readonly gap: Um;
  /** Measured angles of cut, degrees off square, at most one for each mitre of the batch. */
  readonly angles?: readonly number[];
}

const DEGREE = 180 / Math.PI;
const ANGLE_DECIMALS = 4;
/** Micrometres: less than any joint shows. Only keeps the arithmetic away from zero. */
const LEAST_GAP = 10;
/** Micrometres: far below what is shown, far above the error of doubles. */
const GUARD = 1e-6;

/** Rounded towards zero: an allowance is never shown larger than it is. */
function allowed(value: number, decimals: number): number {
  const scale = 10 ** decimals;
  return Math.floor(value * scale) / scale;
}

const mm = (um: number): number => rounded(mmFromUm(um), 3);

function measured(ring: MitredRing, angle: number, wanted: Um): Measured {
  const sides = ring.lengths.length;
  const off = angle - mitreAngle(sides);
  const error = off / DEGREE;
  const gap = lastGap(ring.face, sides, error);
  const past = rounded(off, ANGLE_DECIMALS);
  return {
    angle,
    error: past,
    lastJoint: rounded(2 * sides * off, ANGLE_DECIMALS),
    gap: mm(gap),
    shared: mm(sharedGap(ring.face, sides, error)),
    miss: mm(lastMiss(ring, error)),
    opens: past === 0 ? 'nowhere' : past > 0 ? 'sight' : 'outside',
    holds: gap <= wanted + GUARD,
  };
}

function pairs(rails: ReturnType<typeof railsOf>, face: number, gap: Um): readonly PairTolerance[] {
  const [first, second] = rails;
  if (first === undefined) return [];
  const sides = second === undefined ? first.sides.length : 4;
  const corner = cornerFor(face, sides, gap);
  const tolerance = (own: typeof first, lengths: readonly Um[]): PairTolerance => ({
    rails: own.sides,
    length: mm(own.setting),
    difference: allowed(mmFromUm(differenceFor({ face, lengths }, corner)), 3),
  });
  if (second === undefined) return [tolerance(first, new Array<Um>(sides).fill(first.setting))];
  const [a, b] = [first.setting, second.setting];
  return [tolerance(first, [a, b, a, b]), tolerance(second, [b, a, b, a])];
}

function frameCheck(
  batch: Batch,
  line: number,
  moulding: Moulding,
  gap: Um,
  angles: ReadonlyMap<number, number>,
): FrameCheck {
  const frame = batch.frames[line]!;
  const sides = sidesOf(frame);
  const face = toNumber(moulding.face);
  const rails = railsOf(batch, line, moulding);
  const [a, b] = rails.map((rail) => rail.setting);
  const lengths = b === undefined ? new Array<Um>(sides).fill(a!) : [a!, b, a!, b];
  const angle = allowed(errorFor(face, sides, gap) * DEGREE, ANGLE_DECIMALS);
  const seen = angles.get(sides);
  return {
    frame: frame.id,
    moulding: moulding.id,
    sides,
    mitre: mitreAngle(sides),
    ends: 2 * sides,
    face: mm(face),
    joint: mm(faceLength(face, sides)),
    angle,
    lastJoint: rounded(2 * sides * angle, ANGLE_DECIMALS),
    pairs: pairs(rails, face, gap),
    measured: seen === undefined ? null : measured({ face, lengths }, seen, gap),
  };
}

function refuseGap(batch: Batch, used: readonly Moulding[], gap: Um): void {
  const narrowest = used.reduce((least, one) => (compare(one.face, least.face) < 0 ? one : least));
  if (gap >= LEAST_GAP && gap <= toNumber(narrowest.face)) return;
  const given = `${mm(gap)} mm`;
  const most = formatLength(toNumber(narrowest.face), batch.units);
  const holds = `${mm(LEAST_GAP)} mm to ${most}, the face of "${narrowest.id}"`;
  throw new PairstopError('PS_GAP', `--gap: given ${given}; allowed: ${holds}`, [
    { path: '--gap', given, allowed: holds },
  ]);
}

function noticesOf(
  batch: Batch,
  frames: readonly FrameCheck[],
  angles: readonly number[],
): readonly Notice[] {
  const found: Notice[] = [];
  const least = frames.flatMap((frame) => frame.pairs.map((pair) => pair.difference)).sort((a, b) => a - b);
  const step = toNumber(batch.saw.stopStep);
  const coarse = least.filter((difference) => mmFromUm(step) > difference).length;
  if (coarse > 0) {
    const mark = formatLength(step, batch.units, batch.saw.stopStep);
    const message = `one mark of the stop, ${mark}, is more than ${coarse} of the pairs may differ by: cut both rails of a pair at one setting, and set the stop again only against a rail already cut`;
    found.push(notice('PS_STOP_COARSE', 'saw.stopStep', message));
  }
  const open = frames.filter((frame) => angles.length > 0 && frame.measured === null);
  if (open.length > 0) {
    const mitres = [...new Set(open.map((frame) => degrees(frame.mitre)))].join(', ');
    const message = `no angle was given near ${mitres}: measure it as well before cutting those frames`;
    found.push(notice('PS_NOT_MEASURED', '', message));
  }
  return found;
}

/** Throws PS_GAP or PS_ANGLE for a gap or an angle that does not suit this batch. */
export function sawCheck(batch: Batch, options: SawOptions): SawCheck {
  const { gap, angles = [] } = options;
  const mouldings = new Map(batch.mouldings.map((moulding) => [moulding.id, moulding]));
  const mouldingOf = (line: number): Moulding => mouldings.get(batch.frames[line]!.moulding)!;
  const lines = [...batch.frames.keys()];
  refuseGap(batch, [...new Set(lines.map(mouldingOf))], gap);
  const widest = new Map<number, number>();
  for (const line of lines) {
    const sides = sidesOf(batch.frames[line]!);
    const before = widest.get(sides);
    const wider = before === undefined || compare(mouldingOf(line).face, mouldingOf(before).face) > 0;
    if (wider) widest.set(sides, line);
  }
  const byMitre = anglesByMitre(angles, [...widest.keys()]);
  const frames = lines.map((line) => frameCheck(batch, line, mouldingOf(line), gap, byMitre));
  const seen = frames.flatMap((frame) => (frame.measured === null ? [] : [frame.measured.holds]));
  const tests = [...widest]
    .sort(([a], [b]) => a - b)
    .map(([sides, line]): TestRing => testRing(batch, mouldingOf(line), line, sides, gap));
  return {
    schema: 'pairstop/saw@1',
    batch: batch.id,
    units: batch.units,
    gap: mmFromUm(gap),
    frames,
    holds: seen.length === 0 ? null : seen.every(Boolean),
    tests,
    notices: noticesOf(batch, frames, angles),
  };
}
