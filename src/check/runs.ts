/**
 * The runs of a plan: that each is cut to the end before the next, that the bench holds its begun sticks, and that the
 * figures are those of this plan. A plan of an older program has no runs.
 */
import type { PlannedRun, StopsSet } from '../documents/plan/types.js';
import { allTied, mostBegun, type Turn } from './bench.js';
import type { Context } from './context.js';
import type { CheckedPart } from './frames.js';
import { nothingSawn, type SawCounts, timeFor } from './hours.js';

const MS_PER_SECOND = 1_000;
const MS_PER_HOUR = 3_600_000;

/** One run, as found in the stops and sticks. */
interface WalkedRun {
  readonly turns: Turn[];
  readonly sticks: Set<number>;
  readonly counts: SawCounts;
}

interface RunSums {
  stops: number;
  time: number;
}

/** Whether the plan says anything of runs. */
function divided({ part }: CheckedPart): boolean {
  return (
    part.runs !== undefined ||
    part.stops.some(({ run }) => run !== undefined) ||
    part.sticks.some(({ run }) => run !== undefined)
  );
}

/** The runs of the stops, by number; reports numbers that do not go 1, 2, 3, …. */
function runNumbers(on: Context, { part, path }: CheckedPart): readonly number[] {
  let last = 0;
  return part.stops.map(({ run = 0 }, at) => {
    if (run !== last + 1 && (run !== last || run === 0)) {
      const holds = last === 0 ? '1' : `${last} or ${last + 1}`;
      on.findings.add('CHECK_RUN', `${path}.stops[${at}].run`, String(run), holds);
    }
    last = run;
    return run;
  });
}

function walked(on: Context, entry: CheckedPart, numbers: readonly number[]): ReadonlyMap<number, WalkedRun> {
  const { roster } = on;
  const found = new Map<number, WalkedRun>();
  entry.settings.forEach(({ second, rails }, stop) => {
    const run = numbers[stop]!;
    const at = found.get(run) ?? { turns: [], sticks: new Set(), counts: nothingSawn() };
    found.set(run, at);
    const gauged = entry.part.stops[stop]!.gauge !== null;
    at.counts.setByGauge += gauged ? 1 : 0;
    at.counts.setByMeasure += (gauged ? 0 : 1) + (second === null ? 0 : 1);
    let [inHand, angle] = [-1, -1];
    let sticks: number[] = [];
    for (const rail of rails) {
      const stick = roster.stick[rail]!;
      const own = 180 / roster.lineOf(roster.frameOf(rail)).sides.length;
      if (stick < 0) continue;
      if (own !== angle) {
        sticks = [];
        at.turns.push({ stop, angle: own, sticks });
        angle = own;
      }
      sticks.push(stick);
      at.sticks.add(stick);
      at.counts.rails += 1;
      if (stick !== inHand) at.counts.visits += 1;
      inHand = stick;
    }
  });
  return found;
}

/** Every stick is cut in one run, the one it names. */
function checkSticksRun(
  on: Context,
  { part, path }: CheckedPart,
  found: ReadonlyMap<number, WalkedRun>,
): void {
  const runsOf = part.sticks.map((): number[] => []);
  for (const [run, { sticks }] of found) for (const stick of sticks) runsOf[stick]!.push(run);
  runsOf.forEach((runs, s) => {
    const { run } = part.sticks[s]!;
    if (runs.length > 1 || runs[0] !== run) {
      const due = runs.length === 1 ? `${runs[0]}` : 'one run for all its rails';
      const given = runs.length > 1 ? `cut in runs ${runs.join(', ')}` : String(run ?? 'none');
      on.findings.add('CHECK_RUN', `${path}.sticks[${s}].run`, given, due);
    }
  });
}

function inLongestOrder({ settings }: CheckedPart, turns: readonly Turn[]): readonly Turn[] {
  const second = ({ stop }: Turn): number => settings[stop]!.second ?? Number.POSITIVE_INFINITY;
  return turns.toSorted((a, b) => {
    const by = settings[b.stop]!.setting - settings[a.stop]!.setting;
    if (by !== 0) return by;
    return second(a) === second(b) ? b.angle - a.angle : second(a) > second(b) ? -1 : 1;
  });
}

function checkRun(
  on: Context,
  entry: CheckedPart,
  run: number,
  found: WalkedRun,
  given: PlannedRun | undefined,
): void {
  const { findings, batch } = on;
  const path = `${entry.path}.runs[${run - 1}]`;
  const most = mostBegun(found.turns);
  const { bench } = batch.saw;
  if (bench !== null && most > bench && !allTied(on, entry, found.sticks)) {
    findings.add('CHECK_BENCH', path, `${most} sticks begun at once`, `at most ${bench}`);
  }
  if (given === undefined) return;
  const { labour } = batch;
  const { counts } = found;
  const longest = mostBegun(inLongestOrder(entry, found.turns));
  const due: PlannedRun = {
    run,
    sticks: found.sticks.size,
    settings: counts.setByGauge + counts.setByMeasure,
    begunMost: most,
    seconds: timeFor(labour, entry.moulding.reversible, counts) / MS_PER_SECOND,
  };
  for (const key of ['run', 'sticks', 'settings', 'begunMost', 'seconds'] as const) {
    if (given[key] !== due[key])
      findings.add('CHECK_RUN_FIGURES', `${path}.${key}`, String(given[key]), String(due[key]));
  }
  if (given.begunLongestFirst !== undefined && given.begunLongestFirst !== longest) {
    findings.add(
      'CHECK_RUN_FIGURES',
      `${path}.begunLongestFirst`,
      String(given.begunLongestFirst),
      String(longest),
    );
  }
}

