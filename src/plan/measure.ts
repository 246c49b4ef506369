/** A laid-out moulding as its part of the plan document, with its totals counted from the layout itself. */

import { frameId, railId, stickId } from '../documents/ids.js';
import type { PlannedStick, PlannedStop, Remainder } from '../documents/plan/types.js';
import type { LaidStick, LaidUnit, Layout } from '../layout/layout.js';
import type { Left } from '../layout/left.js';
import { offcutSpan } from '../layout/offcut.js';
import { toNumber } from '../lengths/exact.js';
import { mmFromUm } from '../lengths/units.js';
import { mitreTan } from '../rails/mitre.js';
import { tagsOf } from '../rails/tags.js';
import { cutsOf, nested } from '../stock/spacing.js';
import type { MouldingTask, Source } from '../stock/task.js';
import type { Stop } from '../stops/stops.js';
import type { Batch, Cents, Um } from '../terms.js';
import type { PartTotals } from './part.js';

function frameName(batch: Batch, unit: LaidUnit): string {
  return frameId(batch.frames[unit.type.line]!.id, unit.copy);
}

/** `rails`: every one that is or was to be on the stick. */
export function remainder(
  source: Source,
  rails: readonly { readonly start: Um; readonly length: Um }[],
  { from, to, keep }: Left,
): Remainder {
  const span = { from: mmFromUm(from), to: mmFromUm(to) };
  if (!keep) return { ...span, use: 'waste' };
  const spans = rails.map(({ start, length }) => ({ from: start, to: start + length }));
  const piece = offcutSpan(source, spans, { from, to });
  return { ...span, use: 'offcut', piece: { length: mmFromUm(piece.to - piece.from), ends: piece.ends } };
}

export function plannedStick(batch: Batch, task: MouldingTask, stick: LaidStick): PlannedStick {
  const { source, copy } = stick;
  const tags = tagsOf(batch);
  return {
    stick: stickId(source.ref, copy),
    source: source.source,
    ref: source.ref,
    length: mmFromUm(source.length),
    run: stick.run + 1,
    rails: stick.lanes.flat().map((rail) => {
      const frame = frameName(batch, rail.unit);
      return {
        rail: railId(frame, rail.side),
        frame,
        side: rail.side,
        start: mmFromUm(rail.start),
        length: mmFromUm(rail.length),
        angle: task.spacing.mitres[rail.kind]!.angle,
        flipped: rail.flipped,
        tag: tags.rail(frame, rail.side),
      };
    }),
    left: stick.left.map((left) => remainder(source, stick.lanes.flat(), left)),
  };
}

export function plannedStop(batch: Batch, { spacing }: MouldingTask, stop: Stop): PlannedStop {
  const angles = new Set(stop.kinds.map((kind) => spacing.mitres[kind]!.angle));
  return {
    run: stop.run + 1,
    angle: angles.size === 1 ? [...angles][0]! : null,
    setting: mmFromUm(stop.setting),
    second: stop.second === null ? null : mmFromUm(stop.second),
    gauge: stop.gauge,
    pairs: stop.units.map((unit) => {
      const frame = frameName(batch, unit);
      return { frame, rails: unit.sides.map((side) => railId(frame, side)) };
    }),
  };
}

/** Wood of a stick's rails, in micrometres: nested ones count along their middle line, L − F·tan θ. */
function railLength(task: MouldingTask, stick: LaidStick): number {
  const face = toNumber(task.moulding.face);
  let sum = 0;
  for (const lane of stick.lanes) {
    for (const rail of lane) sum += rail.length;
    const kinds = lane.map((rail) => rail.kind);
    for (const kind of nested(task.spacing, kinds)) sum -= face * mitreTan(task.spacing.mitres[kind]!.sides);
  }
  return sum;
}

/** Cuts of one stick. */
export function stickCuts({ spacing }: MouldingTask, { lanes }: LaidStick): number {
  return lanes.reduce(
    (sum, lane) =>
      sum +
      cutsOf(
        spacing,
        lane.map((rail) => rail.kind),
      ),
    0,
  );
}

/** A setting that comes back in another run counts once; a second stop counts too. */
function differentSettings(stops: readonly Stop[]): number {
  const seen = new Map(stops.map(({ setting, second }) => [`${setting} ${second}`, second === null ? 1 : 2]));
  return [...seen.values()].reduce((sum, settings) => sum + settings, 0);
}

export function totalsOf(
  task: MouldingTask,
  layout: Layout,
  stops: readonly Stop[],
  cost: Cents,
): Omit<PartTotals, 'handling' | 'unmerged' | 'stopsSet' | 'time'> {
  let [stockLength, rails, offcutLength] = [0, 0, 0];
  for (const stick of layout.sticks) {
    stockLength += stick.source.length;
    rails += railLength(task, stick);
    for (const { from, to, keep } of stick.left) if (keep) offcutLength += to - from;
  }
  return {
    sticks: layout.sticks.length,
    stockLength,
    railLength: Math.round(rails),
    offcutLength,
    cost,
    stopSettings: differentSettings(stops),
    cuts: layout.sticks.reduce((sum, stick) => sum + stickCuts(task, stick), 0),
  };
}
