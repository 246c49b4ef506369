/** The everyday question: how long are the rails of this frame, what are its sizes, how much moulding does it take? */
import type { FrameRails } from '../documents/rails/schema.js';
import { toNumber } from '../lengths/exact.js';
import { mmFromUm } from '../lengths/units.js';
import { mitreTan } from '../rails/mitre.js';
import { railsOf, sidesOf } from '../rails/rails.js';
import type { Batch } from '../terms.js';
import { groupRails } from './items.js';
import { runLength } from './spacing.js';

/** Of the first frame of a batch and the first of its mouldings. */
export function frameRails(batch: Batch): FrameRails {
  const line = batch.frames[0]!;
  const moulding = batch.mouldings[0]!;
  const rails = railsOf(batch, 0, moulding);
  const t = mitreTan(sidesOf(line));
  const lengths = rails.flatMap(({ setting, sides }) => sides.map(() => setting));
  const clear = runLength(groupRails(batch, moulding, [0]).spacing, 0, lengths);
  const [face, rabbet, play] = [moulding.face, moulding.rabbet, line.play].map(toNumber);
  /** The outside size less this much of tan θ, to the whole micrometre. */
  const less = (across: number): number[] =>
    rails.map(({ setting }) => mmFromUm(Math.round(setting - across * t)));
  return {
    schema: 'pairstop/rails@1',
    units: batch.units,
    lengths: 'mm',
    rails: rails.map(({ sides, setting, angle }) => ({
      sides: [...sides],
      length: mmFromUm(setting),
      angle,
    })),
    sizes: {
      outside: less(0),
      rabbet: less(2 * face! - 2 * rabbet!),
      sight: less(2 * face!),
      glass: less(2 * face! - 2 * rabbet! + play!),
    },
    railLength: mmFromUm(lengths.reduce((sum, length) => sum + length, 0)),
    oneRun: mmFromUm(clear),
    stick: mmFromUm(clear + 2 * moulding.endTrim),
  };
}
