/**
 * Tags: letters for the moulding (A to Z without I and O, then AA, AB …, in the order of the batch), the frame's number
 * within it, then T, R, B, L, or `-` and the number of the side. If one rail has a tag, all do. Older plans have none.
 */
import { copyOf, lineOfFrame } from '../documents/ids.js';
import type { Batch } from '../terms.js';
import type { Context } from './context.js';

/** The letters that come after these, counted up as an odometer is. */
function following(letters: string): string {
  const last = letters.at(-1);
  if (last === undefined) return 'A';
  const before = letters.slice(0, -1);
  if (last === 'Z') return `${following(before)}A`;
  const next = String.fromCharCode(last.charCodeAt(0) + 1);
  return before + (next === 'I' || next === 'O' ? String.fromCharCode(next.charCodeAt(0) + 1) : next);
}

/** The tag that a rail must have, by its frame's id and its side. */
export function tagsFor(batch: Batch): (frame: string, side: string) => string {
  const letters = new Map<string, string>();
  let at = '';
  for (const { id } of batch.mouldings) {
    at = following(at);
    letters.set(id, at);
  }
  const counted = new Map<string, number>();
  const lines = new Map<string, { readonly moulding: string; readonly before: number }>();
  for (const { id, moulding, quantity } of batch.frames) {
    const before = counted.get(moulding) ?? 0;
    lines.set(id, { moulding, before });
    counted.set(moulding, before + quantity);
  }
  return (frame, side) => {
    const line = lines.get(lineOfFrame(frame));
    const mark = side.startsWith('side') ? `-${side.slice(4)}` : side.charAt(0).toUpperCase();
    return `${letters.get(line?.moulding ?? '') ?? ''}${(line?.before ?? 0) + copyOf(frame)}${mark}`;
  };
}

export function checkTags({ batch, plan, findings }: Context): void {
  const tagFor = tagsFor(batch);
  let bare: string | null = null;
  let tagged = false;
  plan.mouldings.forEach(({ sticks }, m) => {
    sticks.forEach(({ rails }, s) => {
      rails.forEach(({ tag, frame, side }, r) => {
        const path = `mouldings[${m}].sticks[${s}].rails[${r}].tag`;
        if (tag === undefined) {
          bare ??= path;
          return;
        }
        tagged = true;
        const right = tagFor(frame, side);
        if (tag !== right) findings.add('CHECK_TAG', path, `"${tag}"`, `"${right}"`);
      });
    });
  });
  if (bare !== null && tagged) findings.add('CHECK_TAG', bare, 'none', 'a tag, as other rails have');
}
