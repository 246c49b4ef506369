/** A first division: run after run, always the stick that sets fewest stops anew, with all that is tied to it. */
import { groupedBy } from '../stock/grouped.js';
import { begunMost, type Span } from './begun.js';
import type { HeldRails, Turns } from './sawing.js';
import { tiesOf } from './ties.js';

/** Comparisons of groups with runs: beyond, sticks are taken as they come. */
const COMPARED = 3_000_000;

/** Sticks that are cut in one run. */
export interface StickGroup {
  readonly sticks: readonly number[];
  readonly stops: readonly number[];
  readonly spans: readonly Span[];
}

function byItems(a: HeldRails, b: HeldRails): number {
  for (let i = 0; i < a.items.length; i++) {
    const by = a.items[i]! - (b.items[i] ?? Number.POSITIVE_INFINITY) || (b.counts[i] ?? 0) - a.counts[i]!;
    if (by !== 0) return by;
  }
  return b.items.length - a.items.length;
}

function tiedOf(
  { turnOf, stopOf, ...turns }: Turns,
  sticks: readonly HeldRails[],
  tied: boolean,
): readonly StickGroup[] {
  const order = [...sticks.keys()].sort((a, b) => byItems(sticks[a]!, sticks[b]!) || a - b);
  const ties = tied
    ? tiesOf(
        { turnOf, stopOf, ...turns },
        order.map((stick) => sticks[stick]!),
      )
    : [...order];
  // Two sticks cut alike hold whole pairs.
  if (!tied)
    for (let at = 1; at < order.length; at++)
      if (ties[at - 1] === order[at - 1] && byItems(sticks[order[at - 1]!]!, sticks[order[at]!]!) === 0)
        ties[at] = ties[at - 1]!;
  const groups = groupedBy(order.keys(), (at) => ties[at]!);
  return [...groups.values()].map((own) =>
    groupOf(
      { turnOf, stopOf, ...turns },
      sticks,
      own.map((at) => order[at]!),
    ),
  );
}

export function groupOf(
  { turnOf, stopOf }: Turns,
  sticks: readonly HeldRails[],
  own: readonly number[],
): StickGroup {
  return {
    sticks: own,
    stops: [...new Set(own.flatMap((stick) => sticks[stick]!.items.map((item) => stopOf[turnOf[item]!]!)))],
    spans: own.map((stick) => {
      const { items } = sticks[stick]!;
      return { first: turnOf[items[0]!]!, last: turnOf[items.at(-1)!]! };
    }),
  };
}

interface FirstDivision {
  /** Pairs and rings stay in one run; a group of sticks tied together may overfill the bench by itself. */
  readonly tied: boolean;
  /** False: sticks are taken as they come, which is quick. */
  readonly chosen: boolean;
}

/** The run of each stick, from 0. */
export function initialRuns(
  turns: Turns,
  sticks: readonly HeldRails[],
  bench: number,
  { tied, chosen }: FirstDivision,
): readonly number[] {
  return runsOfGroups(turns, sticks.length, tiedOf(turns, sticks, tied), bench, chosen);
}

/** The run of each of so many sticks; a group may overfill the bench by itself, no two of them do together. */
export function runsOfGroups(
  turns: Turns,
  sticks: number,
  groups: readonly StickGroup[],
  bench: number,
  chosen: boolean,
): readonly number[] {
  const places = turns.stopOf.length;
  const open = new Set(groups.keys());
  const choose = chosen && groups.length ** 2 <= COMPARED;
  const runOf = Array.from({ length: sticks }, () => 0);
  for (let run = 0; open.size > 0; run++) {
    const set = new Set<number>();
    let spans: Span[] = [];
    const full = new Set<number>();
    for (;;) {
      let [best, least] = [-1, Number.POSITIVE_INFINITY];
      for (const at of open) {
        if (full.has(at)) continue;
        const { stops } = groups[at]!;
        const more = stops.reduce((sum, stop) => sum + (set.has(stop) ? 0 : turns.weight[stop]!), 0);
        const cost = spans.length === 0 ? 0 : more / stops.length;
        if (cost < least) [best, least] = [at, cost];
        if (least === 0 || !choose) break;
      }
      if (best < 0) break;
      const { sticks: own, stops, spans: more } = groups[best]!;
      const with_ = [...spans, ...more];
      if (spans.length > 0 && begunMost(with_, places) > bench) {
        full.add(best);
        if (!choose) break;
        continue;
      }
      spans = with_;
      open.delete(best);
      for (const stop of stops) set.add(stop);
      for (const stick of own) runOf[stick] = run;
    }
  }
  return runOf;
}
