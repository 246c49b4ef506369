/** Stop settings in the order they are set, longest first, each with the units cut at it. */
import type { LaidRun, LaidUnit } from '../layout/layout.js';
import type { Gauge, Um } from '../terms.js';

export interface Stop {
  readonly setting: Um;
  readonly second: Um | null;
  readonly gauge: string | null;
  readonly units: readonly LaidUnit[];
}

/** One setting serves every angle; those of one angle are cut before the saw is swung to the next. */
export function stopsOf(runs: readonly LaidRun[], gauges: ReadonlyMap<Um, string>): readonly Stop[] {
  const stops: { setting: Um; second: Um | null; gauge: string | null; units: LaidUnit[] }[] = [];
  for (const { setting, second, units } of runs) {
    const last = stops.at(-1);
    if (last !== undefined && last.setting === setting && last.second === second)
      last.units = last.units.concat(units);
    else stops.push({ setting, second, gauge: gauges.get(setting) ?? null, units: [...units] });
  }
  return stops;
}

/** The first gauge stick of each length. */
export function gaugesByLength(gauges: readonly Gauge[]): ReadonlyMap<Um, string> {
  return new Map(gauges.toReversed().map((gauge) => [gauge.length, gauge.id]));
}
