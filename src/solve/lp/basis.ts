import { Inverse } from './inverse.js';
import type { LpRow } from './lp.js';
import { SparseColumns } from './sparse.js';

/** Values of columns that count as nothing. */
const PRIMAL_TOLERANCE = 1e-9;
/** Entries that are no pivots, and entries that are rounding. */
export const LEAST_PIVOT = 1e-7;
const DUST = 1e-12;
/** How far a ratio test may overstep a limit for the sake of a larger pivot. */
export const OVERSTEP = 1e-9;
/** Rows are relaxed by up to so much. */
const ROW_SHIFT = 1e-7;
/** What a row and its columns' values may differ by, as a share, before the inverse is made anew. */
const RESIDUAL = 1e-8;

/** A number in [0.5, 1) that hangs on `i` alone. */
export function spread(i: number): number {
  return 0.5 + (Math.imul(i + 1, 0x9e3779b1) >>> 9) / 2 ** 24;
}

/**
 * A basis with its inverse and the values of its variables. The slack of row i is variable i, column j is variable m + j.
 * Where nothing may be wasted nearly every vertex is degenerate, so each row is relaxed a little, by an amount of its
 * own, and values are kept twice: for these rows, and for the true ones.
 */
export class Basis {
  readonly columns = new SparseColumns();
  /** Right-hand side of each row. */
  readonly limit: Float64Array;
  /** The variable of each place of the basis; its value with the true rows. */
  readonly head: Int32Array;
  readonly exact: Float64Array;
  protected readonly m: number;
  /** Of each row's slack: −1 where the row has a lower limit, 1 where it has an upper one. */
  protected readonly sign: Float64Array;
  protected readonly inverse: Inverse;
  protected readonly relaxed: Float64Array;
  /** The inverse times the column that is to enter. */
  protected readonly alpha: Float64Array;
  /** By variable: place in the basis, or −1. */
  protected place = new Int32Array(0);
  private readonly unit = Int32Array.of(0);
  private readonly one = Float64Array.of(1);

  constructor(rows: readonly LpRow[]) {
    const m = rows.length;
    this.m = m;
    this.sign = Float64Array.from(rows, ({ lower }) => (lower > -Infinity ? -1 : 1));
    this.limit = Float64Array.from(rows, ({ lower, upper }) => (lower > -Infinity ? lower : upper));
    this.inverse = new Inverse(m);
    this.inverse.reset(this.sign);
    this.head = Int32Array.from({ length: m }, (_, i) => i);
    this.exact = new Float64Array(m);
    this.relaxed = new Float64Array(m);
    this.alpha = new Float64Array(m);
  }

  hasUpper(row: number): boolean {
    return this.sign[row]! > 0;
  }

  /** Room for all columns, and some more; answers for how many variables. */
  protected widen(): number {
    const { m, columns } = this;
    const { length } = this.place;
    if (length > 0 && m + columns.count <= length) return length;
    const most = m + columns.starts.length;
    const place = new Int32Array(most).fill(-1);
    place.set(this.place);
    if (length === 0) for (let i = 0; i < m; i++) place[i] = i;
    this.place = place;
    return most;
  }

  /** Starts from the cheapest column of each row that has no other entry; where there is none, from the slack. */
  begin(): void {
    this.widen();
    const { m, place, head, columns, limit } = this;
    const { starts, rows, values, cost, closed } = columns;
    const diagonal = this.sign.slice();
    const least = new Float64Array(m).fill(Infinity);
    for (let j = 0; j < columns.count; j++) {
      const e = starts[j]!;
      const i = rows[e]!;
      if (closed[j] === 1 || starts[j + 1] !== e + 1 || values[e]! <= 0) continue;
      if (this.hasUpper(i) || limit[i]! <= 0 || cost[j]! / values[e]! >= least[i]!) continue;
      least[i] = cost[j]! / values[e]!;
      place[head[i]!] = -1;
      head[i] = m + j;
      place[m + j] = i;
      diagonal[i] = 1 / values[e]!;
    }
    this.inverse.reset(diagonal);
    this.evaluate();
  }

  /** The basis inverted anew, column by column, those with fewest entries first. */
  invert(): void {
    const { m, head, place, inverse, alpha } = this;
    const { starts } = this.columns;
    const basis = new Set(head);
    const basic = [...head].filter((v) => v >= m).map((v) => v - m);
    basic.sort((a, b) => starts[a + 1]! - starts[a]! - starts[b + 1]! + starts[b]! || a - b);
    for (const v of head) place[v] = -1;
    for (let i = 0; i < m; i++) place[i] = head[i] = i;
    inverse.reset(this.sign);
    for (const j of basic) {
      this.expand(m + j);
      let r = -1;
      let most = LEAST_PIVOT;
      for (let i = 0; i < m; i++) {
        const size = Math.abs(alpha[i]!);
        if (size > most && !basis.has(head[i]!)) [most, r] = [size, i];
      }
      // A column that hangs on the others is left out, and a slack stands for it.
      if (r < 0) continue;
      inverse.pivot(r, alpha);
      place[head[r]!] = -1;
      head[r] = m + j;
      place[m + j] = r;
    }
    this.evaluate();
  }

