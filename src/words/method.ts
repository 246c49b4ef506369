/**
 * How a moulding is cut, step by step, as seen from where one stands at the saw: the fence beyond the stick, the stop to
 * the left of the blade, the stick coming from the right. A rail's long edge lies at the fence, so the stop setting is
 * its whole length, long point to long point. Seen so, a rail's left end is cut like `\` and its right end like `/`.
 */
import { toNumber } from '../lengths/exact.js';
import type { Batch, Moulding, Um } from '../terms.js';
import type { Words } from './words.js';

export interface MethodFacts {
  readonly batch: Batch;
  readonly moulding: Moulding;
  /** Degrees, most rails first. */
  readonly angles: readonly number[];
  readonly secondStop: boolean;
  readonly flaws: boolean;
  readonly clamps: boolean;
}

export interface MethodStep {
  /** One or two words, before the sentence. */
  readonly name: string;
  readonly text: string;
}

export function angleText(angle: number): string {
  return `${Number(angle.toFixed(2))}°`;
}

function anglesText(angles: readonly number[]): string {
  return angles.map(angleText).join(' or ');
}

/** Where a fresh mitre is cut at the fence edge: past the corner by the recut, or just on the corner. */
function corner(words: Words, recut: Um): string {
  return recut === 0
    ? 'just on the corner at the fence'
    : `${words.tape(recut)} past the corner at the fence`;
}

function profiled({ batch, moulding, angles }: MethodFacts, words: Words): readonly MethodStep[] {
  const turn = anglesText(angles);
  const trim =
    moulding.endTrim === 0
      ? 'cut the left end to a mitre'
      : `cut the left end to a mitre, its long point ${words.tape(moulding.endTrim)} in from the end`;
  return [
    {
      name: 'Lay',
      text: 'the stick face up, outside edge against the fence, sight edge (the rabbet) towards you. The end on your left is its left end; every drawing shows it so.',
    },
    {
      name: 'First mitre',
      text: `saw handle to the right, ${turn}, a cut like \\ seen from above: ${trim}.`,
    },
    {
      name: 'Cut to length',
      text: `saw handle to the left, ${turn}, a cut like /. Slide the long point, the corner at the fence, against the stop, and cut.`,
    },
    {
      name: 'Next rail',
      text: `swing the handle back to the right and cut a fresh mitre ${corner(words, batch.saw.recut)}; then again to the left, up to the stop. Two cuts and two swings a rail.`,
    },
  ];
}

function reversible({ moulding, angles }: MethodFacts, words: Words): readonly MethodStep[] {
  const turn = anglesText(angles);
  const trim =
    moulding.endTrim === 0
      ? ''
      : `, so that its long point lies ${words.tape(moulding.endTrim)} in from the end`;
  return [
    {
      name: 'Lay',
      text: 'the stick flat against the fence. The end on your left is its left end; every drawing shows it so, as it lies for its first rail.',
    },
    {
      name: 'First mitre',
      text: `saw handle to the left, ${turn}, a cut like / seen from above: cut the left end${trim}. Roll the stick over, towards you: the long point now lies at the fence.`,
    },
    {
      name: 'Cut to length',
      text: 'leave the saw where it is. Slide the long point against the stop, and cut: this cut also begins the next rail.',
    },
    {
      name: 'Next rail',
      text: `roll the stick over again, left end still left, and slide it up to the stop. One cut a rail; the saw is not swung.${angles.length > 1 ? ' Where the angle changes, do not roll it: cut a fresh mitre, handle to the right, at the new angle.' : ''}`,
    },
  ];
}

/** The steps in the order they are done. */
export function methodSteps(facts: MethodFacts, words: Words): readonly MethodStep[] {
  const { angles, moulding } = facts;
  const more: MethodStep[] = [];
  if (angles.length > 1) {
    more.push({
      name: 'Angles',
      text: `this moulding has ${angles.map(angleText).join(' and ')}: each setting gives its angle. Set the saw to it before the first cut there.`,
    });
  }
  if (facts.secondStop) {
    more.push({
      name: 'Two stops',
      text: 'where a setting has two lengths, set both stops once: the longer on the fence, the shorter to swing away. Cut long and short in the order given, which runs around the frame.',
    });
  }
  if (facts.flaws) {
    more.push({
      name: 'Flaws',
      text: 'before the first rail of a stick with a flaw, mark the flaw, and cut the first mitre of each clear part where the drawing shows it. This cuts the stick apart: keep the parts together.',
    });
  }
  return [
    {
      name: 'Name',
      text: 'pencil its name on every stick before you cut it, near its right end.',
    },
    ...(moulding.reversible ? reversible(facts, words) : profiled(facts, words)),
    ...more,
    {
      name: 'Label',
      text: 'write the tag on the back of each rail before it leaves the saw. Then tick the stick off.',
    },
  ];
}

/** Lengths of one rail in micrometres for a drawing: how far the mitre runs along the stick. */
export function mitreRun(face: Moulding['face'], angle: number): number {
  return toNumber(face) * Math.tan((angle * Math.PI) / 180);
}
