/** The stop settings of a moulding, in the order they are cut, and the pairs cut at each. */
import type { PlannedPair, PlannedStop } from '../documents/plan/types.js';
import type { Batch, Um } from '../terms.js';
import type { InMoulding } from './context.js';
import { lengthAt, mm } from './numbers.js';
import { opposite } from './roster.js';

/** Gauge stick ids by length. */
export type Gauges = ReadonlyMap<Um, ReadonlySet<string>>;

export function gaugesOf(batch: Batch): Gauges {
  const gauges = new Map<Um, Set<string>>();
  for (const { id, length } of batch.gauges) {
    const equal = gauges.get(length);
    if (equal === undefined) gauges.set(length, new Set([id]));
    else equal.add(id);
  }
  return gauges;
}

export function checkGauge(
  on: InMoulding,
  stop: PlannedStop,
  setting: Um,
  gauges: Gauges,
  path: string,
): void {
  const equal = gauges.get(setting);
  if (equal === undefined ? stop.gauge === null : stop.gauge !== null && equal.has(stop.gauge)) return;
  const found = stop.gauge === null ? 'none' : `"${stop.gauge}"`;
  const names = equal === undefined ? 'none' : [...equal].map((id) => `"${id}"`).join(' or ');
  on.findings.add('CHECK_GAUGE', `${path}.gauge`, found, `${names} for a setting of ${mm(setting)}`);
}

/** The rails of a group, by number. What is not a rail of this frame and moulding is reported and left out. */
export function groupOf(on: InMoulding, pair: PlannedPair, stop: number, path: string): readonly number[] {
  const { roster, findings, moulding } = on;
  const frame = roster.frameAt(pair.frame);
  if (frame < 0 || roster.lineOf(frame).moulding.id !== moulding.id) {
    findings.add('CHECK_STOP_RAIL', `${path}.frame`, `"${pair.frame}"`, 'a frame copy of this moulding');
    return [];
  }
  const rails: number[] = [];
  pair.rails.forEach((id, i) => {
    const ours = id.startsWith(`${pair.frame}/`);
    const rail = ours ? roster.railAt(frame, id.slice(pair.frame.length + 1)) : -1;
    if (rail < 0) {
      findings.add('CHECK_STOP_RAIL', `${path}.rails[${i}]`, `"${id}"`, `a rail of "${pair.frame}"`);
    } else if (roster.stop[rail]! >= 0) {
      findings.add('CHECK_STOP_TWICE', `${path}.rails[${i}]`, `"${id}" a second time`);
    } else {
      roster.stop[rail] = stop;
      rails.push(rail);
    }
  });
  return rails;
}

/**
 * A rectangle's rails come as two opposing ones, or all four where the frame is matched as a whole; a regular frame's
 * in any groups.
 */
function checkPair(on: InMoulding, pair: PlannedPair, rails: readonly number[], path: string): void {
  const { roster, findings } = on;
  const first = rails[0];
  if (first === undefined) {
    if (pair.rails.length === 0) findings.add('CHECK_PAIR', path, 'no rails');
    return;
  }
  const { line, sides } = roster.lineOf(roster.frameOf(first));
  if (line.shape.kind === 'regular') return;
  const facing = first - roster.sideOf(first) + opposite(roster.sideOf(first), sides.length);
  const whole = line.match === 'frame' && rails.length === sides.length;
  if (whole || (rails.length === 2 && rails[1] === facing)) return;
  const found = rails.map((rail) => roster.railName(rail)).join(', ');
  findings.add('CHECK_PAIR', path, found, 'top and bottom, or left and right');
}

export function checkAngle(on: InMoulding, stop: PlannedStop, rails: readonly number[], path: string): void {
  const { roster, findings } = on;
  if (stop.angle === undefined) return;
  const angles = [...new Set(rails.map((rail) => 180 / roster.lineOf(roster.frameOf(rail)).sides.length))];
  const due = angles.length === 1 ? angles[0]! : null;
  if (stop.angle !== due) findings.add('CHECK_ANGLE', `${path}.angle`, String(stop.angle), String(due));
}

function checkStop(on: InMoulding, stop: PlannedStop, at: number, gauges: Gauges): CheckedStop {
  const { roster, findings, verified } = on;
  const list = `${on.path}.stops`;
  const path = `${list}[${at}]`;
  const setting = lengthAt(stop.setting, findings, list, at, 'setting');
  const second = stop.second === null ? null : lengthAt(stop.second, findings, list, at, 'second');
  verified.stops += 1;
  checkGauge(on, stop, setting, gauges, path);
  if (second !== null && !(second < setting)) {
    findings.add('CHECK_SECOND', `${path}.second`, mm(second), `below ${mm(setting)}`);
  }
  if (stop.pairs.length === 0) findings.add('CHECK_STOP_IDLE', path, `${mm(setting)} without rails`);
  const inOrder: number[] = [];
  stop.pairs.forEach((pair, p) => {
    const pairPath = `${path}.pairs[${p}]`;
    verified.pairs += 1;
    const rails = groupOf(on, pair, at, pairPath);
    inOrder.push(...rails);
    checkPair(on, pair, rails, pairPath);
    const first = rails[0];
    if (first === undefined) return;
    const { line } = roster.lineOf(roster.frameOf(first));
    if (second !== null && line.match !== 'frame') {
      findings.add(
        'CHECK_SECOND',
        pairPath,
        `"${pair.frame}", matched by ${line.match}`,
        'frame-matched rails only',
      );
    }
  });
  checkAngle(on, stop, inOrder, path);
  return { setting, second, rails: inOrder, atFirst: 0, atSecond: 0 };
}

export interface CheckedStop {
  readonly setting: Um;
  readonly second: Um | null;
  /** By number, in the order they are cut. */
  readonly rails: readonly number[];
  /** Rails met at each of the two stops. */
  atFirst: number;
  atSecond: number;
}

/** Checks the stops as such; gives the settings, and notes in the roster which stop each rail is cut at. */
export function checkStops(
  on: InMoulding,
  stops: readonly PlannedStop[],
  gauges: Gauges,
): readonly CheckedStop[] {
  const seen = new Set<string>();
  const longestFirst = on.batch.saw.order === 'longest';
  let last = Number.POSITIVE_INFINITY;
  const all = stops.map((stop, at) => {
    const found = checkStop(on, stop, at, gauges);
    if (at > 0 && stop.run !== stops[at - 1]!.run) {
      last = Number.POSITIVE_INFINITY;
      seen.clear();
    }
    const path = `${on.path}.stops[${at}].setting`;
    if (longestFirst && found.setting > last) {
      on.findings.add('CHECK_STOP_ORDER', path, `${mm(found.setting)} after ${mm(last)}`, 'longest first');
    }
    last = found.setting;
    const key = `${found.setting} ${found.second}`;
    if (seen.has(key)) on.findings.add('CHECK_STOP_ORDER', path, `${mm(found.setting)} a second time`);
    seen.add(key);
    return found;
  });
  on.sums.stopSettings += differentSettings(all);
  return all;
}

/** One for each different setting, however many runs set it, and one more for its second stop. */
export function differentSettings(stops: readonly CheckedStop[]): number {
  const known = new Map(
    stops.map(({ setting, second }) => [`${setting} ${second}`, second === null ? 1 : 2]),
  );
  return [...known.values()].reduce((sum, count) => sum + count, 0);
}
