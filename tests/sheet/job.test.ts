/** What the sheet is made of, counted again from the plan itself. */
import { describe, expect, it } from 'vitest';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { Plan } from '../../src/documents/plan/types.js';
import { tagsOf } from '../../src/rails/tags.js';
import { recut } from '../../src/recut/recut.js';
import { cardData } from '../../src/sheet/card/build.js';
import { railsInOrder, sheetJob } from '../../src/sheet/job.js';
import { labelGrid } from '../../src/sheet/labels/grid.js';
import { labelsOf } from '../../src/sheet/labels/labels.js';
import { sheetHtml } from '../../src/sheet/sheet.js';
import { Words } from '../../src/words/words.js';
import { engine, now, planned } from '../plan/kit.js';
import { DATE, DEMO_BATCH, DEMO_PLAN } from './kit.js';

const batch = checkBatch(DEMO_BATCH);
const tags = tagsOf(batch);

function tagsInOrder({ mouldings }: Pick<Plan, 'mouldings'>): readonly string[] {
  const placed = new Map(
    mouldings.flatMap(({ sticks }) =>
      sticks.flatMap(({ rails }) => rails.map((rail) => [rail.rail, rail] as const)),
    ),
  );
  return mouldings.flatMap(({ stops }) =>
    stops.flatMap(({ pairs }) =>
      pairs.flatMap(({ rails }) => rails.map((id) => tags.rail(placed.get(id)!.frame, placed.get(id)!.side))),
    ),
  );
}

describe('the sheet', () => {
  it('takes every rail once, in the order of the work, at its stick', () => {
    const { mouldings } = sheetJob(batch, DEMO_PLAN);
    expect(mouldings.flatMap(railsInOrder).map(({ tag }) => tag)).toEqual(tagsInOrder(DEMO_PLAN));
    for (const { runs } of mouldings) {
      for (const { stick, rails } of runs.flatMap((run) => run.settings.flatMap(({ visits }) => visits))) {
        expect(stick.rails).toEqual(expect.arrayContaining([...rails]));
      }
    }
    // A visit is one stick taken up for one setting, as the plan counts them.
    const visits = mouldings.flatMap(({ runs }) =>
      runs.flatMap((run) => run.settings.flatMap((one) => one.visits)),
    );
    expect(visits.length).toBe(DEMO_PLAN.totals.handling?.visits);
  });

  it('is the same page each time, and says the date it is given', () => {
    const options = { date: DATE, script: '/* the card */' };
    const page = sheetHtml(batch, DEMO_PLAN, options);
    expect(page).toBe(sheetHtml(batch, DEMO_PLAN, options));
    expect(page).toContain(`<span>${DATE}</span>`);
    expect(page).toContain('default-src &#x27;none&#x27;'.replaceAll('&#x27;', "'"));
  });

  it('gives an offcut one length: what a tape measures on it, end trim included', async () => {
    const document = {
      schema: 'pairstop/batch@1',
      id: 'one-offcut',
      units: 'mm',
      saw: { kerf: 3 },
      mouldings: [{ id: 'ash', face: 30, rabbet: 6, endTrim: 10, keepOver: 300 }],
      frames: [{ id: 'A', moulding: 'ash', width: 200, height: 300, measuredBy: 'outside' }],
      sticks: [{ id: 'r1', moulding: 'ash', length: 1600 }],
    } as const;
    const made = await planned(document);
    const [left] = made.mouldings[0]!.sticks[0]!.left.filter(({ use }) => use === 'offcut');
    // Its clear length is shorter by the end trim: that must not stand beside it.
    expect(left!.piece!.length - (left!.to - left!.from)).toBeCloseTo(10, 3);
    const page = sheetHtml(checkBatch(document), made, { date: DATE, script: '' });
    const kept = [...page.matchAll(/keep (\d[\d.]*)/g)].map(([, length]) => Number(length));
    expect(kept.length).toBeGreaterThan(1);
    for (const length of kept) expect(Math.abs(length - left!.piece!.length)).toBeLessThan(0.1);
  });

  it('shows of a recut what is still to be cut', async () => {
    const lost = ['A-101/3/top', 'W-303/2/side4'];
    const made = recut({ batch, plan: DEMO_PLAN, lost, told: null }, engine(), {
      now,
      deadline: now() + 10_000,
      seed: 1,
    });
    const { mouldings } = sheetJob(batch, made);
    const toCut = made.mouldings.flatMap(({ sticks }) => sticks.flatMap(({ rails }) => rails));
    const shown = mouldings.flatMap(railsInOrder).map(({ tag }) => tag);
    expect(shown.toSorted()).toEqual(toCut.map(({ frame, side }) => tags.rail(frame, side)).toSorted());
    expect(shown).toContain('A3T');
    const page = sheetHtml(batch, made, { date: DATE, script: '' });
    expect(page.includes('<strong>Lost:</strong> A-101/3/top, W-303/2/side4.')).toBe(true);
    expect(page.includes('set it against A3B')).toBe(true);
  });
});

