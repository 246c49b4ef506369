/** The runs and hours of what a recut leaves to be cut, counted again. */
import type { PlannedRun } from '../../documents/plan/types.js';
import { mostBegun, type Turn } from '../bench.js';
import type { CheckBase } from '../context.js';
import { nothingSawn, timeFor } from '../hours.js';
import { type CheckedRecutPart, isBegun } from './context.js';

const MS_PER_SECOND = 1_000;

interface WalkedStop {
  readonly run: number;
  readonly stop: number;
  /** Numbers of rails, in the order of the cuts. */
  readonly rails: readonly number[];
}

/** What is begun and finished first is of no run: it goes with the stick it is cut from. */
function walkedStops({ roster }: CheckBase, { part }: CheckedRecutPart): readonly WalkedStop[] {
  return part.stops.map(({ run, pairs }, stop) => {
    const rails = pairs.flatMap(({ frame: name, rails: ids }) => {
      const frame = roster.frameAt(name);
      return ids.flatMap((id) => {
        const rail = frame < 0 ? -1 : roster.railAt(frame, id.slice(name.length + 1));
        return rail < 0 || roster.stick[rail]! < 0 ? [] : [rail];
      });
    });
    const first = rails[0] === undefined ? -1 : roster.stick[rails[0]]!;
    return { run: run ?? part.sticks[first]?.run ?? 1, stop, rails };
  });
}

function turnsOf({ roster }: CheckBase, walked: readonly WalkedStop[]): readonly Turn[] {
  const turns: { stop: number; angle: number; sticks: number[] }[] = [];
  for (const { stop, rails } of walked) {
    let angle = -1;
    for (const rail of rails) {
      const own = 180 / roster.lineOf(roster.frameOf(rail)).sides.length;
      if (own !== angle) turns.push({ stop, angle: own, sticks: [] });
      angle = own;
      turns.at(-1)!.sticks.push(roster.stick[rail]!);
    }
  }
  return turns;
}

/** What is finished first comes first in any order. */
function inLongestOrder({ part }: CheckedRecutPart, turns: readonly Turn[]): readonly Turn[] {
  const of = ({ stop }: Turn) => part.stops[stop]!;
  const second = (turn: Turn): number => of(turn).second ?? Number.POSITIVE_INFINITY;
  return turns.toSorted(
    (a, b) =>
      Number(of(b).finish) - Number(of(a).finish) ||
      of(b).setting - of(a).setting ||
      (second(a) === second(b) ? b.angle - a.angle : second(a) > second(b) ? -1 : 1),
  );
}

/** Sticks that lie begun already count from the first turn of their run. */
function begunFrom(turns: readonly Turn[], before: ReadonlySet<number>): number {
  const [first, ...rest] = turns;
  if (first === undefined) return 0;
  const waiting = [...new Set(turns.flatMap(({ sticks }) => sticks))].filter((stick) => before.has(stick));
  return mostBegun([{ ...first, sticks: [...first.sticks, ...waiting] }, ...rest]);
}

export function checkRecutRuns(on: CheckBase, entry: CheckedRecutPart): void {
  const { part, path, moulding, cuts } = entry;
  const { findings, batch } = on;
  const begun = new Set(part.sticks.flatMap((stick, s) => (isBegun(stick) ? [s] : [])));
  const open = part.sticks.flatMap(({ rails }, s) => (rails.length > 0 ? [s] : []));
  const stops = walkedStops(on, entry);
  const numbers = [...new Set(open.map((s) => part.sticks[s]!.run ?? 1))];
  let time = 0;
  const due = new Map<number, PlannedRun>();
  for (const run of numbers) {
    const own = open.filter((s) => (part.sticks[s]!.run ?? 1) === run);
    const at = stops.filter((one) => one.run === run);
    const counts = nothingSawn();
    for (const { stop, rails } of at) {
      const { gauge, second } = part.stops[stop]!;
      counts.setByGauge += gauge === null ? 0 : 1;
      counts.setByMeasure += (gauge === null ? 1 : 0) + (second === null ? 0 : 1);
      counts.rails += rails.length;
      let inHand = -1;
      for (const rail of rails) {
        const stick = on.roster.stick[rail]!;
        counts.visits += stick === inHand ? 0 : 1;
        inHand = stick;
        if ((part.sticks[stick]!.run ?? 1) !== run) {
          findings.add(
            'CHECK_RUN',
            `${path}.sticks[${stick}].run`,
            String(part.sticks[stick]!.run),
            String(run),
          );
        }
      }
    }
    counts.sticks = own.filter((s) => !begun.has(s)).length;
    for (const s of own) counts.cuts += cuts[s] ?? 0;
    const takes = timeFor(batch.labour, moulding.reversible, counts);
    time += takes;
    const turns = turnsOf(on, at);
    const most = begunFrom(turns, begun);
    const longest = begunFrom(inLongestOrder(entry, turns), begun);
    due.set(run, {
      run,
      sticks: own.length,
      settings: counts.setByGauge + counts.setByMeasure,
      begunMost: most,
      ...(longest !== most && { begunLongestFirst: longest }),
      seconds: takes / MS_PER_SECOND,
    });
  }
  part.runs?.forEach((given, r) => {
    const right = due.get(given.run);
    due.delete(given.run);
    for (const key of ['sticks', 'settings', 'begunMost', 'begunLongestFirst', 'seconds'] as const) {
      if (given[key] === right?.[key]) continue;
      findings.add(
        'CHECK_RUN_FIGURES',
        `${path}.runs[${r}].${key}`,
        String(given[key]),
        String(right?.[key] ?? 'no such run'),
      );
    }
  });
  if (part.runs !== undefined && due.size > 0) {
    findings.add('CHECK_RUN_FIGURES', `${path}.runs`, `${part.runs.length} runs`, `${numbers.length}`);
  }
  if (part.seconds !== undefined && part.seconds !== time / MS_PER_SECOND) {
    findings.add('CHECK_RUN_FIGURES', `${path}.seconds`, String(part.seconds), String(time / MS_PER_SECOND));
  }
}
