/**
 * Parts a run that is overfull without changing a stick: whole pairs and rings stay in one run, and a run that still is
 * overfull cannot be parted the way its odd rails are put together.
 */
import { groupedBy } from '../stock/grouped.js';
import { begunMost } from './begun.js';
import { groupOf, runsOfGroups, type StickGroup } from './initial.js';
import type { HeldRails, Turns } from './sawing.js';
import { tiesOf } from './ties.js';

/** Beyond so many sticks, those that complete each other are looked for among equal ones first. */
const STICKS = 1_500;

/** Rails of each item that lack others to be whole pairs and rings. */
class Lacking {
  readonly #turns: Turns;
  readonly #over = new Map<number, number>();

  constructor(turns: Turns) {
    this.#turns = turns;
  }

  get size(): number {
    return this.#over.size;
  }

  #after(item: number, count: number): number {
    const bundle = this.#turns.together[item]! * (this.#turns.loose[item]! >= 0 ? 2 : 1);
    return ((this.#over.get(item) ?? 0) + count) % bundle;
  }

  /** How many items more would be lacking with this stick; null: it has none that is lacking now. */
  with({ items, counts }: HeldRails): number | null {
    let [more, met] = [0, false];
    items.forEach((item, i) => {
      const before = this.#over.has(item);
      met ||= before;
      more += Number(this.#after(item, counts[i]!) > 0) - Number(before);
    });
    return met ? more : null;
  }

  add({ items, counts }: HeldRails): void {
    items.forEach((item, i) => {
      const over = this.#after(item, counts[i]!);
      if (over === 0) this.#over.delete(item);
      else this.#over.set(item, over);
    });
  }
}

/** Groups with whole pairs and rings, each as small as taking the stick that completes most finds it. */
function completing(turns: Turns, sticks: readonly HeldRails[]): readonly (readonly number[])[] {
  const open = new Set(sticks.keys());
  const groups: number[][] = [];
  for (const begin of sticks.keys()) {
    if (!open.delete(begin)) continue;
    const own = [begin];
    const lacking = new Lacking(turns);
    lacking.add(sticks[begin]!);
    while (lacking.size > 0) {
      let [best, least] = [-1, Number.POSITIVE_INFINITY];
      for (const stick of open) {
        const more = lacking.with(sticks[stick]!);
        if (more !== null && more < least) [best, least] = [stick, more];
      }
      if (best < 0) break;
      open.delete(best);
      own.push(best);
      lacking.add(sticks[best]!);
    }
    groups.push(own);
  }
  return groups;
}

function divisor(a: number, b: number): number {
  return b === 0 ? a : divisor(b, a % b);
}

/** The least number of sticks like this one that together lack nothing. */
function wholeNumber(turns: Turns, { items, counts }: HeldRails): number {
  return items.reduce((all, item, i) => {
    const bundle = turns.together[item]! * (turns.loose[item]! >= 0 ? 2 : 1);
    const own = bundle / divisor(bundle, counts[i]!);
    return (all * own) / divisor(all, own);
  }, 1);
}

/** As `completing`, in time that grows with the number of sticks alone as long as most of them are alike. */
function completingAlike(turns: Turns, sticks: readonly HeldRails[]): readonly (readonly number[])[] {
  const alike = groupedBy(sticks.keys(), (stick) => {
    const { items, counts } = sticks[stick]!;
    return `${items.join()} ${counts.join()}`;
  });
  const groups: (readonly number[])[] = [];
  const rest: number[] = [];
  for (const own of alike.values()) {
    const size = wholeNumber(turns, sticks[own[0]!]!);
    const end = own.length - (own.length % size);
    for (let at = 0; at < end; at += size) groups.push(own.slice(at, at + size));
    rest.push(...own.slice(end));
  }
  if (rest.length > STICKS) return [...groups, rest];
  const few = completing(
    turns,
    rest.map((stick) => sticks[stick]!),
  );
  return [...groups, ...few.map((some) => some.map((k) => rest[k]!))];
}

function tied(turns: Turns, sticks: readonly HeldRails[]): readonly (readonly number[])[] {
  const ties = tiesOf(turns, sticks);
  return [...groupedBy(sticks.keys(), (stick) => ties[stick]!).values()];
}

/** The run of each stick; `sticks` in the order in which the layout puts their odd rails together. */
export function parted(turns: Turns, sticks: readonly HeldRails[], bench: number): readonly number[] {
  const places = turns.stopOf.length;
  const holds = ({ spans }: StickGroup): boolean => begunMost(spans, places) <= bench;
  const groups = tied(turns, sticks).flatMap((own): readonly StickGroup[] => {
    const group = groupOf(turns, sticks, own);
    if (holds(group)) return [group];
    const find = own.length > STICKS ? completingAlike : completing;
    const smaller = find(
      turns,
      own.map((stick) => sticks[stick]!),
    ).map((some) =>
      groupOf(
        turns,
        sticks,
        some.map((k) => own[k]!),
      ),
    );
    // Where one of many cannot be parted, the others none the less are.
    return own.length > STICKS || smaller.every(holds) ? smaller : [group];
  });
  return untied(turns, sticks, runsOfGroups(turns, sticks.length, groups, bench, true), bench);
}

/**
 * A run laid out by itself may put odd rails together otherwise than among all: where it is overfull, what it does not tie
 * is parted. Sticks tied together keep their order, so each part puts its rails together as the run did.
 */
function untied(
  turns: Turns,
  sticks: readonly HeldRails[],
  runOf: readonly number[],
  bench: number,
): readonly number[] {
  const runs = groupedBy(sticks.keys(), (stick) => runOf[stick]!);
  const places = turns.stopOf.length;
  const whole = [...runs.values()].map((own) => groupOf(turns, sticks, own));
  const groups = whole.flatMap((run): readonly StickGroup[] => {
    if (begunMost(run.spans, places) <= bench) return [run];
    const parts = tied(
      turns,
      run.sticks.map((stick) => sticks[stick]!),
    );
    return parts.map((some) =>
      groupOf(
        turns,
        sticks,
        some.map((k) => run.sticks[k]!),
      ),
    );
  });
  return groups.length === whole.length ? runOf : runsOfGroups(turns, sticks.length, groups, bench, true);
}
