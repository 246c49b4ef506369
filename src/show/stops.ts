/** The stop settings in the order they are set: at each, which sticks to cut, and whose rails they become. */
import { frameOfRail, lineOfFrame, sideOfRail } from '../documents/ids.js';
import type { MouldingPlan, PlannedPair, PlannedStop } from '../documents/plan/types.js';
import { PAGE, paragraph, plural, table } from '../text/page.js';
import { angleText } from '../words/method.js';
import { ranges } from '../words/ranges.js';
import type { Words } from '../words/words.js';
import { runHeading } from './hours.js';

/** Frames of one line cut in a row at one stop: their copies, and how many rails each stick gives, in the order fetched. */
interface StopRow {
  readonly line: string;
  readonly sides: string;
  readonly copies: Set<string>;
  readonly perStick: Map<string, number>;
}

/** The rails of a frame at one stop: one unit after the other. */
function sidesText(words: Words, units: readonly (readonly string[])[]): string {
  const texts = units.map((rails) => {
    const line = lineOfFrame(frameOfRail(rails[0] ?? ''));
    if (rails.length <= 2 || rails.length < words.sides(line)) return rails.map(sideOfRail).join(' + ');
    return rails.length === 4 ? 'all four sides' : `all ${rails.length} sides`;
  });
  return texts.join(', ');
}

/** Which of its sides each frame has cut at this stop. */
function sidesByFrame(stop: PlannedStop): ReadonlyMap<string, string> {
  const sides = new Map<string, string[]>();
  for (const { frame, rails } of stop.pairs) {
    sides.set(frame, [...(sides.get(frame) ?? []), ...rails.map(sideOfRail)]);
  }
  return new Map([...sides].map(([frame, all]) => [frame, all.sort().join()]));
}

function rowsOf(words: Words, stop: PlannedStop, stickOf: ReadonlyMap<string, string>): readonly StopRow[] {
  const rows: (StopRow & { readonly units: Map<string, PlannedPair>; readonly cut: string })[] = [];
  const cuts = sidesByFrame(stop);
  for (const pair of stop.pairs) {
    const line = lineOfFrame(pair.frame);
    const cut = cuts.get(pair.frame) ?? '';
    let row = rows.at(-1);
    if (row === undefined || row.line !== line || row.cut !== cut) {
      row = { line, cut, sides: '', copies: new Set(), perStick: new Map(), units: new Map() };
      rows.push(row);
    }
    row.copies.add(pair.frame);
    row.units.set(pair.rails.map(sideOfRail).join(), pair);
    for (const rail of pair.rails) {
      const stick = stickOf.get(rail) ?? '?';
      row.perStick.set(stick, (row.perStick.get(stick) ?? 0) + 1);
    }
  }
  return rows.map((row) => ({
    ...row,
    sides: sidesText(
      words,
      [...row.units.values()].map((pair) => pair.rails),
    ),
  }));
}

/** `5 each from ash-10/1…4, 3 from r17/1`. */
function fromSticks(perStick: ReadonlyMap<string, number>): string {
  const groups: { sticks: string[]; count: number }[] = [];
  for (const [stick, count] of perStick) {
    const last = groups.at(-1);
    if (last?.count === count) last.sticks.push(stick);
    else groups.push({ sticks: [stick], count });
  }
  return groups
    .map(({ sticks, count }) => `${count}${sticks.length > 1 ? ' each' : ''} from ${ranges(sticks)}`)
    .join(', ');
}

/** `angles`: where the moulding has several, those of this stop in the order they are cut. */
function heading(words: Words, stop: PlannedStop, angles: readonly number[]): string {
  const rails = stop.pairs.reduce((sum, pair) => sum + pair.rails.length, 0);
  const second = stop.second === null ? '' : ` and ${words.setting(stop.second)} on the swing-away stop`;
  const angle = angles.length === 0 ? '' : `, saw at ${angles.map(angleText).join(', then ')}`;
  const gauge = stop.gauge === null ? '' : `, set by gauge stick ${stop.gauge}`;
  const clamp = words.clamped(stop.second ?? stop.setting) ? '   CLAMP OR JIG, do not hold' : '';
  return `[ ] ${words.setting(stop.setting)}${second}${angle}${gauge}: ${plural(rails, 'rail')}${clamp}`;
}

/** Lines for all stops of a moulding, run by run where there are several. */
export function stopLines(words: Words, moulding: MouldingPlan): readonly string[] {
  const stickOf = new Map(
    moulding.sticks.flatMap((stick) => stick.rails.map((rail) => [rail.rail, stick.stick] as const)),
  );
  const angleOf = new Map(
    moulding.sticks.flatMap((stick) => stick.rails.map((rail) => [rail.rail, rail.angle] as const)),
  );
  const several = new Set(angleOf.values()).size > 1;
  const anglesAt = ({ pairs }: PlannedStop): readonly number[] =>
    several
      ? [...new Set(pairs.flatMap(({ rails }) => rails.flatMap((rail) => angleOf.get(rail) ?? [])))]
      : [];
  const runs = moulding.runs ?? [];
  return moulding.stops.flatMap((stop, at) => {
    const rows = rowsOf(words, stop, stickOf).map(({ copies, sides, perStick }) => [
      ranges([...copies]),
      sides,
      fromSticks(perStick),
    ]);
    const begins = runs.length > 1 && stop.run !== moulding.stops[at - 1]?.run;
    const run = begins ? runs.find((one) => one.run === stop.run) : undefined;
    return [
      ...(run === undefined
        ? []
        : [...(at === 0 ? [] : ['']), ...paragraph(runHeading(run, runs.at(-1)?.run ?? runs.length), 0, 2)]),
      `  ${heading(words, stop, anglesAt(stop))}`,
      ...table(rows, [{ most: 24 }, { most: 18 }, { most: PAGE }], 8),
    ];
  });
}
