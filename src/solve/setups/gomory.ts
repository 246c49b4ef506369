/**
 * Cuts that strengthen the linear programme over listed columns (mixed-integer rounding; Gomory 1960), made and kept in
 * whole numbers. Any whole multipliers u of its rows serve: with Q = `MODULUS`, f_j the sum of u times column j modulo Q
 * and f_0 that of the right-hand sides, whole x ≥ 0 satisfy
 *
 *     Σ min(f_j·(Q − f_0), (Q − f_j)·f_0) · x_j  ≥  f_0·(Q − f_0)
 *
 * What a row asks for at least is missed or passed by whole numbers, which count as columns of their own and are put in
 * again by their row. So floating point only chooses the multipliers: those of a tableau row whose column is fractional.
 * Coefficients are then shrunk to right-hand side `ROOF`, rounded up.
 */
import type { Highs } from 'highs';
import type { Watch } from '../instance/watch.js';
import type { Programme } from '../search/programme.js';
import { Tree } from '../search/tree.js';

const MODULUS = 2 ** 17;
const ROOF = 240;
/** With coefficients and right-hand sides no larger all sums of some two hundred rows are exact doubles. */
const MOST_VALUE = 2 ** 10;
const MOST_LEAST = 2 ** 11;
const MOST_EQUAL = 2 ** 24;
/** Rounded quotients are off by far less. */
const HAIR = 1e-6;
/** Right-hand sides nearer to a multiple of the modulus, as a share of it, make cuts of rounding errors. */
const NEAR_WHOLE = 1 / 64;
/** Each tableau row is taken so many times, for a cut each. */
const TIMES = [1, 2, 3] as const;
/** Fractional columns whose tableau rows are used in a round, cuts that it keeps, and all that are kept. */
const FRACTIONS = 40;
const MOST_CUTS = 30;
const MOST_ROWS = 150;
const MOST_ROUNDS = 20;
/** By how much, as a share of its right-hand side, a cut must be violated. */
const VIOLATED = 0.005;
/** Rounds in a row in which hardly a column falls out of use, after which they end. */
const IDLE_ROUNDS = 3;
const HARDLY = 0.97;
/** Units of work of a round, and entries of columns looked at in one. */
const ROUND_UNITS = 6_000;
const ENTRIES_A_UNIT = 60;

export interface Strengthened {
  /** Proven: no solution costs at most the mark. */
  readonly hopeless: boolean;
  readonly programme: Programme;
  /** Which columns of the programme given are left, and which of those to begin with. */
  readonly left: Int32Array;
  readonly known: readonly number[];
}

/** A cut over the rows of a programme: columns' coefficients follow from it. */
interface Rounding {
  /** By row. */
  readonly u: Float64Array;
  /** What the whole number that a row is passed by counts, by row. */
  readonly passed: Float64Array;
  readonly own: number;
  readonly side: number;
}

function modulo(value: number): number {
  const rest = value % MODULUS;
  return rest < 0 ? rest + MODULUS : rest;
}

/** What a column of this remainder counts. */
function counted(f: number, own: number): number {
  return f <= own ? f * (MODULUS - own) : (MODULUS - f) * own;
}

/** The cut of these multipliers; null where its right-hand side is all but whole. */
function rounding({ lower, upper }: Programme, row: Float64Array, times: number): Rounding | null {
  const u = new Float64Array(lower.length);
  let sum = 0;
  for (let r = 0; r < lower.length; r++) {
    // Of rows that only say how much at most nothing is made.
    if (lower[r] === -Infinity || (upper[r] !== Infinity && upper[r] !== lower[r])) continue;
    u[r] = modulo(Math.round(modulo(row[r]! * times * MODULUS)));
    sum += u[r]! * lower[r]!;
  }
  const own = modulo(sum);
  if (!row.every(Number.isFinite) || own < NEAR_WHOLE * MODULUS || own > (1 - NEAR_WHOLE) * MODULUS)
    return null;
  const passed = new Float64Array(lower.length);
  let side = own * (MODULUS - own);
  for (let r = 0; r < lower.length; r++) {
    if (u[r] === 0 || upper[r] === lower[r]) continue;
    passed[r] = counted(MODULUS - u[r]!, own);
    side += passed[r]! * lower[r]!;
  }
  return side > 0 ? { u, passed, own, side } : null;
}

/** Whether all sums are exact doubles. */
function exact({ lower, upper, values }: Programme): boolean {
  const most = lower.every(
    (least, r) => least === -Infinity || Math.abs(least) <= (upper[r] === least ? MOST_EQUAL : MOST_LEAST),
  );
  return most && values.every((value) => Math.abs(value) <= MOST_VALUE);
}

