/** How long the sawing takes: what a setting, a visit and a stick's first mitre take, in seconds. */
import type { Batch, Moulding } from '../terms.js';
import type { SheetRun, SheetSetting, SheetVisit } from './job.js';

/** Common practice, no source. */
const HANDS = {
  setStop: 60,
  setGauge: 20,
  takeStick: 20,
  cut: 10,
  swing: 6,
  label: 5,
  firstMitre: 30,
} as const;

export function setSeconds(_batch: Batch, { gauge, second }: SheetSetting): number {
  return (gauge === null ? HANDS.setStop : HANDS.setGauge) + (second === null ? 0 : HANDS.setStop);
}

/** Profiled stock: two cuts and two swings a rail; reversible: one cut. */
export function visitSeconds(_batch: Batch, { reversible }: Moulding, { rails }: SheetVisit): number {
  const each = reversible ? HANDS.cut : 2 * HANDS.cut + 2 * HANDS.swing;
  return HANDS.takeStick + rails.length * (each + HANDS.label);
}

/** The first time a stick is taken up. */
export function beginSeconds(_batch: Batch, { reversible }: Moulding): number {
  return HANDS.firstMitre + (reversible ? HANDS.cut : 0);
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

const MINUTE = 60;
const HOUR = 3600;

/** `about 35 min`, `about 2 h 10 min`. */
export function aboutText(seconds: number): string {
  const minutes = Math.max(1, Math.round(seconds / MINUTE));
  if (minutes < 90) return `about ${minutes} min`;
  const hours = Math.floor((minutes * MINUTE) / HOUR);
  const rest = Math.round((minutes - hours * MINUTE) / 5) * 5;
  return rest === 0 || rest === MINUTE
    ? `about ${hours + (rest === MINUTE ? 1 : 0)} h`
    : `about ${hours} h ${rest} min`;
}

export function timeText(batch: Batch, moulding: Moulding, run: SheetRun): string {
  return aboutText(runSeconds(batch, moulding, run));
}
