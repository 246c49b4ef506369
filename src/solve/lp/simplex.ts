import { Inverse } from './inverse.js';
import type { LpRow } from './lp.js';
import { SparseColumns } from './sparse.js';

/** Values of columns, and reduced costs, that count as nothing. */
const PRIMAL_TOLERANCE = 1e-9;
const DUAL_TOLERANCE = 1e-9;
/** Entries that are no pivots, and entries that are rounding. */
const LEAST_PIVOT = 1e-7;
const DUST = 1e-12;
/** How far a ratio test may overstep a limit for the sake of a larger pivot. */
const OVERSTEP = 1e-9;
/** Rows are relaxed, and in the dual simplex costs raised, by up to so much. */
const ROW_SHIFT = 1e-7;
const COST_SHIFT = 1e-6;
/** What a row and its columns' values may differ by, as a share, before the inverse is made anew. */
const RESIDUAL = 1e-8;
/** Pivots between looks at the clock, and pivots a row, and to begin with, that are too many. */
const LOOK = 32;
const PIVOTS = 5_000;
const PIVOTS_A_ROW = 40;
/** Columns a row that are looked at between two rounds of pricing all: at least, and at most. */
const LISTED_LEAST = 2;
const LISTED_MOST = 4;

export type SimplexEnd = 'optimal' | 'unbounded' | 'infeasible' | 'out of time' | 'cycling' | 'rounding';

/** A number in [0.5, 1) that hangs on `i` alone. */
function spread(i: number): number {
  return 0.5 + (Math.imul(i + 1, 0x9e3779b1) >>> 9) / 2 ** 24;
}

/**
 * A revised simplex for masters of a few hundred rows: primal with Devex weights (Harris 1973), dual with steepest edge
 * (Forrest and Goldfarb 1992), whose weights the written-out inverse gives exactly; ratio tests in two passes (Harris).
 * Variables: the slack of row i is variable i, column j is variable m + j.
 *
 * Where nothing may be wasted, nearly every vertex is degenerate: so each row is relaxed a little, by an amount of its
 * own, and values are kept twice, for these rows and for the true ones. The dual simplex repairs what left its limits
 * (changed rows, basic columns out of use), with costs raised until the basis is dual feasible; the primal goes on at
 * the true costs. Between two rounds of pricing all columns only the cheaper ones are looked at.
 */
export class Simplex {
  readonly columns = new SparseColumns();
  /** Right-hand side of each row. */
  readonly limit: Float64Array;
  /** The variable of each place of the basis; its value with the true rows. */
  readonly head: Int32Array;
  readonly exact: Float64Array;
  readonly duals: Float64Array;
  private readonly m: number;
  /** Of each row's slack: −1 where the row has a lower limit, 1 where it has an upper one. */
  private readonly sign: Float64Array;
  private readonly inverse: Inverse;
  private readonly relaxed: Float64Array;
  private readonly alpha: Float64Array;
  /** By variable: place in the basis or −1, reduced cost, Devex weight, entry in the pivot's row. */
  private place = new Int32Array(0);
  private reduced = new Float64Array(0);
  private weight = new Float64Array(0);
  private row = new Float64Array(0);
  /** Columns looked at, and how dear the dearest of them may be. */
  private list = new Int32Array(0);
  private listed = 0;
  private reach = 1;
  private readonly unit = Int32Array.of(0);
  private readonly one = Float64Array.of(1);
  private end = Infinity;
  private pivots = 0;

  constructor(rows: readonly LpRow[]) {
    const m = rows.length;
    this.m = m;
    this.sign = Float64Array.from(rows, ({ lower }) => (lower > -Infinity ? -1 : 1));
    this.limit = Float64Array.from(rows, ({ lower, upper }) => (lower > -Infinity ? lower : upper));
    this.inverse = new Inverse(m);
    this.inverse.reset(this.sign);
    this.head = Int32Array.from({ length: m }, (_, i) => i);
    this.exact = new Float64Array(m);
    this.duals = new Float64Array(m);
    this.relaxed = new Float64Array(m);
    this.alpha = new Float64Array(m);
  }

  hasUpper(row: number): boolean {
    return this.sign[row]! > 0;
  }