/** The coefficient of column j, right-hand side `ROOF`: rounded up, and no more than the right-hand side itself. */
function coefficient(
  { starts, indices, values }: Programme,
  { u, passed, own, side }: Rounding,
  j: number,
): number {
  let f = 0;
  let sum = 0;
  for (let e = starts[j]!; e < starts[j + 1]!; e++) {
    const r = indices[e]!;
    f += u[r]! * values[e]!;
    sum += passed[r]! * values[e]!;
  }
  sum += counted(modulo(f), own);
  if (sum <= 0) return 0;
  return sum >= side ? ROOF : Math.min(ROOF, Math.floor((sum * ROOF) / side + HAIR) + 1);
}

/** The programme with only those columns, and with these cuts as rows. */
function rebuilt(programme: Programme, left: readonly number[], cuts: readonly Rounding[]): Programme {
  const { starts, indices, values, lower, upper } = programme;
  const begins = new Int32Array(left.length + 1);
  const rows: number[] = [];
  const entries: number[] = [];
  left.forEach((j, at) => {
    for (let e = starts[j]!; e < starts[j + 1]!; e++) {
      rows.push(indices[e]!);
      entries.push(values[e]!);
    }
    cuts.forEach((cut, k) => {
      const value = coefficient(programme, cut, j);
      if (value === 0) return;
      rows.push(lower.length + k);
      entries.push(value);
    });
    begins[at + 1] = rows.length;
  });
  const of = (list: Float64Array): Float64Array => Float64Array.from(left, (j) => list[j]!);
  return {
    cost: of(programme.cost),
    most: of(programme.most),
    group: Int32Array.from(left, (j) => programme.group[j]!),
    items: programme.items,
    lower: Float64Array.of(...lower, ...cuts.map(() => ROOF)),
    upper: Float64Array.of(...upper, ...cuts.map(() => Infinity)),
    starts: begins,
    indices: Int32Array.from(rows),
    values: Float64Array.from(entries),
  };
}

/** The cuts that this solution violates most, by their distance from it. */
function violated(
  programme: Programme,
  rows: readonly Float64Array[],
  taken: ReadonlyMap<number, number>,
): Rounding[] {
  const found: { readonly cut: Rounding; readonly depth: number }[] = [];
  for (const row of rows)
    for (const times of TIMES) {
      const cut = rounding(programme, row, times);
      if (cut === null) continue;
      let sum = 0;
      let square = 0;
      for (const [j, value] of taken) {
        const c = coefficient(programme, cut, j);
        sum += c * value;
        square += c * c;
      }
      if (sum < ROOF * (1 - VIOLATED)) found.push({ cut, depth: (ROOF - sum) / Math.sqrt(square) });
    }
  found.sort((a, b) => b.depth - a.depth);
  return found.slice(0, MOST_CUTS).map(({ cut }) => cut);
}

/** Rounds of cuts; columns that fall out of use by reduced cost are left out on the way. */
export function strengthen(
  highs: Highs,
  programme: Programme,
  mark: number,
  known: readonly number[],
  watch: Watch,
): Strengthened {
  let now: Strengthened = {
    hopeless: false,
    programme,
    left: Int32Array.from(programme.cost.keys()),
    known,
  };
  const least = programme.lower.length;
  if (!exact(programme)) return now;
  for (let round = 0, idle = 0; round <= MOST_ROUNDS && idle < IDLE_ROUNDS && !watch.over(); round++) {
    const tree = new Tree(highs, now.programme, mark, true, now.known);
    const root = tree.root(watch, FRACTIONS);
    tree.dispose();
    if (root === null) return now;
    if (root.hopeless) return { ...now, hopeless: true };
    const { useful, held, fractions, taken } = root;
    const left = [...useful.keys()].filter((j) => useful[j] === 1);
    idle = left.length < HARDLY * useful.length ? 0 : idle + 1;
    const room = least + MOST_ROWS - now.programme.lower.length;
    const cuts = violated(now.programme, fractions, taken).slice(0, Math.max(0, room));
    watch.spend(
      ROUND_UNITS + (left.length * cuts.length * 4 + now.programme.indices.length) / ENTRIES_A_UNIT,
    );
    const place = new Map(left.map((j, at) => [j, at]));
    now = {
      hopeless: false,
      programme: rebuilt(now.programme, left, cuts),
      left: Int32Array.from(left, (j) => now.left[j]!),
      known: held.flatMap((j) => place.get(j) ?? []),
    };
    if (cuts.length === 0) break;
  }
  return now;
}
