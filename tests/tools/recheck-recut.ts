/** What is wrong with a recut, from the definition: batch, plan, what was cut and what was lost; nothing of src/recut. */
import { jointOf, type MitreGeometry, mitre, type Wood } from '../../src/check/wood/geometry.js';
import type { PlacedRail, Plan, PlannedStick } from '../../src/documents/plan/types.js';
import type { Recut, RecutMoulding, RecutStick } from '../../src/documents/recut/types.js';
import type { Batch, FrameLine, Moulding } from '../../src/terms.js';

const um = (mm: number): number => Math.round(mm * 1000);

interface On {
  readonly batch: Batch;
  readonly plan: Plan;
  readonly cut: ReadonlySet<string>;
  readonly lost: ReadonlySet<string>;
  readonly recut: Recut;
  readonly wrong: string[];
}

interface Planned {
  readonly stick: PlannedStick;
  readonly rail: PlacedRail;
}

function plannedRails(plan: Plan): ReadonlyMap<string, Planned> {
  return new Map(
    plan.mouldings.flatMap((part) =>
      part.sticks.flatMap((stick) => stick.rails.map((rail) => [rail.rail, { stick, rail }] as const)),
    ),
  );
}

function lineOf(batch: Batch, frame: string): FrameLine {
  return batch.frames.find((line) => line.id === frame.slice(0, frame.lastIndexOf('/')))!;
}

function ring(line: FrameLine): readonly string[] {
  const { shape } = line;
  return shape.kind === 'rectangle'
    ? ['top', 'right', 'bottom', 'left']
    : Array.from({ length: shape.sides }, (_, i) => `side${i + 1}`);
}

function everyRailOnce({ plan, cut, lost, recut, wrong }: On): void {
  const planned = plannedRails(plan);
  const seen = new Map<string, string>();
  const meet = (rail: string, where: string): void => {
    if (seen.has(rail)) wrong.push(`${rail} twice: ${seen.get(rail)} and ${where}`);
    seen.set(rail, where);
  };
  for (const { sticks } of recut.mouldings) {
    for (const { stick, cut: good, lost: gone, rails } of sticks) {
      for (const rail of good) {
        meet(rail.rail, 'cut');
        if (!cut.has(rail.rail) || lost.has(rail.rail)) wrong.push(`${rail.rail} is not cut and good`);
      }
      for (const rail of [...good, ...gone]) {
        const before = planned.get(rail.rail);
        const placeOf = ({ rail: id, frame, side, start, length, angle, flipped }: PlacedRail): string =>
          JSON.stringify([id, frame, side, start, length, angle, flipped]);
        if (before?.stick.stick !== stick || placeOf(before.rail) !== placeOf(rail)) {
          wrong.push(`${rail.rail} was cut, and not there`);
        }
      }
      for (const rail of gone) if (!lost.has(rail.rail)) wrong.push(`${rail.rail} was not lost`);
      for (const rail of rails) {
        meet(rail.rail, 'to cut');
        if (cut.has(rail.rail) && !lost.has(rail.rail)) wrong.push(`${rail.rail} is cut already`);
        if (rail.replaces !== lost.has(rail.rail)) wrong.push(`${rail.rail}: replaces ${rail.replaces}`);
        const before = planned.get(rail.rail);
        if (before?.rail.length !== rail.length) wrong.push(`${rail.rail} has another length`);
        if (before?.rail.angle !== rail.angle) wrong.push(`${rail.rail} has another angle`);
        if (before?.stick.stick !== rail.was) wrong.push(`${rail.rail} was on ${before?.stick.stick}`);
      }
    }
  }
  for (const { rails } of recut.shortfall) for (const rail of rails) meet(rail, 'short');
  for (const rail of planned.keys()) if (!seen.has(rail)) wrong.push(`${rail} is nowhere`);
  for (const rail of seen.keys()) if (!planned.has(rail)) wrong.push(`${rail} is from nowhere`);
  const gone = recut.mouldings.flatMap((part) => part.sticks.flatMap((stick) => stick.lost)).length;
  if (gone !== lost.size) wrong.push(`${gone} lost rails of ${lost.size}`);
}

function flawsOf(batch: Batch, stick: RecutStick): readonly (readonly [number, number])[] {
  return stick.source === 'rack' ? batch.sticks.find(({ id }) => id === stick.ref)!.flaws : [];
}

