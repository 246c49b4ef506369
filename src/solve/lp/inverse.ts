import {
  assembled,
  type Code,
  constant,
  DOUBLE,
  END,
  F64,
  F64_ADD,
  get,
  I32,
  I32_ADD,
  I32_AT_LEAST,
  keep,
  lane,
  leaveIf,
  overMemory,
  repeat,
  SPLAT,
  set,
  storeVector,
  V_ADD,
  V_SUBTRACT,
  V_TIMES,
  V128,
  VECTOR,
  vector,
} from '../assembly.js';

/** Vectors done in a round of the loop; rows are padded to whole rounds. */
const UNROLLED = 4;
const ROUND = 2 * UNROLLED;

/** `to[k] −= factor · from[k]` until `to` reaches `end`, byte addresses; answers Σ to[k]². */
type Subtract = (to: number, from: number, end: number, factor: number) => number;

const [TO, FROM, STOP, FACTOR, FACTORS, VALUE, SUM] = [0, 1, 2, 3, 4, 5, 6];

const BODY: Code = [
  [1, 3, V128],
  [get(FACTOR), SPLAT, set(FACTORS)],
  repeat([
    [get(TO), get(STOP), I32_AT_LEAST, leaveIf],
    Array.from({ length: UNROLLED }, (_, k) => [
      [get(TO), get(TO), vector(VECTOR * k), get(FROM), vector(VECTOR * k), get(FACTORS), V_TIMES],
      [V_SUBTRACT, keep(VALUE), storeVector(VECTOR * k)],
      [get(SUM), get(VALUE), get(VALUE), V_TIMES, V_ADD, set(SUM)],
    ]),
    // Twice, as a constant of one byte is below 64.
    [TO, FROM].map((local) => [
      [get(local), constant((VECTOR * UNROLLED) / 2), I32_ADD],
      [constant((VECTOR * UNROLLED) / 2), I32_ADD, set(local)],
    ]),
  ]),
  [get(SUM), lane(0), get(SUM), lane(1), F64_ADD],
  END,
];

let compiled: WebAssembly.Module | null | undefined;

/** The same in JavaScript, where there is no such processor. */
function plainly(table: Float64Array): Subtract {
  return (to, from, end, factor) => {
    let sum = 0;
    for (let a = to / DOUBLE, b = from / DOUBLE; a < end / DOUBLE; a++, b++) {
      const value = table[a]! - factor * table[b]!;
      table[a] = value;
      sum += value * value;
    }
    return sum;
  };
}

/**
 * The inverse of a basis, written out. Masters have a few hundred rows, so that a pivot is one update of rank one, and
 * any row or column of the inverse is at hand. Updates are in WebAssembly: half the time of a pivot went there.
 */
export class Inverse {
  /** Row i at i · stride. */
  readonly entries: Float64Array;
  readonly stride: number;
  /** Squared length of each row. */
  readonly norms: Float64Array;
  private readonly subtract: Subtract;

  constructor(readonly m: number) {
    this.stride = ROUND * Math.ceil(m / ROUND);
    const length = Math.max(1, m * this.stride);
    compiled ??= assembled([I32, I32, I32, F64], [F64], BODY);
    const made = overMemory(compiled, length);
    this.entries = made?.table ?? new Float64Array(length);
    this.subtract = made ? (made.run as Subtract) : plainly(this.entries);
    this.norms = new Float64Array(m);
  }

  /** The inverse of a diagonal matrix whose inverse has this diagonal. */
  reset(diagonal: Float64Array): void {
    const { m, stride, entries, norms } = this;
    entries.fill(0);
    for (let i = 0; i < m; i++) {
      entries[i * stride + i] = diagonal[i]!;
      norms[i] = diagonal[i]! * diagonal[i]!;
    }
  }

  /** `into` = inverse × a column, given by its entries from `from` to `to`. */
  times(rows: Int32Array, values: Float64Array, from: number, to: number, into: Float64Array): void {
    const { m, stride, entries } = this;
    into.fill(0);
    for (let e = from; e < to; e++) {
      const value = values[e]!;
      for (let i = 0, at = rows[e]!; i < m; i++, at += stride) into[i] = into[i]! + value * entries[at]!;
    }
  }

  /** Row r comes to stand for the column whose product with the inverse is `alpha`. */
  pivot(r: number, alpha: Float64Array): void {
    const { m, stride, entries, norms, subtract } = this;
    const start = r * stride;
    const by = 1 / alpha[r]!;
    let norm = 0;
    for (let k = start, end = start + m; k < end; k++) {
      const value = entries[k]! * by;
      entries[k] = value;
      norm += value * value;
    }
    norms[r] = norm;
    for (let i = 0; i < m; i++) {
      const factor = alpha[i]!;
      if (factor === 0 || i === r) continue;
      const row = i * stride;
      norms[i] = subtract(DOUBLE * row, DOUBLE * start, DOUBLE * (row + stride), factor);
    }
  }
}
