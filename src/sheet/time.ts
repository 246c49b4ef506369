/** How long the sawing takes: what a setting, a visit and a stick's first mitre take, in seconds. */
import { sawingTime } from '../plan/sawing/hours.js';
import { aboutTime } from '../show/hours.js';
import type { Batch, Moulding } from '../terms.js';
import type { SheetRun, SheetSetting, SheetVisit } from './job.js';

const MS = 1000;
const NOTHING = { stops: 0, gauged: 0, visits: 0, cuts: 0, rails: 0, sticks: 0 } as const;

export function setSeconds({ labour }: Batch, { gauge, second }: SheetSetting): number {
  return ((gauge === null ? labour.setStop : labour.setGauge) + (second === null ? 0 : labour.setStop)) / MS;
}

/** Profiled stock: two cuts a rail; reversible: one. */
export function visitSeconds({ labour }: Batch, moulding: Moulding, { rails }: SheetVisit): number {
  const cuts = (moulding.reversible ? 1 : 2) * rails.length;
  return sawingTime(labour, moulding, { ...NOTHING, visits: 1, cuts, rails: rails.length }) / MS;
}

/** The first time a stick is taken up; reversible stock has one cut more. */
export function beginSeconds({ labour }: Batch, moulding: Moulding): number {
  return sawingTime(labour, moulding, { ...NOTHING, sticks: 1, cuts: moulding.reversible ? 1 : 0 }) / MS;
}

export function runSeconds(batch: Batch, moulding: Moulding, { settings, sticks }: SheetRun): number {
  const work = settings.reduce(
    (sum, setting) =>
      sum +
      setSeconds(batch, setting) +
      setting.visits.reduce((inner, visit) => inner + visitSeconds(batch, moulding, visit), 0),
    0,
  );
  return work + sticks.length * beginSeconds(batch, moulding);
}

export function timeText(batch: Batch, moulding: Moulding, run: SheetRun): string {
  return aboutTime(runSeconds(batch, moulding, run));
}