describe('the card', () => {
  it('holds every rail at one visit and on one stick, each with the length of its setting', () => {
    const words = new Words(batch);
    const data = cardData(sheetJob(batch, DEMO_PLAN), words, { batch: 'b', plan: 'p' }, null);
    const visited = data.settings.flatMap(({ visits, figures }) =>
      visits.flatMap(({ rails }) => rails.map((rail) => ({ rail, figures }))),
    );
    expect(visited.map(({ rail }) => data.rails[rail]![0])).toEqual(tagsInOrder(DEMO_PLAN));
    for (const { rail, figures } of visited) expect(figures).toContain(data.rails[rail]![1]);
    const onSticks = data.sticks.flatMap(({ parts }) => parts.flat());
    expect(onSticks.toSorted((a, b) => a - b)).toEqual(data.rails.map((_, i) => i));
  });
});

describe('labels', () => {
  it('are one a rail, one a stick and one an offcut to keep, each stick before its rails', () => {
    const labels = labelsOf(sheetJob(batch, DEMO_PLAN), new Words(batch));
    const of = (kind: string) => labels.filter((label) => label.kind === kind).map(({ mark }) => mark);
    expect(of('rail')).toEqual(tagsInOrder(DEMO_PLAN));
    const sticks = DEMO_PLAN.mouldings.flatMap((part) => part.sticks);
    expect(of('stick').toSorted()).toEqual(sticks.map(({ stick }) => stick).toSorted());
    expect(of('offcut').length).toBe(DEMO_PLAN.totals.handling?.offcuts);
    const seen = new Set<string>();
    for (const { kind, mark, lines } of labels) {
      if (kind === 'stick') seen.add(mark);
      if (kind === 'rail')
        expect([...seen].some((stick) => lines.some((line) => line.endsWith(stick)))).toBe(true);
    }
  });

  it('lie on any grid that fits, and are refused on one that does not', () => {
    expect(labelGrid({ labelSize: '63.5x38.1', labelGrid: '3x7' }, 'mm')).toMatchObject({
      columns: 3,
      rows: 7,
      roll: false,
      page: { width: 210, height: 297 },
      margin: { left: (210 - 3 * 63.5) / 2 },
    });
    expect(labelGrid({ labelSize: '54x25' }, 'in')).toMatchObject({
      roll: true,
      page: { width: 54, height: 25 },
    });
    expect(labelGrid({ labelGrid: '2x2' }, 'in').page).toEqual({ width: 215.9, height: 279.4 });
    for (const texts of [
      { labelSize: '63' },
      { labelSize: '5x5' },
      { labelGrid: '4x7' },
      { labelGrid: '2.5x7' },
      { labelGrid: '3x7', labelMargin: '30x10' },
      { labelGrid: '1x1', labelPage: 'B9' },
    ]) {
      expect(() => labelGrid(texts, 'mm')).toThrow(/--label-\w+: given .*allowed/);
    }
  });
});