function checkStopsSet(on: Context, path: string, given: StopsSet | undefined, due: number): void {
  if (given === undefined) return;
  const { findings } = on;
  const { value, proof } = given;
  if (value !== due) findings.add('CHECK_RUN_FIGURES', `${path}.value`, String(value), String(due));
  if (proof.measure !== 'stops')
    findings.add('CHECK_PROOF', `${path}.proof.measure`, String(proof.measure), 'stops');
  if (proof.value !== value || proof.bound > value) {
    findings.add(
      'CHECK_PROOF',
      `${path}.proof`,
      `${proof.bound} to ${proof.value}`,
      `a bound up to ${value}`,
    );
  } else if ((proof.status === 'optimal') !== (proof.bound === value)) {
    const found = `"${proof.status}" with bound ${proof.bound} and value ${value}`;
    findings.add('CHECK_PROOF', `${path}.proof.status`, found, '"optimal" exactly when they are equal');
  }
}

function checkSeconds(on: Context, path: string, given: number | undefined, due: number): void {
  if (given === undefined || given === due) return;
  on.findings.add('CHECK_RUN_FIGURES', path, String(given), String(due));
}

/** Wood bought plus time at the rate, to the cent, and what is claimed of it. */
function checkPriced({ batch, findings }: Context, { part, path, cost }: CheckedPart, time: number): void {
  const { priced } = part;
  const { rate } = batch.labour;
  if (priced === undefined) return;
  const at = `${path}.priced`;
  if (rate === null) {
    findings.add('CHECK_PROOF', at, String(priced.value), 'none without a rate');
    return;
  }
  const due = Math.round(cost + (time * rate) / MS_PER_HOUR) / 100;
  if (priced.value !== due) findings.add('CHECK_PROOF', `${at}.value`, String(priced.value), String(due));
  if (!(priced.bound >= 0 && priced.bound <= priced.value)) {
    findings.add('CHECK_PROOF', `${at}.bound`, String(priced.bound), `from 0 to the value, ${priced.value}`);
  }
  if ((priced.status === 'optimal') !== (priced.bound === priced.value)) {
    const found = `"${priced.status}" with bound ${priced.bound} and value ${priced.value}`;
    findings.add('CHECK_PROOF', `${at}.status`, found, '"optimal" exactly when they are equal');
  }
}

function checkEntry(on: Context, entry: CheckedPart, sum: RunSums): void {
  const { part, path, moulding, counts } = entry;
  const numbers = divided(entry) ? runNumbers(on, entry) : part.stops.map(() => 1);
  const found = walked(on, entry, numbers);
  const all = nothingSawn();
  for (const { sticks, counts: own } of found.values()) {
    for (const stick of sticks) own.cuts += counts.cuts[stick] ?? 0;
    own.sticks = sticks.size;
    for (const key of Object.keys(all) as (keyof SawCounts)[]) all[key] += own[key];
  }
  const time = timeFor(on.batch.labour, moulding.reversible, all);
  const stops = all.setByGauge + all.setByMeasure;
  sum.stops += stops;
  sum.time += time;
  checkSeconds(on, `${path}.seconds`, part.seconds, time / MS_PER_SECOND);
  checkStopsSet(on, `${path}.stopsSet`, part.stopsSet, stops);
  checkPriced(on, entry, time);
  if (!divided(entry)) return;
  checkSticksRun(on, entry, found);
  for (const [run, one] of found) checkRun(on, entry, run, one, part.runs?.[run - 1]);
  if (part.runs !== undefined && part.runs.length !== found.size) {
    on.findings.add('CHECK_RUN_FIGURES', `${path}.runs`, `${part.runs.length} runs`, String(found.size));
  }
}

/** `entries` by moulding id; every stick and stop has been looked at. */
export function checkRuns(on: Context, entries: ReadonlyMap<string, CheckedPart>): void {
  const { batch, plan, findings } = on;
  const sum: RunSums = { stops: 0, time: 0 };
  for (const entry of entries.values()) checkEntry(on, entry, sum);
  const { totals } = plan;
  checkStopsSet(on, 'totals.stopsSet', totals.stopsSet, sum.stops);
  checkSeconds(on, 'totals.seconds', totals.seconds, sum.time / MS_PER_SECOND);
  const { rate } = batch.labour;
  const due = rate === null ? undefined : Math.round((sum.time * rate) / MS_PER_HOUR) / 100;
  if (totals.labour !== undefined && totals.labour !== due) {
    findings.add(
      'CHECK_RUN_FIGURES',
      'totals.labour',
      String(totals.labour),
      String(due ?? 'none without a rate'),
    );
  }
}
