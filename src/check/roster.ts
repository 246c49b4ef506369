/**
 * Every rail the batch asks for, by number: frames are numbered line by line and copy by copy, the rails of a frame in
 * the order of its ring (top, right, bottom, left; side1 … sideN). What a plan says of a rail is kept under its number.
 */

import { copyOf, frameId, lineOfFrame, railId } from '../documents/ids.js';
import type { Batch, FrameLine, Moulding } from '../terms.js';

export interface OrderedLine {
  readonly line: FrameLine;
  /** Index in `Batch.frames`. */
  readonly index: number;
  readonly moulding: Moulding;
  /** In the order of the ring. */
  readonly sides: readonly string[];
  readonly sideAt: ReadonlyMap<string, number>;
  readonly firstFrame: number;
  readonly firstRail: number;
}

const RECTANGLE = ['top', 'right', 'bottom', 'left'];

function ringOf(line: FrameLine): readonly string[] {
  const { shape } = line;
  if (shape.kind === 'rectangle') return RECTANGLE;
  return Array.from({ length: shape.sides }, (_, i) => `side${i + 1}`);
}

/** The side that faces `side` across a ring of `sides`; −1 where none does. */
export function opposite(side: number, sides: number): number {
  return sides % 2 === 0 ? (side + sides / 2) % sides : -1;
}

/** Which of a line's two sizes a side has. */
export function sizeOf(line: FrameLine, side: number): 0 | 1 {
  return line.shape.kind === 'rectangle' && side % 2 === 1 ? 1 : 0;
}

export class Roster {
  readonly lines: readonly OrderedLine[];
  readonly frames: number;
  readonly rails: number;
  readonly #byId: ReadonlyMap<string, OrderedLine>;
  readonly #lineOfFrame: Int32Array;
  readonly #frameOfRail: Int32Array;
  #lastText = '';
  #lastFrame = -1;

  /** µm; 0 until the rail is met on a stick. */
  readonly length: Float64Array;
  /** Index of its stick within its moulding; −1 until the rail is met on one. */
  readonly stick: Int32Array;
  /** Index of its stop within its moulding; −1 until it is met in a pair. */
  readonly stop: Int32Array;
  /** 1 for frames in the shortfall. */
  readonly short: Uint8Array;

  constructor(batch: Batch) {
    const mouldings = new Map(batch.mouldings.map((moulding) => [moulding.id, moulding]));
    const rings = new Map<number, { sides: readonly string[]; sideAt: ReadonlyMap<string, number> }>();
    const lines: OrderedLine[] = [];
    let frames = 0;
    let rails = 0;
    batch.frames.forEach((line, index) => {
      const moulding = mouldings.get(line.moulding);
      if (moulding === undefined) return;
      const key = line.shape.kind === 'rectangle' ? 0 : line.shape.sides;
      let ring = rings.get(key);
      if (ring === undefined) {
        const sides = ringOf(line);
        ring = { sides, sideAt: new Map(sides.map((side, i) => [side, i])) };
        rings.set(key, ring);
      }
      lines.push({ line, index, moulding, ...ring, firstFrame: frames, firstRail: rails });
      frames += line.quantity;
      rails += line.quantity * ring.sides.length;
    });
    this.lines = lines;
    this.frames = frames;
    this.rails = rails;
    this.#byId = new Map(lines.map((line) => [line.line.id, line]));
    this.#lineOfFrame = new Int32Array(frames);
    this.#frameOfRail = new Int32Array(rails);
    lines.forEach(({ line, sides, firstFrame, firstRail }, i) => {
      this.#lineOfFrame.fill(i, firstFrame, firstFrame + line.quantity);
      for (let copy = 0; copy < line.quantity; copy++) {
        const from = firstRail + copy * sides.length;
        this.#frameOfRail.fill(firstFrame + copy, from, from + sides.length);
      }
    });
    this.length = new Float64Array(rails);
    this.stick = new Int32Array(rails).fill(-1);
    this.stop = new Int32Array(rails).fill(-1);
    this.short = new Uint8Array(frames);
  }

  /** Number of the frame copy `line id/copy`; −1 when it is not ordered. */
  frameAt(text: string): number {
    if (text === this.#lastText) return this.#lastFrame;
    const copy = copyOf(text);
    const line = copy > 0 ? this.#byId.get(lineOfFrame(text)) : undefined;
    this.#lastText = text;
    this.#lastFrame = line === undefined || copy > line.line.quantity ? -1 : line.firstFrame + copy - 1;
    return this.#lastFrame;
  }

  /** Number of a frame's rail; −1 when the frame has no such side. */
  railAt(frame: number, side: string): number {
    const at = this.lineOf(frame).sideAt.get(side);
    return at === undefined ? -1 : this.firstRailOf(frame) + at;
  }

  lineOf(frame: number): OrderedLine {
    return this.lines[this.#lineOfFrame[frame]!]!;
  }

  firstRailOf(frame: number): number {
    const line = this.lineOf(frame);
    return line.firstRail + (frame - line.firstFrame) * line.sides.length;
  }

  frameOf(rail: number): number {
    return this.#frameOfRail[rail]!;
  }

  sideOf(rail: number): number {
    return rail - this.firstRailOf(this.frameOf(rail));
  }

  frameName(frame: number): string {
    const { line, firstFrame } = this.lineOf(frame);
    return frameId(line.id, frame - firstFrame + 1);
  }

  railName(rail: number): string {
    const frame = this.frameOf(rail);
    return railId(this.frameName(frame), this.lineOf(frame).sides[this.sideOf(rail)]!);
  }
}
