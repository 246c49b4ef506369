/** Which frame's rails a unit is, handed out in the order the units are cut: copies of a frame stay together. */
import type { Copies, MouldingTask, UnitType } from '../stock/task.js';

export interface Named {
  readonly type: UnitType;
  readonly copy: number;
}

/** The units of each item, in the order given. */
export function unitTypesByItem(task: MouldingTask): readonly (readonly UnitType[])[] {
  const types = task.items.map((): UnitType[] => []);
  for (const type of task.units) types[type.item]!.push(type);
  return types;
}

/** Frames made, by order line. */
export function copiesByLine(task: MouldingTask, copies: Copies): ReadonlyMap<number, number> {
  return new Map(task.lines.map((line, i) => [line, copies[i] ?? 0]));
}

/** Every copy's units, frame by frame in the order given; `types` are in that order too. */
export function* namesOf(
  types: readonly UnitType[],
  made: ReadonlyMap<number, number>,
): Generator<Named, undefined> {
  for (let begin = 0; begin < types.length; ) {
    const line = types[begin]!.line;
    let end = begin;
    while (types[end]?.line === line) end += 1;
    for (let copy = 1; copy <= (made.get(line) ?? 0); copy++) {
      for (let i = begin; i < end; i++) yield { type: types[i]!, copy };
    }
    begin = end;
  }
  return undefined;
}
