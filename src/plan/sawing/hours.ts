/** How long the sawing takes: counts of a plan times what the batch says each takes. */
import type { PlannedRun, PlannedStick, PlannedStop, StopsSet } from '../../documents/plan/types.js';
import { begunMost, type Span } from '../../runs/begun.js';
import { MS_PER_HOUR } from '../../stock/charge.js';
import type { Labour, Moulding, Ms } from '../../terms.js';

const MS_PER_SECOND = 1_000;
/** Over to the other mitre and back, for each rail of profiled stock. */
export const SWINGS_A_RAIL = 2;

export interface SawingCounts {
  /** Stops set by measure, a second stop too, and those set with a gauge stick. */
  readonly stops: number;
  readonly gauged: number;
  readonly visits: number;
  readonly cuts: number;
  readonly rails: number;
  readonly sticks: number;
}

/** Sawing time; what it leaves out is said on the page (`show/hours.ts`). */
export function sawingTime(labour: Labour, { reversible }: Moulding, counts: SawingCounts): Ms {
  const { stops, gauged, visits, cuts, rails, sticks } = counts;
  const swings = reversible ? 0 : SWINGS_A_RAIL * rails;
  return (
    stops * labour.setStop +
    gauged * labour.setGauge +
    visits * labour.takeStick +
    cuts * labour.cut +
    swings * labour.swing +
    rails * labour.label +
    sticks * labour.firstMitre
  );
}

/** What one rail takes at least, in whatever plan: a cut, or two and the swings between them, and its label. */
export function timeOfRail({ cut, swing, label }: Labour, { reversible }: Moulding): Ms {
  return reversible ? cut + label : 2 * cut + SWINGS_A_RAIL * swing + label;
}

export function seconds(time: Ms): number {
  return time / MS_PER_SECOND;
}

/** Cents for a time at the batch's rate, to the nearest; null without a rate. */
export function labourCost({ rate }: Labour, time: Ms): number | null {
  return rate === null ? null : Math.round((time * rate) / MS_PER_HOUR);
}

/** How often a stick is taken up at one stop. */
export function visitsAt({ pairs }: PlannedStop, stickOf: ReadonlyMap<string, number>): number {
  let [visits, inHand] = [0, -1];
  for (const { rails } of pairs) {
    for (const rail of rails) {
      const stick = stickOf.get(rail) ?? -1;
      if (stick !== inHand) visits += 1;
      inHand = stick;
    }
  }
  return visits;
}

export function stickOfRail(sticks: readonly PlannedStick[]): ReadonlyMap<string, number> {
  return new Map(sticks.flatMap(({ rails }, s) => rails.map(({ rail }) => [rail, s] as const)));
}

/** `bound`: no plan from the same pieces sets stops less often. */
export function stopsSetOf({ value, bound }: { readonly value: number; readonly bound: number }): StopsSet {
  const status = value <= bound ? 'optimal' : 'within';
  return { value, proof: { status, measure: 'stops', value, bound } };
}

/** What the runs of a moulding are made of; `cutsOf` a stick, by its index. */
interface ToSaw {
  readonly moulding: Moulding;
  readonly labour: Labour;
  readonly sticks: readonly PlannedStick[];
  readonly stops: readonly PlannedStop[];
  readonly cuts: readonly number[];
  /** Sticks that lie begun already, by index: they need no first mitre. */
  readonly begun?: ReadonlySet<number>;
}

const NONE: ReadonlySet<number> = new Set();

/**
 * Turns: a stop, or of one that serves several angles its rails of one angle. Begun as they come, and longest first; what
 * a recut finishes first comes first in any order.
 */