function wood({ batch, wrong }: On, moulding: Moulding, stick: RecutStick): void {
  const mitres = new Map<number, MitreGeometry>();
  const all = [...stick.cut, ...stick.lost, ...stick.rails].map((rail) => {
    const sides = ring(lineOf(batch, rail.frame)).length;
    const angle = mitres.get(sides) ?? mitre(sides, batch.saw.kerf, moulding.face);
    mitres.set(sides, angle);
    const [start, length] = [um(rail.start), um(rail.length)];
    return { rail, wood: { start, end: start + length, flipped: rail.flipped, mitre: angle } satisfies Wood };
  });
  all.sort((a, b) => a.wood.start - b.wood.start);
  const flaws = flawsOf(batch, stick);
  const laneOf = (at: Wood): number => flaws.filter(([from]) => from <= at.start).length;
  const [first, last] = [moulding.endTrim, um(stick.length) - moulding.endTrim];
  const toCut = new Set<PlacedRail>(stick.rails);
  all.forEach(({ rail, wood: own }, i) => {
    const at = `${stick.stick} ${rail.rail}`;
    if (own.start < first || own.end > last) wrong.push(`${at} in a trim`);
    if (flaws.some(([from, to]) => own.start < to && own.end > from)) wrong.push(`${at} in a flaw`);
    if (rail.flipped && !moulding.reversible) wrong.push(`${at} flipped`);
    const before = all[i - 1];
    if (before === undefined) return;
    const joint = jointOf(before.wood, own, batch.saw.recut);
    if (joint !== 'sound') wrong.push(`${at}: ${joint}`);
    if (!toCut.has(rail) && toCut.has(before.rail) && laneOf(before.wood) === laneOf(own)) {
      wrong.push(`${at} was cut right of a rail that is not`);
    }
  });
  for (const { from, to, use } of stick.left) {
    const [a, b] = [um(from), um(to)];
    const meets = all.some(
      ({ wood: w }) => w.start - w.mitre.blade < b - 1e-6 && w.end + w.mitre.blade > a + 1e-6,
    );
    if (meets || (use === 'offcut') !== b - a >= moulding.keepOver)
      wrong.push(`${stick.stick}: left ${from} to ${to}`);
  }
}

function pieces({ batch, plan, recut, wrong }: On): void {
  const names = new Set<string>();
  for (const part of recut.mouldings) {
    for (const stick of part.sticks) {
      const entry =
        stick.source === 'rack'
          ? batch.sticks.find(({ id }) => id === stick.ref)
          : batch.offers.find(({ id }) => id === stick.ref);
      const key = `${stick.source} ${stick.stick}`;
      if (names.has(key)) wrong.push(`${key} twice`);
      names.add(key);
      if (entry?.moulding !== part.moulding || entry.length !== um(stick.length))
        wrong.push(`${key} is no piece`);
      const copy = Number(stick.stick.slice(stick.ref.length + 1));
      const count = (list: readonly { offer: string; count: number }[]): number =>
        list.reduce((sum, one) => sum + (one.offer === stick.ref ? one.count : 0), 0);
      const most =
        stick.source === 'rack'
          ? batch.sticks.find(({ id }) => id === stick.ref)!.quantity
          : count(plan.buy) + count(recut.buy);
      if (!(copy >= 1 && copy <= most)) wrong.push(`${key}: there are ${most}`);
    }
  }
  for (const { offer: id, count, cost } of recut.buy) {
    const offer = batch.offers.find((one) => one.id === id)!;
    const before = plan.buy.find((one) => one.offer === id)?.count ?? 0;
    const price = offer.breaks.findLast(({ from }) => from <= count)?.price ?? offer.price;
    if (Math.round(cost * 100) !== count * price) wrong.push(`${id}: ${count} cost ${cost}`);
    if (count % offer.pack !== 0) wrong.push(`${id}: ${count} break a pack`);
    if (offer.available !== null && before + count > offer.available)
      wrong.push(`${id}: ${count} are not for sale`);
  }
}

