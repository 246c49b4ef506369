/** Stop settings in the order they are set, run by run, each with the units cut at it. */
import type { LaidGroup, LaidUnit } from '../layout/layout.js';
import type { Gauge, Um } from '../terms.js';

export interface Stop {
  /** From 0. */
  readonly run: number;
  readonly setting: Um;
  readonly second: Um | null;
  readonly gauge: string | null;
  /** Indices of `Spacing.mitres`. */
  readonly kinds: readonly number[];
  readonly units: readonly LaidUnit[];
}

/** One setting serves every angle; those of one angle are cut before the saw is swung to the next. */
export function stopsOf(groups: readonly LaidGroup[], gauges: ReadonlyMap<Um, string>): readonly Stop[] {
  const stops: (Stop & { kinds: number[]; units: LaidUnit[] })[] = [];
  for (const { run, setting, second, kind, units } of groups) {
    const last = stops.at(-1);
    if (last?.run === run && last.setting === setting && last.second === second) {
      last.units = last.units.concat(units);
      last.kinds.push(kind);
    } else {
      const gauge = gauges.get(setting) ?? null;
      stops.push({ run, setting, second, gauge, kinds: [kind], units: [...units] });
    }
  }
  return stops;
}

/** The first gauge stick of each length. */
export function gaugesByLength(gauges: readonly Gauge[]): ReadonlyMap<Um, string> {
  return new Map(gauges.toReversed().map((gauge) => [gauge.length, gauge.id]));
}
