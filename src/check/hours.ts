/** Counts again how long the sawing takes: stops set, visits, cuts, swings, labels and first mitres. */
import type { Labour, Ms } from '../terms.js';

/** Swings a rail of profiled stock takes: over to the other mitre and back. */
const OVER_AND_BACK = 2;

/** What one run, or one moulding, takes. */
export interface SawCounts {
  setByMeasure: number;
  setByGauge: number;
  visits: number;
  cuts: number;
  rails: number;
  sticks: number;
}

export function nothingSawn(): SawCounts {
  return { setByMeasure: 0, setByGauge: 0, visits: 0, cuts: 0, rails: 0, sticks: 0 };
}

export function timeFor(labour: Labour, reversible: boolean, counts: SawCounts): Ms {
  const a = labour.setStop * counts.setByMeasure + labour.setGauge * counts.setByGauge;
  const b = labour.takeStick * counts.visits + labour.cut * counts.cuts;
  const c = (labour.label + (reversible ? 0 : OVER_AND_BACK * labour.swing)) * counts.rails;
  return a + b + c + labour.firstMitre * counts.sticks;
}
