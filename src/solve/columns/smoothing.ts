import type { Duals } from '../bounds/bound.js';

type Values = Pick<Duals, 'item' | 'supply' | 'row'>;

/** Share of the way from the master's duals to those of the best bound; measured, see DEVELOPERS.md. */
const SHARE = 0.5;

function between(own: Float64Array, centre: Float64Array, round: (x: number) => number): Float64Array {
  return own.map((value, i) => round(SHARE * centre[i]! + (1 - SHARE) * value));
}

/**
 * Dual smoothing (Wentges 1997; Pessoa, Sadykov, Uchoa and Vanderbeck 2018): patterns are priced between the master's
 * duals, which leap about, and those that gave the best bound so far, so that fewer rounds are needed. All in whole
 * numbers: what is proved from such duals holds like any other.
 */
export class Smoothing {
  private centre: Values | null;
  private best = -Infinity;

  constructor(start: Values | null) {
    this.centre = start;
  }

  /** Duals to price at; null where there is nothing to smooth with yet. */
  smooth(duals: Duals): Duals | null {
    const { centre } = this;
    return (
      centre && {
        scale: duals.scale,
        item: between(duals.item, centre.item, Math.floor),
        supply: between(duals.supply, centre.supply, Math.ceil),
        row: between(duals.row, centre.row, Math.ceil),
        worth: new Float64Array(duals.worth.length),
      }
    );
  }

  /** `bound`: what the duals prove. */
  learn(duals: Values, bound: number): void {
    if (bound <= this.best) return;
    this.best = bound;
    this.centre = duals;
  }
}
