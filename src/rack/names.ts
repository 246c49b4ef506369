/** Names the rack gives, and the text of the code on a label. */
import { ID_LENGTH } from '../read/limits.js';

const CODE = 'pairstop:rack/';

/** What the code on a label says: `pairstop:rack/` and the piece's id, percent-encoded. */
export function pieceCode(id: string): string {
  return CODE + encodeURIComponent(id);
}

/** A piece's id as typed, or as a label's code was read. */
export function pieceIdOf(given: string): string {
  const text = given.trim();
  if (!text.startsWith(CODE)) return text;
  try {
    return decodeURIComponent(text.slice(CODE.length));
  } catch {
    return text;
  }
}

/** FNV-1a, for names that would be too long. */
function mark(text: string): string {
  let hash = 0x811c9dc5;
  for (let i = 0; i < text.length; i++) hash = Math.imul(hash ^ text.charCodeAt(i), 0x01000193);
  return (hash >>> 0).toString(36);
}

function within(name: string): string {
  if (name.length <= ID_LENGTH) return name;
  const short = `~${mark(name)}`;
  const half = ID_LENGTH / 2;
  // What tells pieces of one batch apart stands at the end; half a character is none.
  const cut = `${name.slice(0, half)}…${name.slice(name.length - half + short.length + 1)}`;
  return cut.replace(/\p{Surrogate}/gu, '') + short;
}

/** The nth offcut to keep of a plan, or of its recut, from 1, in the order of its mouldings, sticks and what is left of each. */
export function offcutId(batch: string, nth: number, recut = false): string {
  return within(`${batch}/${recut ? 'r' : 'o'}${nth}`);
}

/** A stick that was bought for a plan, by the name the plan has for it (`offer/copy`). */
export function boughtId(batch: string, stick: string): string {
  return within(`${batch}/${stick}`);
}

/** The same name for a piece that comes when the rack has had one of that name: `~2`, `~3`, … */
export function another(id: string, nth: number): string {
  return nth < 2 ? id : within(`${id}~${nth}`);
}
