import { describe, expect, it } from 'vitest';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { assemblePlan } from '../../src/plan/assemble.js';
import { planBatchHere } from '../../src/plan/here.js';
import { planMoulding } from '../../src/plan/moulding.js';
import { unplannedPart } from '../../src/plan/short/unplanned.js';
import { showPlan } from '../../src/show/plan.js';
import { ResolvedBatch } from '../../src/stock/resolved.js';
import { PAGE, table, wrap } from '../../src/text/page.js';
import { ranges } from '../../src/words/ranges.js';
import { dice, randomBatch } from '../plan/batches.js';
import { engine, now } from '../plan/kit.js';

async function shown(document: BatchDocument): Promise<string> {
  const batch = checkBatch(document);
  return showPlan(batch, planBatchHere(batch, engine(), { now }));
}

const SMALL: BatchDocument = {
  schema: 'pairstop/batch@1',
  id: 'two-frames',
  units: 'in',
  saw: { kerf: 0, clampBelow: '11' },
  mouldings: [{ id: 'ash', face: 1, rabbet: 0, keepOver: 12 }],
  frames: [{ id: 'A', moulding: 'ash', quantity: 2, measuredBy: 'outside', width: 10, height: 16 }],
  sticks: [{ id: 'r', moulding: 'ash', length: 30, flaws: [[12, '13 1/2']] }],
  offers: [{ id: 'ash-8', moulding: 'ash', length: "8'", price: 17.5 }],
  gauges: [{ id: 'G16', length: 16 }],
};

