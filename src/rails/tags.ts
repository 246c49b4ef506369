/**
 * Tags: the short mark pencilled on a rail so that it finds its frame. `A12T` is the top of the twelfth frame of the
 * batch's first moulding: letters for the moulding, the frame's number within it, then T, R, B, L, or in a regular frame
 * `-` and the number of the side. Tags depend on the batch alone, so a plan, its recut and all labels agree.
 */
import { copyOf, lineOfFrame } from '../documents/ids.js';
import type { Batch } from '../terms.js';

/** Without I and O, which in pencil are 1 and 0. */
const LETTERS = 'ABCDEFGHJKLMNPQRSTUVWXYZ';
const SIDES: Readonly<Record<string, string>> = { top: 'T', right: 'R', bottom: 'B', left: 'L' };
const NUMBERED = 'side';

/** A, B, … Z, AA, AB, …: no two mouldings share letters, and the digits that follow end them. */
export function mouldingMark(index: number): string {
  let mark = '';
  for (let rest = index + 1; rest > 0; rest = Math.floor((rest - 1) / LETTERS.length)) {
    mark = LETTERS[(rest - 1) % LETTERS.length]! + mark;
  }
  return mark;
}

function sideMark(side: string): string {
  return side.startsWith(NUMBERED) ? `-${side.slice(NUMBERED.length)}` : (SIDES[side] ?? side);
}

export interface Tags {
  /** The mark of a frame, `A12`, by its id `line/copy`. */
  readonly frame: (frame: string) => string;
  readonly rail: (frame: string, side: string) => string;
}

function made(batch: Batch): Tags {
  const marks = new Map(batch.mouldings.map(({ id }, i) => [id, mouldingMark(i)]));
  const frames = new Map<string, number>();
  const lines = new Map(
    batch.frames.map(({ id, moulding, quantity }) => {
      const before = frames.get(moulding) ?? 0;
      frames.set(moulding, before + quantity);
      return [id, { mark: marks.get(moulding) ?? '', before }] as const;
    }),
  );
  const frame = (name: string): string => {
    const line = lines.get(lineOfFrame(name));
    return `${line?.mark ?? ''}${(line?.before ?? 0) + copyOf(name)}`;
  };
  return { frame, rail: (name, side) => frame(name) + sideMark(side) };
}

const known = new WeakMap<Batch, Tags>();

/** The tags of a batch, worked out once for each batch. */
export function tagsOf(batch: Batch): Tags {
  const found = known.get(batch) ?? made(batch);
  known.set(batch, found);
  return found;
}
