/** A small ring of n equal rails from scrap: its last joint shows the errors of all 2n ends at once. */

import type { RingReading, TestRing } from '../documents/saw/types.js';
import { toNumber } from '../lengths/exact.js';
import { mmFromUm } from '../lengths/units.js';
import { mitreAngle, reachUm } from '../rails/mitre.js';
import { settingFor } from '../rails/rails.js';
import { spacingOf } from '../stock/items.js';
import { runLength } from '../stock/spacing.js';
import type { Batch, Moulding, Um } from '../terms.js';
import { errorFor } from './geometry.js';

/** Readings shown beside the passing one, as parts of it. */
const PARTS = [0.5, 1, 2, 4] as const;
const DEGREE = 180 / Math.PI;

export function rounded(value: number, decimals: number): number {
  return Number(value.toFixed(decimals));
}

function readings(face: number, sides: number, pass: Um): readonly RingReading[] {
  return PARTS.map((part) => {
    const gap = Math.round(pass * part);
    const error = (sign: 1 | -1): number => rounded(errorFor(face, sides, gap, sign) * DEGREE, 4);
    return { gap: mmFromUm(gap), past: error(1), short: error(-1) };
  });
}

/**
 * The ring for one mitre, cut from the widest face of the batch that has it: there the joint opens most. Its rails are long enough
 * to be held, and leave a sight edge as long as the face is wide. `line` is an order line of that moulding and mitre.
 */
export function testRing(batch: Batch, moulding: Moulding, line: number, sides: number, gap: Um): TestRing {
  const { clampBelow, stopStep } = batch.saw;
  const face = toNumber(moulding.face);
  const sound = 2 * reachUm(moulding.face, sides).up + Math.ceil(face);
  const setting = settingFor(Math.max(clampBelow, sound), stopStep);
  const run = new Array<Um>(sides).fill(setting);
  const scrap = runLength(spacingOf(batch, moulding, [line]), 0, run) + 2 * moulding.endTrim;
  return {
    sides,
    mitre: mitreAngle(sides),
    moulding: moulding.id,
    face: rounded(mmFromUm(face), 3),
    setting: mmFromUm(setting),
    clamp: setting < clampBelow,
    scrap: mmFromUm(scrap),
    pass: mmFromUm(gap),
    readings: readings(face, sides, gap),
  };
}
