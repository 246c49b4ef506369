import { Basis, LEAST_PIVOT, OVERSTEP, spread } from './basis.js';

/** Reduced costs that count as nothing. */
const DUAL_TOLERANCE = 1e-9;
/** In the dual simplex costs are raised by up to so much. */
const COST_SHIFT = 1e-6;
/** Pivots between looks at the clock, and pivots a row, and to begin with, that are too many. */
const LOOK = 32;
const PIVOTS = 5_000;
const PIVOTS_A_ROW = 40;
/** Variables a row that are looked at between two rounds of pricing all: at least, and at most. */
const LISTED_LEAST = 3;
const LISTED_MOST = 5;

export type SimplexEnd = 'optimal' | 'unbounded' | 'infeasible' | 'out of time' | 'cycling' | 'rounding';

/**
 * A revised simplex for masters of a few hundred rows: primal with Devex weights (Harris 1973), dual with steepest edge
 * (Forrest and Goldfarb 1992), whose weights the written-out inverse gives exactly; ratio tests in two passes (Harris).
 *
 * The dual simplex repairs what left its limits (changed rows, basic columns out of use), with costs raised until the
 * basis is dual feasible; the primal goes on at the true costs. Between two rounds of pricing all columns only the
 * cheaper ones are looked at.
 */
export class Simplex extends Basis {
  /** One a row, of the last round of pricing. */
  readonly duals = new Float64Array(this.m);
  /** By variable: its place in the list. */
  private at = new Int32Array(0);
  /** The list, slacks first: variables, whether they may enter, reduced costs, Devex weights, entries in the pivot's row. */
  private list = new Int32Array(0);
  private live = new Uint8Array(0);
  private reduced = new Float64Array(0);
  private weight = new Float64Array(0);
  private row = new Float64Array(0);
  /** Places in the list that may enter in a step of the dual simplex. */
  private able = new Int32Array(0);
  /** Entries of the list's columns, one after the other. */
  private starts = new Int32Array(1);
  private rows = new Int32Array(0);
  private values = new Float64Array(0);
  /** How many are listed, and how dear the dearest column of them may be. */
  private listed = 0;
  private reach = 1;
  private end = Infinity;
  private pivots = 0;

  /** Room for all variables. */
  private room(): void {
    const most = this.widen();
    if (most <= this.list.length) return;
    this.at = new Int32Array(most);
    this.list = new Int32Array(most);
    this.live = new Uint8Array(most);
    this.reduced = new Float64Array(most);
    this.weight = new Float64Array(most);
    this.row = new Float64Array(most);
    this.able = new Int32Array(most);
    this.starts = new Int32Array(most + 1);
  }

  /** From the last basis to an optimal one. `end`: on the clock of `performance`. */
  run(end: number): SimplexEnd {
    this.room();
    this.end = end;
    this.pivots = PIVOTS + PIVOTS_A_ROW * this.m;
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
    const { m, duals, head, sign, place, list, columns } = this;
    const { starts, rows, values, cost, closed, count } = columns;
    const { entries, stride } = this.inverse;
    duals.fill(0);
    for (let r = 0; r < m; r++) {
      const c = head[r]! < m ? 0 : cost[head[r]! - m]!;
      if (c === 0) continue;
      for (let i = 0, at = r * stride; i < m; i++, at++) duals[i] = duals[i]! + c * entries[at]!;
    }
    if (this.rows.length < columns.rows.length) {
      this.rows = new Int32Array(columns.rows.length);
      this.values = new Float64Array(columns.rows.length);
    }
    const { at, live, reduced, starts: into, rows: toRows, values: toValues } = this;
    let better = false;
    for (let i = 0; i < m; i++) {
      const basic = place[i]! >= 0;
      list[i] = at[i] = i;
      live[i] = basic ? 0 : 1;
      reduced[i] = basic ? 0 : -sign[i]! * duals[i]!;
      better ||= reduced[i]! < -DUAL_TOLERANCE;
    }
    const before = this.listed;
    const reach = all ? Infinity : this.reach;
    let listed = m;
    let filled = 0;
    for (let j = 0; j < count; j++) {
      const basic = place[m + j]! >= 0;
      if (closed[j] === 1 && !basic) continue;
      const from = starts[j]!;
      const to = starts[j + 1]!;
      let d = 0;
      if (!basic) {
        d = cost[j]!;
        for (let e = from; e < to; e++) d -= duals[rows[e]!]! * values[e]!;
        better ||= d < -DUAL_TOLERANCE;
        if (d > reach) continue;
      }
      list[listed] = m + j;
      at[m + j] = listed;
      live[listed] = basic ? 0 : 1;
      reduced[listed] = d;
      into[listed] = filled;
      for (let e = from; e < to; e++, filled++) {
        toRows[filled] = rows[e]!;
        toValues[filled] = values[e]!;
      }
      into[++listed] = filled;
    }
    this.listed = listed;
    this.weight.fill(1, 0, listed);
    if (all) return listed > before;
    if (listed > LISTED_MOST * m) this.reach *= 0.7;
    else if (listed < LISTED_LEAST * m) this.reach *= 1.4;
    return better;
  }

