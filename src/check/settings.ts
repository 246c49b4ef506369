/**
 * How long a rail must be. Per side, with t = tan 180°/n (1 for a rectangle):
 *
 *     rabbet = glass + play·t,  sight = rabbet − 2R·t,  outside = sight + 2F·t
 *
 * A rail is its outside length rounded up to the stop step, in whole micrometres. Where stops are merged it may be any
 * setting on the step, or a gauge stick's, from the need at `play` to the need at `playMax`.
 */
import {
  add,
  compare,
  type Exact,
  exact,
  floorDivide,
  needUm,
  supplyUm,
  times,
  toNumber,
  ZERO,
} from '../lengths/exact.js';
import type { Batch, FrameLine, Moulding, Um } from '../terms.js';
import { mm } from './numbers.js';
import { GUARD } from './wood/geometry.js';

/** size + across·tan(180°/sides), in micrometres: rational where `sides` is 4 or nothing is added. */
interface SideSize {
  readonly size: Exact;
  readonly across: Exact;
  readonly sides: number;
}

/** Times tan θ, this takes a size, measured as the line says, to the outside size. */
function acrossOf(line: FrameLine, moulding: Moulding, play: Exact): Exact {
  const face = times(moulding.face, 2n);
  const lip = times(moulding.rabbet, -2n);
  switch (line.measuredBy) {
    case 'glass':
      return add(add(play, lip), face);
    case 'rabbet':
      return add(lip, face);
    case 'sight':
      return face;
    case 'outside':
      return ZERO;
  }
}

function irrational(need: SideSize): boolean {
  return need.sides !== 4 && need.across.num !== 0n;
}

function nearest(need: SideSize): number {
  const tan = need.sides === 4 ? 1 : Math.tan(Math.PI / need.sides);
  return toNumber(need.size) + toNumber(need.across) * tan;
}

/** Sign of length − need; 0 also where an irrational need is within the guard. */
function against(length: Exact, need: SideSize): number {
  if (!irrational(need)) return compare(length, add(need.size, need.across));
  const over = toNumber(length) - nearest(need);
  return Math.abs(over) <= GUARD ? 0 : over;
}

/** The n whose n·step is `um` once rounded up to whole micrometres; null when there is none. */
function stepsOf(um: Um, step: Exact): bigint | null {
  const n = floorDivide(exact(BigInt(um)), step);
  return compare(exact(BigInt(um) - 1n), times(step, n)) < 0 ? n : null;
}

/** At least the need, and the next shorter setting is not. */
function roundsUp(um: Um, step: Exact, need: SideSize): boolean {
  const n = stepsOf(um, step);
  if (n === null || against(exact(BigInt(um)), need) < 0) return false;
  const shorter = against(times(step, n - 1n), need);
  return shorter < 0 || (shorter === 0 && irrational(need));
}

export class Settings {
  readonly #batch: Batch;
  readonly #gauges: ReadonlySet<Um>;
  /** The last length found right, by line and size: rails of one size are nearly always equal. */
  readonly #right: Float64Array;

  constructor(batch: Batch) {
    this.#batch = batch;
    this.#right = new Float64Array(2 * batch.frames.length);
    this.#gauges = new Set(batch.gauges.map((gauge) => gauge.length));
  }

  /** Whether sides of size 0 (width, or the side of a regular frame) or 1 (height) of a line may be `um` long. */
  allows(index: number, size: 0 | 1, moulding: Moulding, um: Um): boolean {
    const key = index * 2 + size;
    if (this.#right[key] === um) return true;
    const right = this.#judge(index, size, moulding, um);
    if (right) this.#right[key] = um;
    return right;
  }

  #judge(index: number, size: 0 | 1, moulding: Moulding, um: Um): boolean {
    const line = this.#batch.frames[index]!;
    const step = this.#batch.saw.stopStep;
    const need = needOf(line, size, moulding, line.play);
    if (roundsUp(um, step, need)) return true;
    if (!this.#batch.options.mergeStops || line.playMax === null) return false;
    if (stepsOf(um, step) === null && !this.#gauges.has(um)) return false;
    const most = needOf(line, size, moulding, line.playMax);
    // A setting on the step may stand up to one micrometre above its true length.
    return against(exact(BigInt(um)), need) >= 0 && against(exact(BigInt(um) - 1n), most) < 0;
  }

  /** The ordinary setting, of needs and marks both rounded up to whole micrometres. */
  own(index: number, size: 0 | 1, moulding: Moulding): Um {
    const line = this.#batch.frames[index]!;
    const need = needOf(line, size, moulding, line.play);
    const um = irrational(need) ? Math.ceil(nearest(need) + GUARD) : needUm(add(need.size, need.across));
    // The least n·step above um − 1 is the least that is um or more once rounded up.
    const step = this.#batch.saw.stopStep;
    return needUm(times(step, floorDivide(exact(BigInt(um) - 1n), step) + 1n));
  }

  /** The longest setting, on the step or of a gauge stick, where stops are merged. */
  longest(index: number, size: 0 | 1, moulding: Moulding): Um {
    const line = this.#batch.frames[index]!;
    const own = this.own(index, size, moulding);
    if (!this.#batch.options.mergeStops || line.playMax === null) return own;
    if (line.measuredBy !== 'glass') return own;
    const need = needOf(line, size, moulding, line.playMax);
    const most = irrational(need) ? below(nearest(need)) : add(need.size, need.across);
    const step = this.#batch.saw.stopStep;
    return Math.max(own, needUm(times(step, floorDivide(most, step))), supplyUm(most));
  }

  /** The rule in words, for a finding. */
  wanted(index: number, size: 0 | 1, moulding: Moulding): string {
    const line = this.#batch.frames[index]!;
    const { stopStep } = this.#batch.saw;
    const least = nearest(needOf(line, size, moulding, line.play));
    const rounded = `${mm(Math.round(least * 1000) / 1000)} rounded up to the stop step of ${mm(toNumber(stopStep))}`;
    if (!this.#batch.options.mergeStops || line.playMax === null) return rounded;
    const most = nearest(needOf(line, size, moulding, line.playMax));
    return `${rounded}, or a setting up to ${mm(Math.round(most * 1000) / 1000)}`;
  }
}

/** A fraction just below an irrational length, finer than any two marks of a scale differ. */
function below(um: number): Exact {
  return exact(BigInt(Math.floor((um - GUARD) * 65_536)), 65_536n);
}

function needOf(line: FrameLine, size: 0 | 1, moulding: Moulding, play: Exact): SideSize {
  const { shape } = line;
  const across = acrossOf(line, moulding, play);
  if (shape.kind === 'regular') return { size: shape.side, across, sides: shape.sides };
  return { size: size === 0 ? shape.width : shape.height, across, sides: 4 };
}
