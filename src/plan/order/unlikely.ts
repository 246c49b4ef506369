/**
 * Values that are possible and yet likely slips: inches under millimetres, a kerf no blade has, trims that eat the
 * sticks. All bounds are common practice, no source; none of them decides anything.
 */
import { toNumber } from '../../lengths/exact.js';
import { formatLength } from '../../lengths/format.js';
import { type Notice, notice } from '../../notices.js';
import { orderedSides } from '../../rails/rails.js';
import type { MouldingTask } from '../../stock/task.js';
import type { Batch, Um } from '../../terms.js';

/** Blades for mitres take 1.5 to 4 mm. */
const KERF_LEAST = 1_000;
const KERF_MOST = 6_500;
/** The narrowest moulding sold is some 8 mm across, the broadest some 200. */
const FACE_LEAST = 5_000;
const FACE_MOST = 250_000;
/** The smallest frames are for miniatures, the largest go through no door. */
const SIZE_LEAST = 40_000;
const SIZE_MOST = 3_000_000;
/** Of a stick, that both end trims together take. */
const TRIM_SHARE = 0.2;

function unlikely(path: string, message: string): Notice {
  return notice('PS_UNLIKELY', path, `${message}. A slip? It is planned as given`);
}

/** Of the saw: the whole batch. */
export function unlikelySaw(batch: Batch): readonly Notice[] {
  const kerf = toNumber(batch.saw.kerf);
  if (kerf === 0 || (kerf >= KERF_LEAST && kerf <= KERF_MOST)) return [];
  const written = (um: Um): string => formatLength(um, 'mm');
  const message = `a kerf of ${formatLength(kerf, batch.units)} (${written(kerf)}) is unusual: blades take ${written(KERF_LEAST)} to ${written(KERF_MOST)}`;
  return [unlikely('saw.kerf', message)];
}

function ofFace({ moulding, index }: MouldingTask, batch: Batch): readonly Notice[] {
  const face = toNumber(moulding.face);
  if (face >= FACE_LEAST && face <= FACE_MOST) return [];
  const message = `${moulding.id}: a face of ${formatLength(face, batch.units)} is unusual: mouldings are ${formatLength(FACE_LEAST, batch.units)} to ${formatLength(FACE_MOST, batch.units)} across`;
  return [unlikely(`mouldings[${index}].face`, message)];
}

/** One notice a moulding, that of its first such line: in the wrong units there would be one a line. */
function ofSizes({ moulding, lines }: MouldingTask, batch: Batch): readonly Notice[] {
  const strange = lines.filter((line) =>
    orderedSides(batch.frames[line]!).some(
      ({ size }) => toNumber(size) < SIZE_LEAST || toNumber(size) > SIZE_MOST,
    ),
  );
  const [first] = strange;
  if (first === undefined) return [];
  const { id } = batch.frames[first]!;
  const sizes = orderedSides(batch.frames[first]!).map(({ size }) =>
    formatLength(toNumber(size), batch.units),
  );
  const more = strange.length > 1 ? `, and ${strange.length - 1} more lines` : '';
  const other = batch.units === 'mm' ? 'inches' : 'millimetres';
  const message = `${moulding.id}: frame ${id} of ${sizes.join(' x ')}${more}: sizes so small or large are unusual; were ${other} meant`;
  return [unlikely(`frames[${first}]`, message)];
}

function ofTrims({ moulding, index, rack, offers }: MouldingTask, batch: Batch): readonly Notice[] {
  const longest = Math.max(0, ...rack.map(({ length }) => length), ...offers.map(({ length }) => length));
  const trims = 2 * moulding.endTrim;
  if (longest === 0 || trims <= TRIM_SHARE * longest) return [];
  const share = `${Math.round((100 * trims) / longest)} %`;
  const message = `${moulding.id}: end trims of ${formatLength(moulding.endTrim, batch.units)} at both ends take ${share} of even the longest stick`;
  return [unlikely(`mouldings[${index}].endTrim`, message)];
}

/** Rack pieces that would hold a rail, were it not for trims and flaws. */
function ofRack({ moulding, items, piles, rack }: MouldingTask, batch: Batch): readonly Notice[] {
  const shortest = Math.min(...items.flatMap(({ settings }) => settings));
  const useful = new Set(piles.flatMap(({ sources }) => sources.map(({ ref }) => ref)));
  const idle = rack.filter((entry) => entry.length >= shortest && !useful.has(entry.id));
  const [first] = idle;
  if (first === undefined) return [];
  const more = idle.length > 1 ? `, and ${idle.length - 1} more,` : '';
  const flaws = first.flaws.length > 0 ? ' and its flaws left out' : '';
  const message = `${moulding.id}: rack piece ${first.id} of ${formatLength(first.length, batch.units)}${more} holds no rail of this order once its ends are trimmed${flaws}`;
  return [notice('PS_UNLIKELY', `sticks[${batch.sticks.indexOf(first)}]`, message)];
}

/** Of one moulding, its frames and its sticks. */
export function unlikelyOf(batch: Batch, task: MouldingTask): readonly Notice[] {
  return [...ofFace(task, batch), ...ofSizes(task, batch), ...ofTrims(task, batch), ...ofRack(task, batch)];
}