  /** Values of the basic variables, from the right-hand sides. */
  evaluate(): void {
    const { m, limit, sign, relaxed, exact } = this;
    const { entries, stride } = this.inverse;
    for (let r = 0; r < m; r++) {
      const at = r * stride;
      let [sum, more] = [0, 0];
      for (let i = 0; i < m; i++) {
        const entry = entries[at + i]!;
        if (entry === 0) continue;
        sum += entry * limit[i]!;
        more += entry * sign[i]! * spread(i);
      }
      exact[r] = sum;
      relaxed[r] = sum + ROW_SHIFT * more;
    }
  }

  /** `alpha` = the inverse × the column of a variable. */
  protected expand(v: number): void {
    const { m, alpha, inverse, columns, unit, one } = this;
    if (v < m) {
      unit[0] = v;
      one[0] = this.sign[v]!;
      inverse.times(unit, one, 0, 1, alpha);
    } else
      inverse.times(columns.rows, columns.values, columns.starts[v - m]!, columns.starts[v - m + 1]!, alpha);
    for (let i = 0; i < m; i++) if (Math.abs(alpha[i]!) < DUST) alpha[i] = 0;
  }

  protected outOfUse(v: number): boolean {
    return v >= this.m && this.columns.closed[v - this.m] === 1;
  }

  /** Whether a basic variable is outside its limits. */
  protected strays(): boolean {
    for (let r = 0; r < this.m; r++) if (this.stray(r) !== 0) return true;
    return false;
  }

  protected stray(r: number): number {
    const x = this.relaxed[r]!;
    if (x < -PRIMAL_TOLERANCE || (x > PRIMAL_TOLERANCE && this.outOfUse(this.head[r]!))) return x;
    return 0;
  }

  /** Variable q takes the place of the one in row r; `alpha` is its column. */
  protected exchange(r: number, q: number): void {
    const { m, head, place, alpha, relaxed, exact } = this;
    const [by, truly] = [relaxed[r]! / alpha[r]!, exact[r]! / alpha[r]!];
    for (let i = 0; i < m; i++) {
      const a = alpha[i]!;
      if (a === 0) continue;
      relaxed[i] = relaxed[i]! - by * a;
      exact[i] = exact[i]! - truly * a;
    }
    relaxed[r] = by;
    exact[r] = truly;
    const left = head[r]!;
    place[left] = -1;
    place[q] = r;
    head[r] = q;
    this.inverse.pivot(r, alpha);
  }

  /** The row that column `alpha` leaves first, or −1. */
  protected leaving(): number {
    const { m, alpha, relaxed, head } = this;
    let limit = Infinity;
    for (let i = 0; i < m; i++) {
      const a = alpha[i]!;
      if (a > LEAST_PIVOT) limit = Math.min(limit, (Math.max(0, relaxed[i]!) + OVERSTEP) / a);
      else if (a < -LEAST_PIVOT && this.outOfUse(head[i]!)) limit = Math.min(limit, OVERSTEP / -a);
    }
    let r = -1;
    let most = LEAST_PIVOT;
    for (let i = 0; i < m; i++) {
      const a = alpha[i]!;
      if (a > most ? Math.max(0, relaxed[i]!) <= limit * a : a < -most && this.outOfUse(head[i]!)) {
        [r, most] = [i, Math.abs(a)];
      }
    }
    return r;
  }

  /** Whether the basic values make the true right-hand sides. */
  protected sound(): boolean {
    const { m, head, exact, limit, sign } = this;
    const { starts, rows, values } = this.columns;
    const rest = limit.slice();
    for (let r = 0; r < m; r++) {
      const v = head[r]!;
      if (v < m) rest[v] = rest[v]! - sign[v]! * exact[r]!;
      else {
        for (let e = starts[v - m]!, to = starts[v - m + 1]!; e < to; e++) {
          rest[rows[e]!] = rest[rows[e]!]! - values[e]! * exact[r]!;
        }
      }
    }
    return rest.every((off, i) => Math.abs(off) <= RESIDUAL * Math.max(1, Math.abs(limit[i]!)));
  }
}
