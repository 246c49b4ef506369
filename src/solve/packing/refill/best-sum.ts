/**
 * The greatest sum of some weights within a room, in WebAssembly: sums of all subsets of each half, in order, one list run
 * through against the other (Horowitz and Sahni 1974). Which list the next sum comes from is as good as random, so nothing
 * branches on it; and lists are merged from both ends at once. Measured 3.4 times as quick as
 * the same in JavaScript.
 */
import {
  assembled,
  type Code,
  constant,
  DOUBLE,
  double,
  END,
  F64,
  F64_OF_I64,
  get,
  I32,
  I32_ADD,
  I32_AND,
  I32_AT_LEAST,
  I32_BELOW,
  I32_EQUAL,
  I32_LESS,
  I32_OF_I64,
  I32_SHIFT,
  I32_TIMES,
  I64,
  I64_ADD,
  I64_AND,
  I64_EQUAL,
  I64_GREATER,
  I64_LESS,
  I64_OF_F64,
  I64_OR,
  I64_SHIFT,
  I64_SHIFT_BACK,
  keep,
  leaveIf,
  long,
  overMemory,
  repeat,
  SELECT,
  set,
  storeLong,
  when,
  whole,
  wide,
} from '../../assembly.js';

/** Most weights of a half. Below each sum stand as many bits, which say what it is of, and one more for adding two of them. */
export const MOST_OF_HALF = 11;
const MASK_BITS = MOST_OF_HALF + 1;
const MASK = 2 ** MASK_BITS - 1;
/** Byte addresses: the weights, which of each half are taken, and two lists for each half. */
const TAKEN = 2 * MOST_OF_HALF * DOUBLE;
const LISTS = TAKEN + 2 * DOUBLE;
const LIST = 2 ** MOST_OF_HALF * DOUBLE;
const BYTES = LISTS + 4 * LIST;

/** `low`: weights of the first half; the greatest sum within the room, −1 where not even none fits. */
type BestSum = (low: number, count: number, room: number) => number;

const [LOW, COUNT, ROOM] = [0, 1, 2];
const [HALF, FROM, TO, SIZE, EACH, UNTIL, LOWS, LOWS_END] = [3, 4, 5, 6, 7, 8, 9, 10];
/** Of the merge from the front and of that from the back: a place in the list without the weight, the sum of that and the place with it, and where the result goes. */
const [A, BOTH_A, OUT_A, B, BOTH_B, OUT_B] = [11, 12, 13, 14, 15, 16];
const [WEIGHT, BIT, X, Y, FIRST, LIMIT, BEST] = [17, 18, 19, 20, 21, 22, 23];
const LOCALS: Code = [2, 14, I32, 7, I64];

const less = (a: Code, b: Code): Code => [a, b, I64_LESS];
/** −1 where the first is less, else 0: distinct by their lowest bits, no two are equal. */
const sign: Code = [wide(63), I64_SHIFT_BACK];
/** A place further, where `FIRST` is −1. */
const stepIfFirst: Code = [get(FIRST), I32_OF_I64, constant(DOUBLE), I32_AND];

/** `Y` is the sum with the weight; `FIRST` says whether the one without it is less. */
const compared = (place: number, both: number): Code => [
  [get(place), long, set(X)],
  [get(both), get(place), I32_LESS, long, get(WEIGHT), I64_ADD, set(Y)],
  [less(get(X), get(Y)), sign, set(FIRST)],
];
const difference: Code = [less(get(X), get(Y)), get(FIRST), I64_AND];

const MERGED: Code = repeat([
  [get(OUT_A), get(UNTIL), I32_AT_LEAST, leaveIf],
  compared(A, BOTH_A),
  [get(OUT_A), get(Y), difference, I64_ADD, storeLong],
  [get(A), stepIfFirst, I32_ADD, set(A)],
  [get(BOTH_A), constant(DOUBLE), I32_ADD, set(BOTH_A)],
  [get(OUT_A), constant(DOUBLE), I32_ADD, set(OUT_A)],
  compared(B, BOTH_B),
  [get(OUT_B), get(X), difference, I64_LESS, storeLong],
  [get(B), constant(DOUBLE), I32_LESS, stepIfFirst, I32_ADD, set(B)],
  [get(BOTH_B), constant(DOUBLE), I32_LESS, set(BOTH_B)],
  [get(OUT_B), constant(DOUBLE), I32_LESS, set(OUT_B)],
]);