function stops({ batch, wrong }: On, part: RecutMoulding): void {
  const at = new Map<string, number>();
  const toCut = new Map(
    part.sticks.flatMap((stick) => stick.rails.map((rail) => [rail.rail, rail] as const)),
  );
  part.stops.forEach((stop, s) => {
    for (const { frame, rails } of stop.pairs) {
      for (const id of rails) {
        if (at.has(id)) wrong.push(`${id} at two stops`);
        at.set(id, s);
        const rail = toCut.get(id);
        if (rail?.frame !== frame) wrong.push(`${id} at a stop but not cut`);
        else if (rail.length !== stop.setting && rail.length !== stop.second)
          wrong.push(`${id} at another length`);
      }
    }
    const gauge = batch.gauges.find(({ length }) => length === um(stop.setting))?.id ?? null;
    if (stop.gauge !== gauge) wrong.push(`gauge ${stop.gauge}`);
    const before = part.stops[s - 1];
    if (before === undefined || before.finish !== stop.finish) {
      if (before !== undefined && stop.finish) wrong.push('finished late');
      return;
    }
    const falls =
      stop.setting < before.setting ||
      (stop.setting === before.setting && (stop.second ?? Infinity) !== (before.second ?? Infinity));
    if (!falls) wrong.push(`stop ${stop.setting} after ${before.setting}`);
  });
  for (const id of toCut.keys()) if (!at.has(id)) wrong.push(`${id} at no stop`);
  for (const stick of part.sticks) {
    const flaws = flawsOf(batch, stick);
    const laneOf = (rail: PlacedRail): number => flaws.filter(([from]) => from <= um(rail.start)).length;
    stick.rails.forEach((rail, i) => {
      const before = stick.rails[i - 1];
      if (before === undefined || laneOf(before) !== laneOf(rail)) return;
      if (at.get(rail.rail)! < at.get(before.rail)!)
        wrong.push(`${rail.rail} cut before ${before.rail}, left of it`);
    });
  }
}

/** Sides that lie side by side as far as that can still be. */
function matches({ batch, plan, cut, lost, recut, wrong }: On): void {
  const short = new Set(recut.shortfall.flatMap(({ rails }) => rails));
  const now = new Map<string, { readonly stick: string; readonly at: number }>();
  for (const { sticks } of recut.mouldings) {
    for (const stick of sticks) {
      const all = [...stick.cut, ...stick.lost, ...stick.rails].sort((a, b) => a.start - b.start);
      all.forEach((rail, at) => {
        const gone = lost.has(rail.rail) && !stick.rails.some((one) => one.rail === rail.rail);
        if (!gone) now.set(rail.rail, { stick: stick.stick, at });
      });
    }
  }
  const frames = new Set([...plannedRails(plan).values()].map(({ rail }) => rail.frame));
  const broken = new Set<string>();
  for (const frame of frames) {
    const line = lineOf(batch, frame);
    const sides = ring(line);
    const half = sides.length / 2;
    const bundles =
      line.match === 'frame'
        ? [sides]
        : line.match === 'pair' && sides.length % 2 === 0
          ? sides.slice(0, half).map((side, i) => [side, sides[i + half]!])
          : [];
    for (const bundle of bundles) {
      const rails = bundle.map((side) => `${frame}/${side}`);
      const good = rails.some((rail) => cut.has(rail) && !lost.has(rail));
      if (good && rails.some((rail) => lost.has(rail))) broken.add(frame);
      rails.forEach((rail, i) => {
        const next = rails[i + 1];
        if (next === undefined || short.has(rail) || short.has(next)) return;
        const again = (id: string): boolean => !cut.has(id) || lost.has(id);
        // Between a rail that stays and a replacement nothing can be asked for.
        const apart = again(rail) !== again(next) && (lost.has(rail) || lost.has(next));
        const split = again(rail) !== again(next) && rails.some((id) => lost.has(id));
        if (apart || split) return;
        const [a, b] = [now.get(rail)!, now.get(next)!];
        const beside = line.match === 'frame' ? b.at - a.at === 1 : Math.abs(b.at - a.at) === 1;
        if (a.stick !== b.stick || !beside) wrong.push(`${rail} and ${next} apart`);
      });
    }
  }
  const told = recut.notices.filter(({ code }) => code === 'PS_MATCH_BROKEN').map(({ message }) => message);
  for (const frame of broken) {
    if (!told.some((message) => message.startsWith(`${frame}: `)))
      wrong.push(`${frame}: broken match not told`);
  }
  if (told.length > 0 && broken.size === 0) wrong.push('a match is told broken that is not');
}

export function recutFaults(
  batch: Batch,
  plan: Plan,
  cut: ReadonlySet<string>,
  lost: ReadonlySet<string>,
  recut: Recut,
): readonly string[] {
  const on: On = { batch, plan, cut, lost, recut, wrong: [] };
  everyRailOnce(on);
  pieces(on);
  matches(on);
  for (const part of recut.mouldings) {
    const moulding = batch.mouldings.find(({ id }) => id === part.moulding)!;
    for (const stick of part.sticks) wood(on, moulding, stick);
    stops(on, part);
    const moved = part.sticks.flatMap(({ stick, rails }) =>
      rails.filter((rail) => !rail.replaces && rail.was !== stick),
    );
    if (moved.length !== part.moved) on.wrong.push(`${moved.length} moved, ${part.moved} told`);
  }
  const short = recut.shortfall.length > 0 ? 'short' : 'complete';
  if (recut.status !== short) on.wrong.push(`status ${recut.status}`);
  return on.wrong;
}