  /** Entries of the pivot's row, of all that may enter. */
  private across(r: number): void {
    const { m, row, live, sign, listed, starts, rows, values } = this;
    const { entries, stride } = this.inverse;
    const at = r * stride;
    for (let i = 0; i < m; i++) row[i] = live[i] === 0 ? 0 : sign[i]! * entries[at + i]!;
    for (let k = m, e = starts[m]!; k < listed; k++) {
      const to = starts[k + 1]!;
      let sum = 0;
      if (live[k] === 1) for (; e < to; e++) sum += entries[at + rows[e]!]! * values[e]!;
      else e = to;
      row[k] = sum;
    }
  }

  private late(): SimplexEnd | null {
    if (--this.pivots < 0) return 'cycling';
    return this.pivots % LOOK === 0 && performance.now() > this.end ? 'out of time' : null;
  }

  private primalSimplex(): SimplexEnd {
    const { alpha, head, reduced, weight, row, list, live, at, listed } = this;
    let q = -1;
    let most = 0;
    for (let k = 0; k < listed; k++) {
      const d = reduced[k]!;
      if (d < -DUAL_TOLERANCE && d * d > most * weight[k]!) [most, q] = [(d * d) / weight[k]!, k];
    }
    while (q >= 0) {
      const late = this.late();
      if (late) return late;
      this.expand(list[q]!);
      const r = this.leaving();
      if (r < 0) return 'unbounded';
      this.across(r);
      const p = alpha[r]!;
      const step = reduced[q]! / p;
      const share = weight[q]! / (p * p);
      const left = at[head[r]!]!;
      live[left] = this.outOfUse(head[r]!) ? 0 : 1;
      live[q] = 0;
      this.exchange(r, list[q]!);
      reduced[q] = row[q] = 0;
      reduced[left] = -step;
      weight[left] = Math.max(share, 1);
      q = -1;
      most = 0;
      for (let k = 0; k < listed; k++) {
        const a = row[k]!;
        let d = reduced[k]!;
        if (a !== 0) {
          d -= step * a;
          reduced[k] = d;
          const w = a * a * share;
          if (w > weight[k]!) weight[k] = w;
        }
        if (d < -DUAL_TOLERANCE && d * d > most * weight[k]! && live[k] === 1) {
          most = (d * d) / weight[k]!;
          q = k;
        }
      }
    }
    return 'optimal';
  }

  private dualSimplex(): SimplexEnd {
    const { m, alpha, relaxed, head, reduced, row, list, live, at, able, listed } = this;
    const { norms } = this.inverse;
    for (let k = 0; k < listed; k++) {
      if (live[k] === 1) reduced[k] = Math.max(0, reduced[k]!) + COST_SHIFT * spread(list[k]!);
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
      let size = 0;
      for (let k = 0; k < listed; k++) {
        const a = side * row[k]!;
        if (a <= LEAST_PIVOT) continue;
        const d = Math.max(0, reduced[k]!);
        if (d > limit * a) continue;
        able[size++] = k;
        const reach = (d + OVERSTEP) / a;
        if (reach < limit) limit = reach;
      }
      let q = -1;
      let pivot = LEAST_PIVOT;
      for (let e = 0; e < size; e++) {
        const k = able[e]!;
        const a = side * row[k]!;
        if (a > pivot && Math.max(0, reduced[k]!) <= limit * a) [q, pivot] = [k, a];
      }
      if (q < 0) return 'infeasible';
      this.expand(list[q]!);
      const p = alpha[r]!;
      if (Math.abs(p - row[q]!) > LEAST_PIVOT * (1 + Math.abs(p))) return 'rounding';
      const step = reduced[q]! / p;
      const left = at[head[r]!]!;
      live[left] = this.outOfUse(head[r]!) ? 0 : 1;
      live[q] = 0;
      this.exchange(r, list[q]!);
      for (let k = 0; k < listed; k++) reduced[k] = reduced[k]! - step * row[k]!;
      reduced[q] = 0;
      reduced[left] = -step;
    }
  }
}