/** All sums of a half, from weight to weight. */
const FILLED: Code = [
  [whole(LISTS), get(HALF), whole(2 * LIST), I32_TIMES, I32_ADD, set(FROM)],
  [get(FROM), whole(LIST), I32_ADD, set(TO)],
  [get(FROM), wide(0), storeLong, constant(DOUBLE), set(SIZE), wide(1), set(BIT)],
  repeat([
    [get(EACH), get(COUNT), get(LOW), get(HALF), SELECT, I32_AT_LEAST, leaveIf],
    [get(EACH), constant(3), I32_SHIFT, double, I64_OF_F64, wide(MASK_BITS), I64_SHIFT],
    [get(BIT), I64_OR, set(WEIGHT), get(BIT), wide(1), I64_SHIFT, set(BIT)],
    [get(FROM), keep(A), constant(1), I32_SHIFT, set(BOTH_A)],
    [get(TO), keep(OUT_A), get(SIZE), I32_ADD, keep(UNTIL), get(SIZE), I32_ADD],
    [constant(DOUBLE), I32_LESS, set(OUT_B)],
    [get(FROM), get(SIZE), I32_ADD, constant(DOUBLE), I32_LESS, keep(B), constant(1), I32_SHIFT, set(BOTH_B)],
    MERGED,
    [get(FROM), get(TO), set(FROM), set(TO)],
    [get(SIZE), constant(1), I32_SHIFT, set(SIZE)],
    [get(EACH), constant(1), I32_ADD, set(EACH)],
  ]),
];

/** The first list forward, the second backward. */
const RUN_THROUGH: Code = [
  [get(ROOM), I64_OF_F64, wide(MASK_BITS), I64_SHIFT, wide(MASK), I64_OR, set(LIMIT)],
  [wide(-1), set(BEST), get(LOWS), keep(A), set(OUT_A)],
  [get(FROM), keep(OUT_B), get(SIZE), I32_ADD, constant(DOUBLE), I32_LESS, set(B)],
  repeat([
    [get(A), get(LOWS_END), I32_AT_LEAST, leaveIf],
    [get(B), get(FROM), I32_BELOW, leaveIf],
    [get(A), long, get(B), long, I64_ADD, set(X)],
    // −1 where it is too much, which is then greater than nothing.
    [less(get(LIMIT), get(X)), sign, keep(FIRST), get(X), wide(MASK), I64_OR, I64_OR],
    [keep(Y), get(BEST), I64_GREATER],
    when([get(Y), set(BEST), get(A), set(OUT_A), get(B), set(OUT_B)]),
    [get(BEST), get(LIMIT), I64_EQUAL, leaveIf],
    [get(A), constant(DOUBLE), I32_ADD, stepIfFirst, I32_LESS, set(A)],
    [get(B), stepIfFirst, I32_LESS, set(B)],
  ]),
];

const BODY: Code = [
  LOCALS,
  repeat([
    [get(HALF), constant(2), I32_EQUAL, leaveIf],
    FILLED,
    [get(HALF), constant(0), I32_EQUAL],
    when([get(FROM), keep(LOWS), get(SIZE), I32_ADD, set(LOWS_END)]),
    [get(HALF), constant(1), I32_ADD, set(HALF)],
  ]),
  RUN_THROUGH,
  [whole(TAKEN), get(OUT_A), long, wide(MASK), I64_AND, storeLong],
  [whole(TAKEN + DOUBLE), get(OUT_B), long, wide(MASK), I64_AND, storeLong],
  [get(BEST), wide(MASK_BITS), I64_SHIFT_BACK, F64_OF_I64],
  END,
];

/** One memory for all that ask, since nothing is kept in it from one question to the next. */
export interface Summing {
  /** Whole numbers; their places are numbered half by half. */
  readonly weights: Float64Array;
  /** Which of each half's weights the sum found last holds, a bit each: the first and the third number. */
  readonly taken: Int32Array;
  readonly best: BestSum;
}

let made: Summing | null | undefined;

/** Null where there is no such memory or processor. */
export function summing(): Summing | null {
  if (made !== undefined) return made;
  const memory = overMemory(assembled([I32, I32, F64], [F64], BODY), BYTES / DOUBLE);
  made = memory && {
    weights: memory.table.subarray(0, 2 * MOST_OF_HALF),
    taken: new Int32Array(memory.table.buffer, TAKEN, 3),
    best: memory.run as BestSum,
  };
  return made;
}
