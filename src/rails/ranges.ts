/**
 * How long a rail may be where stops are merged. Only a frame measured by its glass leaves room: its rabbet may exceed the
 * glass by `play` to `playMax`. A rabbet, sight or outside size is exactly what was asked for, so such a rail keeps its one
 * setting; so does a rail without `playMax`.
 */
import { add, type Exact, floorDivide, needUm, supplyUm, times, toNumber } from '../lengths/exact.js';
import type { Batch, Moulding, Um } from '../terms.js';
import { mitreTan, type RingSides } from './mitre.js';
import { orderedSides, railsOf, sidesOf } from './rails.js';

/** Every setting on the stop step, and every gauge stick, from `low` to `high`; `low` is the rail's own setting. */
export interface SettingRange {
  readonly low: Um;
  readonly high: Um;
}

/** Micrometres; far above the error of a double here, as in `mitre.ts`. */
const GUARD = 1e-6;
const FRACTIONS = 65_536;

/** size + across·tan θ; where that is irrational, a fraction just below it. */
function atMost(size: Exact, across: Exact, sides: RingSides): Exact {
  if (sides === 4 || across.num === 0n) return add(size, across);
  const below = toNumber(size) + toNumber(across) * mitreTan(sides) - GUARD;
  return { num: BigInt(Math.floor(below * FRACTIONS)), den: BigInt(FRACTIONS) };
}

/** One range for each rail of `railsOf`, in its order. */
export function rangesOf(batch: Batch, index: number, moulding: Moulding): readonly SettingRange[] {
  const line = batch.frames[index]!;
  const { playMax, measuredBy } = line;
  const rails = railsOf(batch, index, moulding);
  if (playMax === null || measuredBy !== 'glass') {
    return rails.map(({ setting }) => ({ low: setting, high: setting }));
  }
  const { stopStep } = batch.saw;
  const across = add(add(playMax, times(moulding.rabbet, -2n)), times(moulding.face, 2n));
  return orderedSides(line).map(({ size }, i) => {
    const low = rails[i]!.setting;
    const most = atMost(size, across, sidesOf(line));
    // A mark within the range may stand up to one micrometre above its true place, as every setting does.
    const mark = needUm(times(stopStep, floorDivide(most, stopStep)));
    return { low, high: Math.max(low, mark, supplyUm(most)) };
  });
}
