import { describe, expect, it } from 'vitest';
import { checkBatch } from '../../src/documents/batch/read.js';
import { planSchema } from '../../src/documents/plan/schema.js';
import { mouldingMark, tagsOf } from '../../src/rails/tags.js';
import { randomBatch } from '../plan/batches.js';
import { planned } from '../plan/kit.js';

describe('tags', () => {
  it('number the frames of a moulding through its order lines', () => {
    const batch = checkBatch({
      schema: 'pairstop/batch@1',
      id: 'b',
      units: 'mm',
      mouldings: ['ash', 'oak'].map((id) => ({ id, face: 20, rabbet: 5 })),
      frames: [
        { id: 'X', moulding: 'ash', quantity: 3, width: 200, height: 300 },
        { id: 'Y', moulding: 'oak', quantity: 2, sides: 6, side: 200 },
        { id: 'Z/1', moulding: 'ash', quantity: 2, width: 200, height: 300 },
      ],
      offers: ['ash', 'oak'].map((id) => ({ id: `${id}-o`, moulding: id, length: 3000 })),
    });
    const tags = tagsOf(batch);
    expect(tags.rail('X/3', 'top')).toBe('A3T');
    expect(tags.rail('Z/1/2', 'left')).toBe('A5L');
    expect(tags.rail('Y/2', 'side4')).toBe('B2-4');
    expect(tags.frame('Z/1/1')).toBe('A4');
  });

  it('give each of many mouldings letters of its own, none of them I or O', () => {
    const marks = Array.from({ length: 20_000 }, (_, i) => mouldingMark(i));
    expect(new Set(marks).size).toBe(marks.length);
    expect(marks.join('')).toMatch(/^[A-HJ-NP-Z]+$/);
    expect([marks[0], marks[23], marks[24], marks[48]]).toEqual(['A', 'Z', 'AA', 'BA']);
  });

  it('stand on every rail of a plan, each once, and its schema takes them', async () => {
    for (let i = 0; i < 6; i++) {
      const plan = await planned(randomBatch(`tags ${i}`));
      const rails = plan.mouldings.flatMap(({ sticks }) => sticks.flatMap((stick) => stick.rails));
      expect(new Set(rails.map(({ tag }) => tag)).size).toBe(rails.length);
      expect(planSchema.safeParse(plan).success).toBe(true);
    }
  });
});
