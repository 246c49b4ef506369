/** Turns a checked document into the planner's terms: needs rounded up, supplies down, flaws sorted and merged. */
import { type Exact, needUm, supplyUm } from '../../lengths/exact.js';
import type {
  Batch,
  FrameLine,
  Moulding,
  Offer,
  Options,
  RackEntry,
  Rectangle,
  Regular,
  Um,
  Units,
} from '../../terms.js';
import { defaultPrice } from '../money.js';
import type { ReadBatch } from './schema.js';

type ReadFrame = ReadBatch['frames'][number];
type ReadStick = ReadBatch['sticks'][number];

function moulding(read: ReadBatch['mouldings'][number]): Moulding {
  return {
    id: read.id,
    face: read.face,
    rabbet: read.rabbet,
    reversible: read.reversible,
    endTrim: needUm(read.endTrim),
    keepOver: needUm(read.keepOver),
  };
}

function shape(read: ReadFrame): Rectangle | Regular {
  const { width, height, sides, side } = read;
  if (width !== undefined && height !== undefined) return { kind: 'rectangle', width, height };
  if (sides !== undefined && side !== undefined) return { kind: 'regular', sides, side };
  throw new RangeError(`frame ${read.id} has no size`);
}

function frame(read: ReadFrame): FrameLine {
  return {
    id: read.id,
    moulding: read.moulding,
    quantity: read.quantity,
    measuredBy: read.measuredBy,
    shape: shape(read),
    play: read.play,
    playMax: read.playMax ?? null,
    match: read.match,
    priority: read.priority ?? null,
  };
}

/** Each flaw grown outwards to whole micrometres, clipped to the stick; flaws that touch or overlap become one. */
function flaws(spans: readonly (readonly [Exact, Exact])[], length: Um): readonly (readonly [Um, Um])[] {
  const merged: [Um, Um][] = [];
  const sorted = spans
    .map(([from, to]): [Um, Um] => [supplyUm(from), Math.min(needUm(to), length)])
    .filter(([from, to]) => from < to)
    .sort((a, b) => a[0] - b[0]);
  for (const [from, to] of sorted) {
    const last = merged.at(-1);
    if (last !== undefined && from <= last[1]) last[1] = Math.max(last[1], to);
    else merged.push([from, to]);
  }
  return merged;
}

function stick(read: ReadStick): RackEntry {
  const length = supplyUm(read.length);
  return {
    id: read.id,
    moulding: read.moulding,
    length,
    quantity: read.quantity,
    flaws: flaws(read.flaws, length),
    ends: read.ends,
    value: read.value ?? null,
  };
}

function offer(read: ReadBatch['offers'][number], units: Units): Offer {
  return {
    id: read.id,
    moulding: read.moulding,
    length: supplyUm(read.length),
    price: read.price ?? defaultPrice(read.length, units),
    priced: read.price !== undefined || read.breaks.length > 0,
    available: read.available ?? null,
    pack: read.pack,
    breaks: [...read.breaks].sort((a, b) => a.from - b.from),
    supplier: read.supplier ?? null,
  };
}

function options({ notBefore, maxLength, shortBy, spare, ...read }: ReadBatch['options']): Options {
  return {
    ...read,
    notBefore: notBefore ?? null,
    // The longest stick that can be carried is rounded down, what a stick may be short by is rounded up.
    maxLength: maxLength === undefined ? null : supplyUm(maxLength),
    shortBy: shortBy === undefined ? null : needUm(shortBy),
    spare: spare ?? null,
  };
}

/** `read` has passed every cross check. */
export function buildBatch(read: ReadBatch): Batch {
  return {
    id: read.id,
    units: read.units,
    saw: {
      kerf: read.saw.kerf,
      recut: needUm(read.saw.recut),
      stopStep: read.saw.stopStep,
      clampBelow: needUm(read.saw.clampBelow),
      bench: read.saw.bench,
      order: read.saw.order,
    },
    mouldings: read.mouldings.map(moulding),
    frames: read.frames.map(frame),
    sticks: read.sticks.map(stick),
    offers: read.offers.map((line) => offer(line, read.units)),
    // A setting is its exact length rounded up, so a gauge on the same mark is equal to it only if rounded alike.
    gauges: read.gauges.map((line) => ({ id: line.id, length: needUm(line.length) })),
    suppliers: read.suppliers,
    labour: { ...read.labour, rate: read.labour.rate ?? null },
    rack: read.rack ?? null,
    due: read.due ?? null,
    batches: read.batches.map(({ id, due, lines, apart }) => ({
      id,
      due: due ?? null,
      lines,
      apart: apart.map(({ why, moulding: here, from }) => ({
        why,
        moulding: here ?? null,
        from: from ?? null,
      })),
    })),
    options: options(read.options),
  };
}
