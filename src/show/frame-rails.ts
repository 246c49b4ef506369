/** The rails of one frame as a few lines of text. */
import type { FrameRails } from '../documents/rails/schema.js';
import { umFromMm } from '../lengths/units.js';
import type { Batch } from '../terms.js';
import { printed } from '../text/page.js';
import { Words } from '../words/words.js';

const SIZES = ['outside', 'rabbet', 'sight', 'glass'] as const;
const SIZE_WORDS = { outside: 'outside', rabbet: 'rabbet', sight: 'sight', glass: 'glass, at most' } as const;

export function showFrameRails(batch: Batch, answer: FrameRails): string {
  const words = new Words(batch);
  const [line] = batch.frames;
  const lines = answer.rails.map(({ sides, length, angle }) => {
    const names = sides.length === 2 ? sides.join(' + ') : `each of ${sides.length} sides`;
    const clamp = words.clamped(length) ? '   CLAMP OR JIG, do not hold' : '';
    return `${`${sides.length} rails`.padEnd(10)} ${words.setting(length).padEnd(12)} ${names}, mitre ${Number(angle.toFixed(2))}°${clamp}`;
  });
  const sizes = SIZES.map((size) => {
    const text = answer.sizes[size].map((mm) => words.tape(umFromMm(mm))).join(' x ');
    return `  ${SIZE_WORDS[size].padEnd(15)} ${text}${line?.measuredBy === size ? '   (measured by this)' : ''}`;
  });
  const from = `  ${'of one stick'.padEnd(15)} ${words.tape(umFromMm(answer.stick))}, kerf${batch.saw.recut > 0 ? ', recut' : ''} and end trims included`;
  return printed([
    ...lines,
    ...sizes,
    `  ${'rails together'.padEnd(15)} ${words.tape(umFromMm(answer.railLength))}, long point to long point`,
    from,
    '',
    'A rail is measured along its outside edge, long point to long point. Sizes are those of the frame',
    'as it is cut: a rail is rounded up to the stop step.',
  ]);
}