  /** Room for all columns; call after adding some. */
  private widen(): void {
    const { m, columns } = this;
    const { length } = this.place;
    if (m + columns.count <= length) return;
    const most = m + columns.starts.length;
    const [place, reduced, weight] = [new Int32Array(most), new Float64Array(most), new Float64Array(most)];
    place.fill(-1).set(this.place);
    if (length === 0) for (let i = 0; i < m; i++) place[i] = i;
    reduced.set(this.reduced);
    weight.fill(1).set(this.weight);
    [this.place, this.reduced, this.weight] = [place, reduced, weight];
    this.row = new Float64Array(most);
    this.list = new Int32Array(most);
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

  run(end: number): SimplexEnd {
    this.widen();
    this.end = end;
    this.pivots = PIVOTS + PIVOTS_A_ROW * this.m;
    this.weight.fill(1);
    this.price();
    while (this.strays()) {
      let ended = this.dualSimplex();
      if (ended === 'infeasible' && this.price(true)) ended = this.dualSimplex();
      if (ended !== 'optimal') return ended;
      this.price();
    }
    for (;;) {
      const ended = this.primalSimplex();
      if (ended !== 'optimal') return ended;
      if (!this.price()) return this.sound() ? 'optimal' : 'rounding';
    }
  }

  /**
   * Duals and all reduced costs, anew; lists the columns to look at: `all`, or the cheaper ones. Answers whether one in use
   * is worth more than it costs; with `all`, whether any was not listed before.
   */
  private price(all = false): boolean {
    const { m, duals, head, sign, reduced, place, list, columns } = this;
    const { starts, rows, values, cost, closed, count } = columns;
    const { entries, stride } = this.inverse;
    duals.fill(0);
    for (let r = 0; r < m; r++) {
      const c = head[r]! < m ? 0 : cost[head[r]! - m]!;
      if (c === 0) continue;
      for (let i = 0, at = r * stride; i < m; i++, at++) duals[i] = duals[i]! + c * entries[at]!;
    }
    let better = false;
    for (let i = 0; i < m; i++) {
      reduced[i] = place[i]! >= 0 ? 0 : -sign[i]! * duals[i]!;
      better ||= reduced[i]! < -DUAL_TOLERANCE;
    }
    const before = this.listed;
    const reach = all ? Infinity : this.reach;
    let listed = 0;
    for (let j = 0; j < count; j++) {
      if (place[m + j]! >= 0) {
        reduced[m + j] = 0;
        list[listed++] = j;
        continue;
      }
      if (closed[j] === 1) continue;
      let d = cost[j]!;
      for (let e = starts[j]!, to = starts[j + 1]!; e < to; e++) d -= duals[rows[e]!]! * values[e]!;
      reduced[m + j] = d;
      better ||= d < -DUAL_TOLERANCE;
      if (d <= reach) list[listed++] = j;
    }
    this.listed = listed;
    if (all) return listed > before;
    if (listed > LISTED_MOST * m) this.reach *= 0.7;
    else if (listed < LISTED_LEAST * m) this.reach *= 1.4;
    return better;
  }

  /** `alpha` = the inverse × the column of a variable. */
  private expand(v: number): void {
    const { m, alpha, inverse, columns, unit, one } = this;
    if (v < m) {
      unit[0] = v;
      one[0] = this.sign[v]!;
      inverse.times(unit, one, 0, 1, alpha);
    } else
      inverse.times(columns.rows, columns.values, columns.starts[v - m]!, columns.starts[v - m + 1]!, alpha);
    for (let i = 0; i < m; i++) if (Math.abs(alpha[i]!) < DUST) alpha[i] = 0;
  }

  /** Entries of the pivot's row, of the slacks and of the columns looked at. */
  private across(r: number): void {
    const { m, row, place, sign, list, listed } = this;
    const { starts, rows, values, closed } = this.columns;
    const { entries, stride } = this.inverse;
    const at = r * stride;
    for (let i = 0; i < m; i++) row[i] = place[i]! >= 0 ? 0 : sign[i]! * entries[at + i]!;
    for (let k = 0; k < listed; k++) {
      const j = list[k]!;
      let sum = 0;
      if (place[m + j]! < 0 && closed[j] === 0) {
        for (let e = starts[j]!, to = starts[j + 1]!; e < to; e++)
          sum += entries[at + rows[e]!]! * values[e]!;
      }
      row[m + j] = sum;
    }
  }

  private outOfUse(v: number): boolean {
    return v >= this.m && this.columns.closed[v - this.m] === 1;
  }

  /** Whether a basic variable is outside its limits. */
  private strays(): boolean {
    for (let r = 0; r < this.m; r++) if (this.stray(r) !== 0) return true;
    return false;
  }

  private stray(r: number): number {
    const x = this.relaxed[r]!;
    if (x < -PRIMAL_TOLERANCE || (x > PRIMAL_TOLERANCE && this.outOfUse(this.head[r]!))) return x;
    return 0;
  }

  private late(): SimplexEnd | null {
    if (--this.pivots < 0) return 'cycling';
    return this.pivots % LOOK === 0 && performance.now() > this.end ? 'out of time' : null;
  }

  /** Variable q takes the place of the one in row r; `alpha` is its column. */
  private exchange(r: number, q: number): void {
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
    place[head[r]!] = -1;
    place[q] = r;
    head[r] = q;
    this.inverse.pivot(r, alpha);
  }

  /** The row that column `alpha` leaves first, or −1. */
  private leaving(): number {
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

  private primalSimplex(): SimplexEnd {
    const { m, alpha, head, place, reduced, weight, row, list, listed } = this;
    const { closed } = this.columns;
    const variables = m + listed;
    const at = (k: number): number => (k < m ? k : m + list[k - m]!);
    let q = -1;
    let most = 0;
    for (let k = 0; k < variables; k++) {
      const v = at(k);
      const d = reduced[v]!;
      if (d < -DUAL_TOLERANCE && place[v]! < 0 && d * d > most * weight[v]!)
        [most, q] = [(d * d) / weight[v]!, v];
    }
    while (q >= 0) {
      const late = this.late();
      if (late) return late;
      this.expand(q);
      const r = this.leaving();
      if (r < 0) return 'unbounded';
      this.across(r);
      const p = alpha[r]!;
      const step = reduced[q]! / p;
      const share = weight[q]! / (p * p);
      const left = head[r]!;
      this.exchange(r, q);
      reduced[q] = 0;
      row[q] = 0;
      reduced[left] = -step;
      weight[left] = Math.max(share, 1);
      q = -1;
      most = 0;
      for (let k = 0; k < variables; k++) {
        const v = at(k);
        const a = row[v]!;
        let d = reduced[v]!;
        if (a !== 0) {
          d -= step * a;
          reduced[v] = d;
          const w = a * a * share;
          if (w > weight[v]!) weight[v] = w;
        }
        if (
          d < -DUAL_TOLERANCE &&
          d * d > most * weight[v]! &&
          place[v]! < 0 &&
          (v < m || closed[v - m] === 0)
        ) {
          most = (d * d) / weight[v]!;
          q = v;
        }
      }
    }
    return 'optimal';
  }

  private dualSimplex(): SimplexEnd {
    const { m, alpha, relaxed, head, place, reduced, row, list, listed } = this;
    const { norms } = this.inverse;
    const variables = m + listed;
    const at = (k: number): number => (k < m ? k : m + list[k - m]!);
    for (let k = 0; k < variables; k++) {
      const v = at(k);
      if (place[v]! < 0) reduced[v] = Math.max(0, reduced[v]!) + COST_SHIFT * spread(v);
    }
    for (;;) {
      const late = this.late();
      if (late) return late;
      let r = -1;
      let most = 0;
      for (let i = 0; i < m; i++) {
        const x = this.stray(i);
        if (x * x > most * norms[i]!) [most, r] = [(x * x) / norms[i]!, i];
      }
      if (r < 0) return 'optimal';
      this.across(r);
      const side = relaxed[r]! < 0 ? -1 : 1;
      let limit = Infinity;
      for (let k = 0; k < variables; k++) {
        const v = at(k);
        const a = side * row[v]!;
        if (a > LEAST_PIVOT) limit = Math.min(limit, (Math.max(0, reduced[v]!) + OVERSTEP) / a);
      }
      let q = -1;
      let pivot = LEAST_PIVOT;
      for (let k = 0; k < variables; k++) {
        const v = at(k);
        const a = side * row[v]!;
        if (a > pivot && Math.max(0, reduced[v]!) <= limit * a) [q, pivot] = [v, a];
      }
      if (q < 0) return 'infeasible';
      this.expand(q);
      const p = alpha[r]!;
      if (Math.abs(p - row[q]!) > LEAST_PIVOT * (1 + Math.abs(p))) return 'rounding';
      const step = reduced[q]! / p;
      const left = head[r]!;
      this.exchange(r, q);
      for (let k = 0; k < variables; k++) {
        const v = at(k);
        if (row[v] !== 0) reduced[v] = reduced[v]! - step * row[v]!;
      }
      reduced[q] = 0;
      reduced[left] = -step;
    }
  }

  /** Whether the basic values make the true right-hand sides. */
  private sound(): boolean {
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
