import type { Duals } from '../bounds/bound.js';
import { ExactPricing } from '../columns/exact-pricing.js';
import type { Master } from '../columns/master.js';
import { Smoothing } from '../columns/smoothing.js';
import { StepPricing } from '../columns/step-pricing.js';
import { hasSetups } from '../instance/goal.js';
import type { Watch } from '../instance/watch.js';

/** What is proved while columns are generated, and whether that is enough. */
export interface Prover {
  readonly bound: number;
  readonly done: boolean;
  readonly watch: Watch;
  /** Proves what duals with their worths can; answers the value of their bound, or null where they prove nothing. */
  prove(duals: Duals): number | null;
}

export interface Converging {
  /** Until hardly a column is worth more than it costs; else only while the bound can rise. */
  readonly full?: boolean;
  /** Until none is, the last rounds on a finer grid. */
  readonly sharp?: boolean;
  /** Rounds at most. */
  readonly rounds?: number;
}

/** Share of the way from the master's duals to those of the best bound, and with substitutes; measured, see DEVELOPERS.md. */
const SHARE = 0.5;
const SHARE_SUBSTITUTED = 0.3;
/** Columns a round, and rounds of so few in a row, after which the root is left for the next dive. */
const THIN = 2;
const THIN_ROUNDS = 3;
/** Share of the columns a round may add, below which a coarse grid no longer serves. */
const FEW_SHARE = 0.5;
/** Columns that a round adds at most; priced to the unit of length, one for so many items. */
const MOST_COLUMNS = 60;
const ITEMS_A_COLUMN = 4;

/** Column generation at the root (Gilmore and Gomory 1961), with smoothed duals. */
export class Generation {
  private readonly smoothing: Smoothing;
  private readonly most: number;
  private readonly exact: ExactPricing | null;
  /** Serves from the first round on. */
  private readonly stepped: StepPricing | null;
  /** Whether patterns are priced to the unit of length from now on. */
  private exactly: boolean;
  /** Whether that is worth more than it takes on a coarse grid. */
  private needed = false;

  /** `byLength`: what an item is worth by its length, to smooth towards at first; null where that is not known. */
  constructor(
    readonly master: Master,
    byLength: Float64Array | null,
    private readonly grain: number,
    private readonly at: Prover,
  ) {
    const share = master.settled ? SHARE : SHARE_SUBSTITUTED;
    this.smoothing = new Smoothing(byLength && master.valuesOf(byLength), share);
    const exact = hasSetups(master.goal) ? null : new ExactPricing(master.instance, at.watch);
    this.exact = exact?.serves ? exact : null;
    this.exactly = this.exact !== null;
    this.stepped = hasSetups(master.goal) ? null : StepPricing.of(master.instance, at.watch);
    this.most = Math.max(10, Math.min(MOST_COLUMNS, master.instance.n >> 1));
  }

  /** False: the LP library failed. */
  converge({ full = false, sharp: asked = false, rounds = Infinity }: Converging): boolean {
    for (;;) {
      const served = this.columnsUntil(full, asked, rounds);
      if (!served || this.at.watch.over() || this.at.done || !this.master.settle()) return served;
    }
  }

  private columnsUntil(full: boolean, asked: boolean, rounds: number): boolean {
    const { master, at, grain } = this;
    const single = master.instance.groups.length === 1;
    let sharp = asked;
    let thin = 0;
    for (let round = 0; round < rounds; round++) {
      if (at.watch.over()) return true;
      const answer = master.solve(at.watch.seconds());
      if (!answer) return false;
      const added = this.price(sharp);
      if (at.done) return true;
      // What trickles in at the end matters to a proof, hardly to the next dive.
      thin = added <= THIN ? thin + 1 : 0;
      // Rounded up, the bound cannot pass the master's value: once it is there, more columns only cost time.
      const most = Math.ceil(answer.objective / grain - 1e-6) * grain;
      const risen = at.bound >= most && !master.leavesOut();
      if (!full && risen) return true;
      if (full && thin >= THIN_ROUNDS && (!sharp || (single && risen))) return true;
      if (added === 0 && !(sharp && master.pricing.sharpen())) return true;
      // On a coarse grid what is left is found by long searches, a column a round: a finer one finds many.
      if (!full && !sharp && !this.exact && thin >= THIN_ROUNDS && master.pricing.sharpen())
        [sharp, thin] = [true, 0];
    }
    return true;
  }

  /** Prices at smoothed duals, and where nothing of worth came of it at the master's own; how many columns count. */
  private price(sharp: boolean): number {
    const { master } = this;
    const duals = master.duals();
    const smooth = sharp ? null : this.smoothing.smooth(duals);
    if (smooth) {
      const known = master.columns.length;
      this.enter(smooth);
      this.prove(smooth);
      const count = master.worthMore(known, duals);
      if (count > 0 || this.at.done) return count;
    }
    const added = this.enter(duals);
    this.prove(duals);
    return added;
  }

  /** Patterns worth more than they cost enter; how many. */
  private enter(duals: Duals): number {
    const { master, most, exact, stepped } = this;
    if (stepped) return master.pricing.priceSteps(stepped, duals, most);
    const many = Math.max(most, Math.floor(master.instance.n / ITEMS_A_COLUMN));
    const exactly =
      exact && this.exactly ? master.pricing.priceExactly(exact, duals, many, !this.needed) : null;
    if (exactly !== null) {
      this.exactly = exact!.cheap || exactly < FEW_SHARE * most;
      return exactly;
    }
    const added = master.pricing.price(duals, master.instance.demand, most);
    // On a coarse grid patterns that are just too long hide those worth more than they cost.
    this.needed = added < FEW_SHARE * most;
    this.exactly = this.needed;
    return added;
  }

  private prove(duals: Duals): void {
    const value = this.at.prove(duals);
    if (value !== null) this.smoothing.learn(duals, value);
  }
}