function begunIn(
  stops: readonly PlannedStop[],
  sticks: readonly PlannedStick[],
  stickOf: ReadonlyMap<string, number>,
  before: ReadonlySet<number>,
): { readonly most: number; readonly longestFirst: number } {
  const turns: {
    ending: boolean;
    setting: number;
    second: number;
    angle: number;
    sticks: Set<number>;
  }[] = [];
  for (const { run, pairs, setting, second } of stops) {
    const ending = run === undefined;
    let angle = Number.NaN;
    for (const rail of pairs.flatMap(({ rails }) => rails)) {
      const stick = stickOf.get(rail)!;
      const own = sticks[stick]!.rails.find((placed) => placed.rail === rail)!.angle;
      if (own !== angle)
        turns.push({
          ending,
          setting,
          second: second ?? Number.POSITIVE_INFINITY,
          angle: own,
          sticks: new Set(),
        });
      angle = own;
      turns.at(-1)!.sticks.add(stick);
    }
  }
  const most = (order: typeof turns): number => {
    const spans = new Map<number, Span>();
    order.forEach((turn, at) => {
      for (const stick of turn.sticks) {
        const first = before.has(stick) ? 0 : (spans.get(stick)?.first ?? at);
        spans.set(stick, { first, last: at });
      }
    });
    return begunMost(spans.values(), order.length);
  };
  const longest = turns.toSorted(
    (a, b) =>
      Number(b.ending) - Number(a.ending) ||
      b.setting - a.setting ||
      (a.second === b.second ? b.angle - a.angle : a.second > b.second ? -1 : 1),
  );
  const same = longest.every((turn, at) => turn === turns[at]);
  const now = most(turns);
  return { most: now, longestFirst: same ? now : most(longest) };
}

function countsOf(
  { sticks, cuts, begun }: ToSaw,
  own: readonly number[],
  stops: readonly PlannedStop[],
  stickOf: ReadonlyMap<string, number>,
): SawingCounts {
  const gauged = stops.filter(({ gauge }) => gauge !== null).length;
  const set = stops.reduce((sum, { second }) => sum + (second === null ? 1 : 2), 0);
  return {
    stops: set - gauged,
    gauged,
    visits: stops.reduce((sum, stop) => sum + visitsAt(stop, stickOf), 0),
    cuts: own.reduce((sum, s) => sum + cuts[s]!, 0),
    rails: own.reduce((sum, s) => sum + sticks[s]!.rails.length, 0),
    sticks: own.filter((s) => begun?.has(s) !== true).length,
  };
}

/** The runs of a moulding, counted from its sticks and stops, and what all of it takes. */
export function runsOf(saw: ToSaw): { readonly runs: readonly PlannedRun[]; readonly time: Ms } {
  const { labour, moulding, sticks } = saw;
  const stickOf = stickOfRail(sticks);
  const stops = new Map<number, PlannedStop[]>();
  for (const stop of saw.stops) {
    // What a recut finishes first is of no run; it is cut with its sticks.
    const first = stickOf.get(stop.pairs[0]?.rails[0] ?? '');
    const run = stop.run ?? (first === undefined ? 1 : (sticks[first]?.run ?? 1));
    const known = stops.get(run);
    if (known === undefined) stops.set(run, [stop]);
    else known.push(stop);
  }
  const own = new Map<number, number[]>();
  sticks.forEach(({ run = 1 }, s) => {
    const known = own.get(run);
    if (known === undefined) own.set(run, [s]);
    else known.push(s);
  });
  let time = 0;
  const runs = [...own].map(([run, at]): PlannedRun => {
    const set = stops.get(run) ?? [];
    const counts = countsOf(saw, at, set, stickOf);
    const takes = sawingTime(labour, moulding, counts);
    time += takes;
    const { most, longestFirst } = begunIn(set, sticks, stickOf, saw.begun ?? NONE);
    return {
      run,
      sticks: at.length,
      settings: counts.stops + counts.gauged,
      begunMost: most,
      ...(longestFirst !== most && { begunLongestFirst: longestFirst }),
      seconds: seconds(takes),
    };
  });
  return { runs, time };
}