describe('the page', () => {
  it('says what to buy, which stop to set and what each stick gives', async () => {
    const page = await shown(SMALL);
    const lines = page.split('\n');
    // 104 in of rails: one stick of 96 holds all but one rail of 10 in, which the rack's first span takes.
    expect(lines.find((line) => line.includes('1 x'))).toMatch(/8'\s+ash\s+ash-8\s+17\.50/);
    expect(page).toContain('[ ] 16", set by gauge stick G16: 4 rails');
    expect(page).toContain('[ ] 10": 4 rails   CLAMP OR JIG, do not hold');
    expect(page).toMatch(/A\/1…2 {2}right \+ left {2}\d from ash-8\/1/);
    expect(page).toMatch(/ash-8\/1 .*\d x 16", .*10"\*/);
    expect(page).toContain('[flaw 12" to 13 1/2"]');
    expect(page).toContain('proven: no plan costs less');
  });

  it('always carries the cautions, and defers to the manual and local rules', async () => {
    const page = await shown(SMALL);
    expect(page).toContain("The saw's manual and your local rules come before anything printed here.");
    for (const word of ['Unplug', '6 in', 'clamp', 'Support', 'stop before', 'Eye, ear|eye, ear']) {
      expect(page).toMatch(new RegExp(word));
    }
  });

  it('tells of frames that cannot be made, and what would complete them', async () => {
    const { offers: _, ...rackOnly } = SMALL;
    const page = await shown({
      ...rackOnly,
      frames: [{ id: 'A', moulding: 'ash', quantity: 3, measuredBy: 'outside', width: 5, height: 5 }],
    });
    expect(page).toMatch(
      /SHORT of ash: 2 frames not made, A\/2…3\. A single stick\s+of [^.]*,\s+beside what this plan\s+leaves,\s+would\s+complete\s+them\./,
    );
  });

  it('says first of all which mouldings could not be planned', async () => {
    const batch = checkBatch({
      ...SMALL,
      mouldings: [{ id: 'oak', face: 1, rabbet: 0 }, ...SMALL.mouldings],
      frames: [...SMALL.frames, { id: 'B', moulding: 'oak', quantity: 3, width: 10, height: 12 }],
      offers: [...SMALL.offers!, { id: 'oak-8', moulding: 'oak', length: "8'" }],
    });
    const options = { now, deadline: now() + 1000, seed: 1 };
    const failed = { moulding: 'oak', code: 'PS_SOLVER', message: 'the solver process died' };
    const parts = [
      planMoulding(new ResolvedBatch(batch), 'ash', engine(), options),
      unplannedPart(new ResolvedBatch(batch), failed),
    ];
    const lines = showPlan(batch, assemblePlan(new ResolvedBatch(batch), parts)).split('\n');
    expect(lines[0]).toMatch(/^Partial cut plan: two-frames +2 of 5 frames/);
    expect(lines.slice(2, 4)).toEqual([
      'NOT PLANNED: oak, 3 frames not made, B/1…3.',
      '  oak: could not be planned, PS_SOLVER: the solver process died',
    ]);
    // Not for want of stock: nothing tells to buy more.
    expect(lines.join('\n')).not.toMatch(/SHORT|would complete/);
  });

  it('shows what merging stops saves and costs, and how much there is to handle', async () => {
    const frame = { moulding: 'ash', play: 0, playMax: '1/16' };
    const page = await shown({
      schema: 'pairstop/batch@1',
      id: 'merged',
      units: 'in',
      saw: { kerf: 0 },
      mouldings: [{ id: 'ash', face: 1, rabbet: 0 }],
      frames: [
        { id: 'A', ...frame, width: 14, height: 14 },
        { id: 'B', ...frame, width: '14 1/32', height: '14 1/32' },
      ],
      offers: [
        { id: 'o', moulding: 'ash', length: 64, price: 10 },
        { id: 'p', moulding: 'ash', length: '64 1/4', price: 11 },
      ],
      options: { mergeStops: true },
    });
    const flat = page.replaceAll(/\n +/g, ' ');
    expect(flat).toContain(
      'Stops merged: 1 stop setting, 2 sticks, cost 22.00; without merging 2 stop settings, 2 sticks, cost 21.00.',
    );
    expect(flat).toContain('No fewer settings serve every rail within its play.');
    expect(flat).toContain('proven: no plan with these settings costs less');
    expect(flat).toContain('Without merging stops: 2 stop settings, cost 21.00.');
    expect(flat).toContain('Handling: 2 stick visits, 1 layout, no split pair.');
  });

  it('stays on the page, and names every frame, whatever the batch', async () => {
    for (let i = 0; i < 12; i++) {
      const document = randomBatch(`page ${i}`, { reversible: i % 2 === 0 });
      const page = await shown(document);
      for (const line of page.split('\n')) {
        expect(line.length).toBeLessThanOrEqual(PAGE);
        expect(line).toBe(line.trimEnd());
      }
      for (const frame of document.frames) expect(page).toContain(frame.id);
      // Nothing but text: no colour, no cursor movement.
      expect(page).not.toMatch(/[^\n\P{Cc}]/u);
    }
  }, 120_000);
});

describe('text', () => {
  it('wraps without losing or widening anything', () => {
    const at = dice('wrap');
    for (let round = 0; round < 300; round++) {
      const words = Array.from({ length: at.whole(1, 20) }, () => 'x'.repeat(at.whole(1, 12)));
      const width = at.whole(4, 40);
      const lines = wrap(words.join(' '), width);
      expect(lines.join(' ').replaceAll(' ', '')).toBe(words.join(''));
      expect(Math.max(...lines.map((line) => line.length))).toBeLessThanOrEqual(width);
    }
  });

  it('writes consecutive numbers as ranges', () => {
    expect(ranges(['A/1', 'A/2', 'A/3', 'B/7', 'A/5'])).toBe('A/1…3, B/7, A/5');
    expect(ranges(['a/b/1', 'a/b/2'])).toBe('a/b/1…2');
  });

  it('keeps columns within the page', () => {
    const rows = [['a'.repeat(60), 'b'.repeat(90)]];
    for (const line of table(rows, [{ most: 30 }, { most: 100 }], 4)) {
      expect(line.length).toBeLessThanOrEqual(PAGE);
    }
  });
});
