/**
 * A moulding's sticks as the division into runs sees them: which stops cut a stick, and of which rails a run must hold
 * whole pairs and rings. Everything is indices: sticks in the order given, items of the task, turns and stops in cutting
 * order.
 *
 * A turn is one setting at one angle; a stop is one setting, which serves every angle.
 */
import { groupsOf } from '../layout/groups.js';
import { unitTypesByItem } from '../layout/names.js';
import type { Pattern } from '../solve/problem.js';
import type { MouldingTask } from '../stock/task.js';

/** What of a task the division needs, the same for all its plans. */
export interface Turns {
  /** Of each item, and the stop of each turn. */
  readonly turnOf: readonly number[];
  readonly stopOf: readonly number[];
  /** How often each stop is set: twice where it has a second one. */
  readonly weight: readonly number[];
  /** A run holds a multiple of so many of an item (`UnitType.bundle`, the least). */
  readonly together: readonly number[];
  /**
   * Where an item serves bundles of two sizes, the larger twice the smaller: how many of the smaller there are, so many
   * runs may hold an odd number of them; else −1.
   */
  readonly loose: readonly number[];
}

/** `made`: frames made, by order line. */
export function turnsOf(task: MouldingTask, made: ReadonlyMap<number, number>): Turns {
  const { items } = task;
  const turnOf: number[] = [];
  const stopOf: number[] = [];
  const weight: number[] = [];
  groupsOf(items).forEach((group, turn) => {
    for (const item of group) turnOf[item] = turn;
    const { setting, second } = items[group[0]!]!;
    const before = items[group[0]! - 1];
    if (before === undefined || before.setting !== setting || before.second !== second)
      weight.push(second === null ? 1 : 2);
    stopOf.push(weight.length - 1);
  });
  const types = unitTypesByItem(task);
  const together = types.map((units) => Math.min(...units.map(({ bundle }) => bundle)));
  const loose = types.map((units, item) => {
    if (units.every(({ bundle }) => bundle === together[item])) return -1;
    const small = units.filter(({ bundle }) => bundle === together[item]);
    return small.reduce((sum, { line }) => sum + (made.get(line) ?? 0), 0);
  });
  return { turnOf, stopOf, weight, together, loose };
}

/** Items in cutting order, with how many of each. */
export interface HeldRails {
  readonly items: readonly number[];
  readonly counts: readonly number[];
}

/** One stick: its turns in cutting order, its stops, and its rails by item. */
export interface StickTurns extends HeldRails {
  readonly turns: readonly number[];
  readonly stops: readonly number[];
}

export function stickOf({ turnOf, stopOf }: Turns, { segments }: Pick<Pattern, 'segments'>): StickTurns {
  const counts = new Map<number, number>();
  for (const { item, count } of segments.flat())
    if (count > 0) counts.set(item, (counts.get(item) ?? 0) + count);
  const items = [...counts.keys()].sort((a, b) => a - b);
  const turns = [...new Set(items.map((item) => turnOf[item]!))];
  return {
    turns,
    stops: [...new Set(turns.map((turn) => stopOf[turn]!))],
    items,
    counts: items.map((item) => counts.get(item)!),
  };
}
