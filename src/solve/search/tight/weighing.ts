/**
 * The inner loop of `shares.ts` in WebAssembly, with vectors of two doubles, and the same in JavaScript where there is no
 * such memory or processor.
 */
import {
  assembled,
  type Code,
  constant,
  DOUBLE,
  double,
  END,
  F64,
  F64_ADD,
  F64_TIMES,
  get,
  I32,
  I32_ADD,
  I32_AT_LEAST,
  I32_GREATER,
  keep,
  lane,
  leaveIf,
  overMemory,
  repeat,
  SPLAT,
  set,
  storeDouble,
  storeVector,
  V_ADD,
  V_TIMES,
  V128,
  VECTOR,
  vector,
} from '../../assembly.js';

/**
 * `to[k] = a[k] + factor · b[k]` until `to` reaches `end`; answers Σ to[k] · c[k] · d[k]. All but the factor are byte
 * addresses.
 */
export type Weigh = (
  to: number,
  a: number,
  b: number,
  c: number,
  d: number,
  end: number,
  factor: number,
) => number;

/** Vectors of two doubles done in a round of the loop. */
const UNROLLED = 4;
const [TO, A, B, C, D, STOP, FACTOR, FACTORS, VALUE, SUM, REST] = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10];
/** Twice, as a constant of one byte is below 64. */
const forward = (bytes: number): Code =>
  [TO, A, B, C, D].map((local) => [
    get(local),
    constant(bytes / 2),
    I32_ADD,
    constant(bytes / 2),
    I32_ADD,
    set(local),
  ]);

const BODY: Code = [
  [2, 3, V128, 1, F64],
  [get(FACTOR), SPLAT, set(FACTORS)],
  repeat([
    [get(TO), constant((VECTOR * UNROLLED) / 2), I32_ADD, constant((VECTOR * UNROLLED) / 2), I32_ADD],
    [get(STOP), I32_GREATER, leaveIf],
    Array.from({ length: UNROLLED }, (_, k) => [
      [get(TO), get(A), vector(VECTOR * k), get(B), vector(VECTOR * k), get(FACTORS), V_TIMES, V_ADD],
      [keep(VALUE), storeVector(VECTOR * k)],
      [get(SUM), get(VALUE), get(C), vector(VECTOR * k), V_TIMES, get(D), vector(VECTOR * k), V_TIMES],
      [V_ADD, set(SUM)],
    ]),
    forward(VECTOR * UNROLLED),
  ]),
  repeat([
    [get(TO), get(STOP), I32_AT_LEAST, leaveIf],
    [get(TO), get(A), double, get(B), double, get(FACTOR), F64_TIMES, F64_ADD, storeDouble],
    [get(REST), get(TO), double, get(C), double, F64_TIMES, get(D), double, F64_TIMES, F64_ADD, set(REST)],
    forward(DOUBLE),
  ]),
  [get(SUM), lane(0), get(SUM), lane(1), F64_ADD, get(REST), F64_ADD],
  END,
];

let compiled: WebAssembly.Module | null | undefined;

/** In another order of summing, so that factors may differ in their last digits. */
function plainly(table: Float64Array): Weigh {
  return (to, a, b, c, d, end, factor) => {
    let sum = 0;
    const size = (end - to) / DOUBLE;
    const [t, p, q, r, s] = [to / DOUBLE, a / DOUBLE, b / DOUBLE, c / DOUBLE, d / DOUBLE];
    for (let k = 0; k < size; k++) {
      const value = table[p + k]! + factor * table[q + k]!;
      table[t + k] = value;
      sum += value * table[r + k]! * table[s + k]!;
    }
    return sum;
  };
}

export function weighing(length: number): { readonly table: Float64Array; readonly weigh: Weigh } {
  compiled ??= assembled([I32, I32, I32, I32, I32, I32, F64], [F64], BODY);
  const made = overMemory(compiled, length);
  if (made) return { table: made.table, weigh: made.run as Weigh };
  const table = new Float64Array(length);
  return { table, weigh: plainly(table) };
}
