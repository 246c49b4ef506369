/** How long the checker wants rails: against published sizes, and against a plain count of the marks on a scale. */
import { describe, expect, it } from 'vitest';
import { Settings } from '../../src/check/settings.js';
import { readBatch } from '../../src/documents/batch/read.js';
import type { Batch } from '../../src/terms.js';

function batchOf(units: 'in' | 'mm', more: object, frame: object, mould: object): Batch {
  return readBatch(
    JSON.stringify({
      schema: 'pairstop/batch@1',
      id: 'settings',
      units,
      ...more,
      mouldings: [{ id: 'm', rabbet: 0, ...mould }],
      frames: [{ id: 'f', moulding: 'm', ...frame }],
    }),
  );
}

/** Every whole micrometre the checker allows around a length. */
function allowed(batch: Batch, size: 0 | 1, around: number, reach = 900): readonly number[] {
  const found: number[] = [];
  for (let um = around - reach; um <= around + reach; um++) {
    if (new Settings(batch).allows(0, size, batch.mouldings[0]!, um)) found.push(um);
  }
  return found;
}

describe('rails of published sizes', () => {
  // ISO 216 trimmed sizes. Glass of that size, no play, no rabbet: each rail is the size plus twice the face.
  it.each([
    ['A0', 841, 1189],
    ['A1', 594, 841],
    ['A2', 420, 594],
    ['A3', 297, 420],
    ['A4', 210, 297],
    ['A5', 148, 210],
  ])('%s', (_name, width, height) => {
    const batch = batchOf('mm', {}, { width, height, play: 0 }, { face: 25 });
    expect(allowed(batch, 0, (width + 50) * 1000)).toEqual([(width + 50) * 1000]);
    expect(allowed(batch, 1, (height + 50) * 1000)).toEqual([(height + 50) * 1000]);
  });

  // Suppliers' footage rule, 2(w + h) + 8·face: 305 × 407 mm with a face of 66 mm takes 1952 mm.
  it('one frame takes 2(w + h) + 8·face of moulding', () => {
    const batch = batchOf('mm', {}, { width: 305, height: 407, play: 0 }, { face: 66 });
    const [width, height] = [allowed(batch, 0, 437_000), allowed(batch, 1, 539_000)];
    expect(2 * (width[0]! + height[0]!)).toBe(1_952_000);
  });

  // Geometry: a hexagon of sight side s and face F has the outside side s + 2F·tan 30°.
  it('a hexagon by its sight side', () => {
    const batch = batchOf('mm', {}, { measuredBy: 'sight', sides: 6, side: 200 }, { face: 30 });
    const exactly = 200 + (60 * Math.sqrt(3)) / 3;
    expect(exactly).toBeGreaterThan(234.5);
    expect(allowed(batch, 0, 235_000)).toEqual([235_000]);
  });

  it.each([
    ['glass', 2 * 30 - 2 * 6 + 3],
    ['rabbet', 2 * 30 - 2 * 6],
    ['sight', 2 * 30],
    ['outside', 0],
  ])('measured by %s', (measuredBy, more) => {
    const frame = { measuredBy, width: 300, height: 400, play: 3 };
    const batch = batchOf('mm', { saw: { stopStep: 1 } }, frame, { face: 30, rabbet: 6 });
    expect(allowed(batch, 0, (300 + more) * 1000)).toEqual([(300 + more) * 1000]);
    expect(allowed(batch, 1, (400 + more) * 1000)).toEqual([(400 + more) * 1000]);
  });
});

describe('the stop step', () => {
  // 1/32 in is 793.75 µm by the inch of 25.4 mm (NIST SP 811): marks at ¾, ½ and ¼ of a micrometre.
  it('rounds every mark of an inch scale up to whole micrometres', () => {
    for (let n = 640; n < 672; n++) {
      const frame = { measuredBy: 'outside', width: `${n}/32`, height: `${n}/32` };
      const batch = batchOf('in', { saw: { stopStep: '1/32' } }, frame, { face: 1 });
      const mark = Math.ceil((n * 79_375) / 100);
      expect(allowed(batch, 0, mark)).toEqual([mark]);
    }
  });

  it('takes a size a hair above a mark to the next one', () => {
    const frame = { measuredBy: 'outside', width: '508.002 mm', height: '508 mm' };
    const batch = batchOf('in', { saw: { stopStep: '1/32' } }, frame, { face: 1 });
    expect(allowed(batch, 0, 508_400)).toEqual([508_794]);
    expect(allowed(batch, 1, 508_400)).toEqual([508_000]);
  });

  it('lets a need within the last micrometre of a mark stand at it or the next', () => {
    // 20 1/32 in is 508 793.75 µm, cut at 508 794; a need of 508 793.9 is reached by that whole number, not by the mark.
    const frame = { measuredBy: 'outside', width: '508.7939 mm', height: 20 };
    const batch = batchOf('in', { saw: { stopStep: '1/32' } }, frame, { face: 1 });
    expect(allowed(batch, 0, 509_000)).toEqual([508_794, 509_588]);
  });

  it('is the least mark at or above the need, by counting marks', () => {
    // Steps in thirds of a micrometre never fall on whole ones twice in a row.
    for (const [step, width] of [
      ['1/3 mm', 401_234],
      ['0.7 mm', 400_050],
      ['5/7 mm', 399_999],
      ['1/64 in', 400_000],
    ] as const) {
      const [top = '', bottom = '1'] = step.replace(/ (mm|in)$/, '').split('/');
      const stepUm = ((Number(top) * (step.endsWith('in') ? 25.4 : 1)) / Number(bottom)) * 1000;
      let n = 0;
      while (n * stepUm < width - 1e-6) n += 1;
      const frame = { measuredBy: 'outside', width: `${width / 1000} mm`, height: 300 };
      const batch = batchOf('mm', { saw: { stopStep: step } }, frame, { face: 30 });
      expect(allowed(batch, 0, width)[0]).toBe(Math.ceil(n * stepUm - 1e-6));
    }
  });
});

describe('merged stops', () => {
  const frame = { width: 400, height: 300, play: 2, playMax: 4 };
  const more = { saw: { stopStep: 0.5 }, gauges: [{ id: 'g', length: 433.3 }] };

  it('allow marks and gauge sticks from the need at play to the need at playMax', () => {
    // 400 + 2 − 2·5 + 2·20 = 432, with playMax 434.
    const batch = batchOf('mm', { ...more, options: { mergeStops: true } }, frame, { face: 20, rabbet: 5 });
    expect(allowed(batch, 0, 433_000, 2500)).toEqual([432_000, 432_500, 433_000, 433_300, 433_500, 434_000]);
  });

  it('allow the plain setting only, where the batch does not ask for merging', () => {
    const batch = batchOf('mm', more, frame, { face: 20, rabbet: 5 });
    expect(allowed(batch, 0, 433_000, 2500)).toEqual([432_000]);
  });

  it('allow the plain setting even where the step is coarser than the play', () => {
    const narrow = { ...frame, width: 400.1, playMax: 2.2 };
    const batch = batchOf('mm', { ...more, options: { mergeStops: true } }, narrow, { face: 20, rabbet: 5 });
    expect(allowed(batch, 0, 432_500, 2500)).toEqual([432_500]);
  });
});
