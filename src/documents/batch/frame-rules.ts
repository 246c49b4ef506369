/** The rules between the fields of mouldings and frames. Sizes are compared in micrometres. */
import { compare, type Exact, toNumber } from '../../lengths/exact.js';
import { formatLength } from '../../lengths/format.js';
import { byId, idsOnce, knownMouldings } from '../../read/ids.js';
import { RAILS, SHORTEST } from '../../read/limits.js';
import { type InputProblems, type Path, show } from '../../read/problems.js';
import type { Sound } from '../../read/walk.js';
import type { Units } from '../../terms.js';
import type { ReadBatch, SoundBatch } from './schema.js';

type SoundMoulding = Sound<ReadBatch['mouldings'][number]>;
type SoundFrame = Sound<ReadBatch['frames'][number]>;

const SIZES = ['width', 'height', 'side'] as const;

/** How many rails one copy has, as far as the line says. */
export function sidesOf(frame: SoundFrame): number {
  return frame.sides ?? 4;
}

/** tan(180°/n): what a face or a play adds to a side is multiplied by it. 1 for a rectangle (geometry of a regular n-gon). */
function tangent(frame: SoundFrame): number {
  const sides = sidesOf(frame);
  return sides === 4 ? 1 : Math.tan(Math.PI / sides);
}

/** Difference between a size as measured and the sight size, per side, in micrometres; null where a field is unsound. */
function aboveSight(frame: SoundFrame, moulding: SoundMoulding): number | null {
  const { measuredBy, play } = frame;
  if (measuredBy === undefined || play === undefined) return null;
  if (moulding.face === undefined || moulding.rabbet === undefined) return null;
  const rabbets = 2 * toNumber(moulding.rabbet);
  switch (measuredBy) {
    case 'glass':
      return (rabbets - toNumber(play)) * tangent(frame);
    case 'rabbet':
      return rabbets * tangent(frame);
    case 'sight':
      return 0;
    case 'outside':
      return 2 * toNumber(moulding.face) * tangent(frame);
    default:
      return measuredBy satisfies never;
  }
}

function sightStaysOpen(
  frame: SoundFrame,
  moulding: SoundMoulding,
  units: Units,
  path: Path,
  problems: InputProblems,
): void {
  const taken = aboveSight(frame, moulding);
  if (taken === null) return;
  for (const key of SIZES) {
    const size = frame[key];
    if (size === undefined || toNumber(size) - taken >= SHORTEST) continue;
    const least = formatLength(Math.ceil(taken), units);
    problems.add(
      [...path, key],
      `more than ${least}, so that the sight size stays positive (measured by ${frame.measuredBy ?? 'glass'})`,
    );
  }
}

/** A frame has all of one form or the other. `given` is the line as written, so a refused field does not count as absent. */
function oneForm(given: object, path: Path, problems: InputProblems): void {
  const has = (key: string) => Object.hasOwn(given, key);
  const rectangle = ['width', 'height'].filter(has);
  const regular = ['sides', 'side'].filter(has);
  const allowed = 'either width and height, or sides and side';
  if ((rectangle.length > 0 && regular.length > 0) || rectangle.length + regular.length === 0) {
    const keys = [...rectangle, ...regular];
    problems.add(path, allowed, keys.length === 0 ? 'no size' : keys.join(', '));
    return;
  }
  for (const key of rectangle.length > 0 ? ['width', 'height'] : ['sides', 'side']) {
    if (!has(key)) problems.add([...path, key], allowed);
  }
}

function playFits(frame: SoundFrame, units: Units, path: Path, problems: InputProblems): void {
  const { play, playMax } = frame;
  const sizes = SIZES.map((key) => frame[key]).filter((size): size is Exact => size !== undefined);
  const smallest = sizes.reduce<Exact | undefined>(
    (least, size) => (least === undefined || compare(size, least) < 0 ? size : least),
    undefined,
  );
  for (const key of ['play', 'playMax'] as const) {
    const value = frame[key];
    if (value === undefined || smallest === undefined) continue;
    if (toNumber(value) * tangent(frame) < toNumber(smallest)) continue;
    const bound = formatLength(toNumber(smallest) / tangent(frame), units);
    const byDefault = key === 'play' ? ', and 1/8" where nothing is given' : '';
    problems.add([...path, key], `less than the frame's smallest side allows, ${bound}${byDefault}`);
  }
  if (play !== undefined && playMax !== undefined && compare(playMax, play) < 0) {
    const least = formatLength(toNumber(play), units);
    problems.add([...path, 'playMax'], `at least the play, ${least}`);
  }
}

function mouldingRules(batch: SoundBatch, units: Units, problems: InputProblems): void {
  for (const [i, moulding] of (batch.mouldings ?? []).entries()) {
    if (moulding?.rabbet === undefined) continue;
    const { face, rabbet, reversible } = moulding;
    if (face !== undefined && compare(rabbet, face) >= 0) {
      const width = formatLength(toNumber(face), units);
      problems.add(['mouldings', i, 'rabbet'], `less than the face, ${width}: the lip is a part of it`);
    }
    if (reversible === true && rabbet.num > 0n) {
      problems.add(['mouldings', i, 'rabbet'], '0 for reversible stock, which is flat; or reversible false');
    }
  }
}

/** `document` is the batch as written; `batch` is the sound part of it. */
export function frameRules(
  document: unknown,
  batch: SoundBatch,
  units: Units,
  problems: InputProblems,
): void {
  const mouldings = byId(batch.mouldings);
  idsOnce({ mouldings: batch.mouldings }, problems);
  idsOnce({ frames: batch.frames }, problems);
  mouldingRules(batch, units, problems);
  if (batch.mouldings !== undefined) knownMouldings('frames', batch.frames, mouldings, problems);

  let rails = 0;
  const written = givenLines(document);
  for (const [i, frame] of (batch.frames ?? []).entries()) {
    const given = written[i];
    if (frame === undefined || typeof given !== 'object' || given === null) continue;
    const path = ['frames', i];
    rails += (frame.quantity ?? 0) * sidesOf(frame);
    oneForm(given, path, problems);
    playFits(frame, units, path, problems);
    const moulding = mouldings.get(frame.moulding ?? '');
    if (moulding !== undefined) sightStaysOpen(frame, moulding, units, path, problems);
  }
  if (rails > RAILS) problems.add(['frames'], `at most ${RAILS} rails in a batch`, show(rails));
}

function givenLines(document: unknown): readonly unknown[] {
  if (typeof document !== 'object' || document === null || !('frames' in document)) return [];
  return Array.isArray(document.frames) ? document.frames : [];
}
