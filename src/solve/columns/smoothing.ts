import type { Duals } from '../bounds/bound.js';

type Values = Pick<Duals, 'item' | 'supply' | 'row'>;

function between(
  own: Float64Array,
  centre: Float64Array,
  share: number,
  round: (x: number) => number,
): Float64Array {
  return own.map((value, i) => round(share * centre[i]! + (1 - share) * value));
}

/**
 * Dual smoothing (Wentges 1997; Pessoa, Sadykov, Uchoa and Vanderbeck 2018): patterns are priced between the master's
 * duals, which leap about, and those that gave the best bound so far, so that fewer rounds are needed. All in whole
 * numbers: what is proved from such duals holds like any other.
 */
export class Smoothing {
  private centre: Values | null;
  private best = -Infinity;

  /** `share` of the way from the master's duals to those of the best bound. */
  constructor(
    start: Values | null,
    private readonly share: number,
  ) {
    this.centre = start;
  }

  /** Duals to price at; null where there is nothing to smooth with yet. */
  smooth(duals: Duals): Duals | null {
    const { centre, share } = this;
    return (
      centre && {
        scale: duals.scale,
        item: between(duals.item, centre.item, share, Math.floor),
        supply: between(duals.supply, centre.supply, share, Math.ceil),
        row: between(duals.row, centre.row, share, Math.ceil),
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
