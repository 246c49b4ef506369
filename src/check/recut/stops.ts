/** The stops of a recut: what was begun first, then run by run, and every rail to be cut at one of them. */
import type { RecutMoulding, RecutStop } from '../../documents/recut/types.js';
import type { InMoulding } from '../context.js';
import { lengthAt, mm } from '../numbers.js';
import { checkAngle, checkGauge, type Gauges, groupOf } from '../stops.js';

/** Rails of one frame at one stop are cut one after the other, however many of them there still are. */
function checkPairs(on: InMoulding, stop: RecutStop, at: number, path: string): readonly number[] {
  return stop.pairs.flatMap((pair, p) => {
    on.verified.pairs += 1;
    if (pair.rails.length === 0) on.findings.add('CHECK_PAIR', `${path}.pairs[${p}]`, 'no rails');
    return groupOf(on, pair, at, `${path}.pairs[${p}]`);
  });
}

/** The stop's length is that of a good rail of a frame one of whose rails is replaced at it, where there is such a one. */
function checkSetBy(on: InMoulding, part: RecutMoulding, stop: RecutStop, path: string): void {
  const replaced = new Set(
    part.sticks.flatMap(({ rails }) =>
      rails.filter((rail) => rail.replaces && rail.length === stop.setting).map((rail) => rail.rail),
    ),
  );
  const frames = new Set(
    stop.pairs.filter(({ rails }) => rails.some((rail) => replaced.has(rail))).map(({ frame }) => frame),
  );
  const good = part.sticks.flatMap(({ cut }) =>
    cut.filter((rail) => frames.has(rail.frame) && rail.length === stop.setting).map((rail) => rail.rail),
  );
  if (stop.setBy === null ? good.length === 0 : good.includes(stop.setBy)) return;
  const found = stop.setBy === null ? 'none' : `"${stop.setBy}"`;
  on.findings.add(
    'CHECK_SET_BY',
    `${path}.setBy`,
    found,
    good.length === 0 ? 'null' : good.slice(0, 4).join(', '),
  );
}

function checkRail(on: InMoulding, stop: RecutStop, rail: number, path: string): void {
  const { roster, findings } = on;
  const [length, name] = [roster.length[rail]!, roster.railName(rail)];
  const settings = [stop.setting, stop.second]
    .filter((one) => one !== null)
    .map((one) => Math.round(one * 1_000));
  if (length === 0) findings.add('CHECK_STOP_RAIL', path, `"${name}", which is on no stick`);
  else if (!settings.includes(length)) {
    findings.add('CHECK_STOP_SETTING', path, `"${name}" of ${mm(length)}`, settings.map(mm).join(' or '));
  }
}

/** Notes in the roster which stop each rail is cut at. The sticks need not have been looked at. */
export function checkRecutStops(on: InMoulding, part: RecutMoulding, gauges: Gauges): void {
  const list = `${on.path}.stops`;
  let before: RecutStop | undefined;
  const set = new Set<string>();
  part.stops.forEach((stop, at) => {
    const path = `${list}[${at}]`;
    on.verified.stops += 1;
    const setting = lengthAt(stop.setting, on.findings, list, at, 'setting');
    const second = stop.second === null ? null : lengthAt(stop.second, on.findings, list, at, 'second');
    checkGauge(on, stop, setting, gauges, path);
    if (second !== null && !(second < setting)) {
      on.findings.add('CHECK_SECOND', `${path}.second`, mm(second), `below ${mm(setting)}`);
    }
    const rails = checkPairs(on, stop, at, path);
    if (stop.pairs.length === 0) on.findings.add('CHECK_STOP_IDLE', path, `${mm(setting)} without rails`);
    if (
      second !== null &&
      rails.some((rail) => on.roster.lineOf(on.roster.frameOf(rail)).line.match !== 'frame')
    ) {
      on.findings.add(
        'CHECK_SECOND',
        path,
        'rails that are not matched as a frame',
        'frame-matched rails only',
      );
    }
    checkAngle(on, stop, rails, path);
    checkSetBy(on, part, stop, path);
    if (stop.finish !== (stop.run === undefined) || (stop.finish && before?.finish === false)) {
      const found = `finish ${stop.finish}, run ${stop.run ?? 'none'}`;
      on.findings.add('CHECK_FINISH', path, found);
    }
    checkFall(on, stop, before, path);
    const key = `${stop.run ?? 'finish'} ${stop.setting} ${stop.second ?? ''}`;
    if (on.batch.saw.order === 'fewest' && set.has(key))
      on.findings.add(
        'CHECK_STOP_ORDER',
        `${path}.setting`,
        `${stop.setting} mm a second time`,
        'once a run',
      );
    set.add(key);
    before = stop;
  });
}

/** Runs one after the other; within one the longest setting first unless the batch wants fewest sticks begun. */
function checkFall(on: InMoulding, stop: RecutStop, before: RecutStop | undefined, path: string): void {
  if (before === undefined || before.finish !== stop.finish) return;
  const [run, last] = [stop.run ?? 0, before.run ?? 0];
  if (run < last) on.findings.add('CHECK_RUN', `${path}.run`, String(run), `${last} or more`);
  if (run !== last) return;
  if (on.batch.saw.order === 'fewest' && !stop.finish) return;
  const same = stop.setting === before.setting && (stop.second ?? 0) === (before.second ?? 0);
  if (stop.setting > before.setting || same) {
    on.findings.add(
      'CHECK_STOP_ORDER',
      `${path}.setting`,
      `${stop.setting} mm after ${before.setting} mm`,
      'longest first',
    );
  }
}

/** After the sticks: every rail to be cut is as long as its stop, and at one. */
export function checkStopLengths(on: InMoulding, part: RecutMoulding): void {
  const { roster, findings } = on;
  part.stops.forEach((stop, at) => {
    const path = `${on.path}.stops[${at}]`;
    for (const { frame: name, rails } of stop.pairs) {
      const frame = roster.frameAt(name);
      for (const id of frame < 0 ? [] : rails) {
        const rail = roster.railAt(frame, id.slice(name.length + 1));
        if (rail >= 0 && roster.stop[rail] === at) checkRail(on, stop, rail, path);
      }
    }
  });
  part.sticks.forEach(({ cut, rails }, s) => {
    const stopOf = ({ frame: name, side }: { readonly frame: string; readonly side: string }): number => {
      const frame = roster.frameAt(name);
      const rail = frame < 0 ? -1 : roster.railAt(frame, side);
      return rail < 0 ? 0 : roster.stop[rail]!;
    };
    rails.forEach((rail, r) => {
      if (stopOf(rail) >= 0) return;
      findings.add('CHECK_STOP_RAIL', `${on.path}.sticks[${s}].rails[${r}]`, `"${rail.rail}" in no pair`);
    });
    cut.forEach((rail, r) => {
      const frame = roster.frameAt(rail.frame);
      if (frame < 0 || stopOf(rail) < 0) return;
      findings.add(
        'CHECK_STOP_RAIL',
        `${on.path}.sticks[${s}].cut[${r}]`,
        `"${rail.rail}" at a stop`,
        'what is cut is at none',
      );
    });
  });
}
