import type { Families } from '../search/families.js';
import type { Programme } from '../search/programme.js';

/** Duals in whole numbers, in units of 1 / scale: first the programme's rows, then one for each family. */
export interface WholeDuals {
  readonly y: Float64Array;
  readonly scale: number;
}

const MOST_SCALE = 2 ** 34;
/** Whole-number duals times coefficients stay exact doubles. */
const EXACT = 2 ** 52;

/** The largest sum of one column's coefficients, all taken as positive. */
function heaviestOf({ cost, starts, values }: Programme): number {
  let heaviest = 0;
  for (let j = 0; j < cost.length; j++) {
    let sum = 0;
    for (let e = starts[j]!; e < starts[j + 1]!; e++) sum += Math.abs(values[e]!);
    if (sum > heaviest) heaviest = sum;
  }
  return heaviest;
}

/**
 * What duals prove of a programme and the families' bounds, in whole numbers (Neumaier and Shcherbina 2004, in integers).
 * Even wrong duals prove nothing false.
 */
export class WeakDuality {
  /** Reduced cost of each column, in units of 1 / scale, at the duals priced last. */
  readonly reduced: Float64Array;
  /** Cost of the dearest column, at least 1: the unit of the linear programme's costs. */
  readonly dear: number;
  private readonly heaviest: number;

  constructor(
    private readonly programme: Programme,
    private readonly families: Families,
    /** Infinity: whether there is a solution at all, at any cost. */
    private readonly mark: number,
  ) {
    this.reduced = new Float64Array(programme.cost.length);
    this.dear = programme.cost.reduce((most, c) => Math.max(most, c), 1);
    this.heaviest = heaviestOf(programme);
  }

  costOf(j: number): number {
    return this.mark === Infinity ? 0 : this.programme.cost[j]!;
  }

  /** Duals in whole numbers, rounded so that reduced costs tend to rise, and their scale; null when they are useless. */
  whole(duals: Float64Array): WholeDuals | null {
    const { programme, families, dear } = this;
    const { lower, upper } = programme;
    // The largest sum that the duals of a column's rows and families can reach.
    let largest = 1;
    duals.forEach((dual, r) => {
      if (r >= lower.length) largest += Math.abs(dual);
    });
    let most = 0;
    for (let r = 0; r < lower.length; r++) most = Math.max(most, Math.abs(duals[r]!));
    largest += most * this.heaviest;
    const scale = Math.min(MOST_SCALE, 2 ** Math.floor(Math.log2(EXACT / (largest * dear))));
    if (!(scale >= 1)) return null;
    const y = duals.map((dual, r) => {
      const value = Math.floor(dual * dear * scale);
      const family = families.list[r - lower.length];
      const [least, most] = family ? [family.lower, family.upper] : [lower[r]!, upper[r]!];
      return Number.isFinite(value > 0 ? least : most) ? value : 0;
    });
    return { y, scale };
  }

  /** The reduced cost of each column. */
  price({ y, scale }: WholeDuals): void {
    const { programme, families, reduced } = this;
    const { starts, indices, values, lower } = programme;
    for (let j = 0; j < reduced.length; j++) {
      let rest = this.costOf(j) * scale;
      for (let e = starts[j]!; e < starts[j + 1]!; e++) rest -= y[indices[e]!]! * values[e]!;
      reduced[j] = rest;
    }
    families.list.forEach(({ members }, k) => {
      const dual = y[lower.length + k]!;
      if (dual !== 0) for (const j of members) reduced[j]! -= dual;
    });
  }

  /**
   * Whether every solution within the decisions costs more than the mark: scale · cost·x = Σ y·(A x) + Σ reduced · x,
   * each term at its least.
   */
  hopeless(duals: WholeDuals): boolean {
    const total = this.least(duals);
    if (total === null) return false;
    return this.mark === Infinity ? total > 0n : total > BigInt(this.mark) * BigInt(duals.scale);
  }

  /** A solution at the mark takes no column whose reduced cost, at the duals priced last, is more than this. */
  rest(duals: WholeDuals): number {
    const total = this.mark === Infinity ? null : this.least(duals);
    return total === null ? Infinity : Number(BigInt(this.mark) * BigInt(duals.scale) - total);
  }

  /** Scale times what every solution costs at least; null where nothing says. */
  private least({ y }: WholeDuals): bigint | null {
    const { programme, families, reduced } = this;
    const { most, lower, upper } = programme;
    let total = 0n;
    y.forEach((value, r) => {
      if (value === 0) return;
      const { lower: least, upper: top } = families.list[r - lower.length] ?? {
        lower: lower[r]!,
        upper: upper[r]!,
      };
      total += BigInt(value) * BigInt(value > 0 ? least : top);
    });
    for (let j = 0; j < reduced.length; j++) {
      if (reduced[j]! >= 0) continue;
      if (!Number.isFinite(most[j]!)) return null;
      total += BigInt(reduced[j]!) * BigInt(most[j]!);
    }
    return total;
  }
}
