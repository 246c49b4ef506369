/** The sheet, the card and the labels in a real browser: on paper, on a tablet, and under attack. */

import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import type { AxeResults, RunOptions } from 'axe-core';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import type { Plan } from '../../src/documents/plan/types.js';
import { tagsOf } from '../../src/rails/tags.js';
import { recut } from '../../src/recut/recut.js';
import { readTold, toldAs } from '../../src/recut/told-lines.js';
import { labelGrid } from '../../src/sheet/labels/grid.js';
import { labelsHtml } from '../../src/sheet/labels/page.js';
import { cardScript } from '../../src/sheet/script.js';
import { sheetHtml } from '../../src/sheet/sheet.js';
import { engine, now, planned } from '../plan/kit.js';
import { TestBrowser } from '../tools/browser.js';
import { type PrintedPage, printedPages } from '../tools/printed.js';
import { DATE, DEMO_BATCH, HOSTILE, hostileBatch, hostilePlan } from './kit.js';

// A browser beside other tests on two cores takes its time.
vi.setConfig({ testTimeout: 180_000, hookTimeout: 120_000 });

const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const batch = checkBatch(DEMO_BATCH);
const tags = tagsOf(batch);
const TAG = /[A-Z]+\d+(?:[TRBL]|-\d+)(?!\w)/g;
const browser = new TestBrowser();
let script = '';
let plan: Plan;

beforeAll(async () => {
  script = await cardScript();
  plan = await planned(DEMO_BATCH);
  await browser.start();
});
afterAll(() => browser.stop());

async function violations(page: Page): Promise<readonly string[]> {
  await page.evaluate(AXE);
  const results = await page.evaluate(async () => {
    const { axe } = globalThis as unknown as { axe: { run: (options?: RunOptions) => Promise<AxeResults> } };
    return (await axe.run()).violations.map(({ id, nodes }) => ({
      id,
      where: nodes.map(({ html }) => html),
    }));
  });
  return results.map(({ id, where }) => `${id}: ${where.slice(0, 2).join(' ').slice(0, 300)}`);
}

interface Drawn {
  readonly stick: string;
  readonly width: number;
  readonly rails: readonly { readonly tag: string; readonly left: number; readonly width: number }[];
}

/** Where the browser put every rail, in pixels from its stick's left end. */
async function drawnSticks(page: Page): Promise<readonly Drawn[]> {
  await page.getByRole('button', { name: 'Paper sheet' }).click();
  return page.evaluate(() =>
    [...document.querySelectorAll<HTMLElement>('[data-stick]')].map((row) => {
      const whole = row.querySelector('.o')!.getBoundingClientRect();
      return {
        stick: row.dataset.stick ?? '',
        width: whole.width,
        rails: [...row.querySelectorAll<SVGElement>('[data-rail]')].map((rail) => {
          const box = rail.querySelector('path')!.getBoundingClientRect();
          return { tag: rail.dataset.rail ?? '', left: box.left - whole.left, width: box.width };
        }),
      };
    }),
  );
}

describe('the paper sheet', () => {
  it('has every rail once, beside its stick, drawn to scale within a pixel', async () => {
    const { page, asked, said } = await browser.open(
      'sheet.html',
      sheetHtml(batch, plan, { date: DATE, script }),
    );
    const drawn = await drawnSticks(page);
    const all = drawn.flatMap(({ rails }) => rails.map(({ tag }) => tag));
    expect(new Set(all).size).toBe(all.length);
    for (const { sticks } of plan.mouldings) {
      const longest = Math.max(...sticks.map(({ length }) => length));
      const scales = new Set<number>();
      for (const { stick, rails, length } of sticks) {
        const found = drawn.find((one) => one.stick === stick)!;
        const inOrder = rails.toSorted((a, b) => a.start - b.start);
        expect(found.rails.map(({ tag }) => tag)).toEqual(
          inOrder.map(({ frame, side }) => tags.rail(frame, side)),
        );
        const scale = found.width / length;
        scales.add(Math.round(scale * longest));
        inOrder.forEach((rail, i) => {
          expect(Math.abs(found.rails[i]!.left - rail.start * scale)).toBeLessThan(1);
          expect(Math.abs(found.rails[i]!.width - rail.length * scale)).toBeLessThan(1);
        });
      }
      // One scale for all sticks of a moulding.
      expect(scales.size).toBe(1);
    }
    expect(await violations(page)).toEqual([]);
    expect([asked, said]).toEqual([[], []]);
    await page.close();
  });

  it.each(['A4', 'Letter'] as const)(
    'prints on %s: every cut, cautions on each page of them, nothing clipped',
    async (format) => {
      const { page } = await browser.open('print.html', sheetHtml(batch, plan, { date: DATE, script }));
      const pages = await printedPages(
        await page.pdf({ format, preferCSSPageSize: true, printBackground: true }),
      );
      await page.close();
      const texts = pages.map(({ text }) => text);
      texts.forEach((text, i) => {
        expect(text).toContain(`page ${i + 1} of ${pages.length}`);
        expect(text).toContain('26 November 2026');
      });
      const rails = plan.mouldings.flatMap(({ sticks }) => sticks.flatMap((stick) => stick.rails));
      // After the first page: once at its setting, once on its stick, once in the joining list.
      const counts = new Map<string, number>();
      for (const word of pages
        .slice(1)
        .flatMap(({ words }) => words.flatMap(({ text }) => text.match(TAG) ?? []))) {
        counts.set(word, (counts.get(word) ?? 0) + 1);
      }
      for (const { tag } of rails) expect([tag, counts.get(tag!)]).toEqual([tag, 3]);
      const cutting = pages.filter(({ text }) => /[ABC] · (ash|poplar|walnut)/.test(text));
      expect(cutting.length).toBeGreaterThan(3);
      for (const { text } of cutting) {
        expect(text.replaceAll(/\s+/g, ' ')).toContain('Unplug the saw while you set it up');
        expect(text.replaceAll(/\s+/g, ' ')).toContain('Wear eye, ear and dust protection.');
      }
      for (const { words, width, height } of pages as readonly PrintedPage[]) {
        for (const { text, left, right, top, bottom } of words) {
          expect([text, left >= 0, right <= width, top >= 0, bottom <= height]).toEqual([
            text,
            true,
            true,
            true,
            true,
          ]);
        }
      }
    },
  );

  it('breaks no word of its tables in two, as wide as lengths in millimetres are', async () => {
    const landing: BatchDocument = {
      schema: 'pairstop/batch@1',
      id: 'ferry-landing',
      units: 'mm',
      saw: { kerf: 3.2, recut: 1, stopStep: 0.5 },
      mouldings: [{ id: 'linden-flat', face: 25.5, rabbet: 6, endTrim: 5 }],
      frames: [
        {
          id: 'L-1',
          moulding: 'linden-flat',
          width: 1_200,
          height: 900,
          measuredBy: 'sight',
          match: 'frame',
        },
        { id: 'L-2', moulding: 'linden-flat', sides: 6, side: 178.3, quantity: 12, measuredBy: 'rabbet' },
      ],
      offers: [{ id: 'lin-48', moulding: 'linden-flat', length: 4_800, price: 14.2, supplier: 'lakeside' }],
      suppliers: [{ id: 'lakeside' }],
    };
    const html = sheetHtml(checkBatch(landing), await planned(landing), { date: DATE, script });
    const { page } = await browser.open('tables.html', html);
    await page.emulateMedia({ media: 'print' });
    // 190 mm, the width between the margins of A4.
    await page.setViewportSize({ width: 718, height: 900 });
    const { broken, most } = await page.evaluate(() => {
      const cells = [...document.querySelectorAll('table.list th, table.list td')];
      const lines = cells.map((cell) => {
        const range = document.createRange();
        range.selectNodeContents(cell);
        const tops = new Set([...range.getClientRects()].map(({ top }) => Math.round(top)));
        return { text: cell.textContent, lines: tops.size, words: cell.textContent.split(/[\s-]+/).length };
      });
      const wide = [...document.querySelectorAll('table.list')].map((table) => table.scrollWidth);
      return { broken: lines.filter((cell) => cell.lines > cell.words), most: Math.max(...wide) };
    });
    expect(broken).toEqual([]);
    expect(most).toBeLessThanOrEqual(718);
    await page.emulateMedia({ media: 'screen' });
    // A tablet upright, and a phone: two stops and an angle beside them are the widest there is.
    const figures: string[] = [];
    const figure = page.locator('h2.figure');
    while ((await figure.count()) > 0) {
      for (const width of [820, 390]) {
        await page.setViewportSize({ width, height: 844 });
        expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBe(width);
      }
      const text = ((await figure.textContent()) ?? '').replaceAll(/\s/g, ' ');
      if (text !== figures.at(-1)) figures.push(text);
      await walk(page, 1);
    }
    // 1200 + 2 × 25.5 and 900 + 2 × 25.5; 178.3 + 2 × (25.5 − 6) × tan 30°, up to the next half.
    expect(figures).toEqual(['1251 mm and 951 mm saw at 45°', '201 mm saw at 30°']);
    await page.close();
  });
});

/** Walks on from where the card stands, `most` taps at the most. */
async function walk(page: Page, most: number): Promise<number> {
  for (let taps = 0; taps < most; taps++) {
    const here = page.locator('.visit.here');
    if ((await here.count()) > 0) await here.first().click();
    else if (await page.locator('button.go').count()) await page.locator('.bar button.go').click();
    else return taps;
  }
  return most;
}

/** The same without a mouse: hundreds of taps take seconds. */
async function walkToTheEnd(page: Page): Promise<void> {
  await page.evaluate(async () => {
    const next = (): HTMLElement | null =>
      document.querySelector<HTMLElement>('.visit.here') ??
      document.querySelector<HTMLElement>('.bar button.go');
    for (let taps = 0, target = next(); target !== null && taps < 400; taps++, target = next()) {
      target.click();
      await new Promise((resolve) => setTimeout(resolve, 0));
    }
  });
}

async function cutCount(page: Page): Promise<number> {
  return Number(await page.locator('.progress b').textContent());
}

describe('the bench card', () => {
  it('is walked from the first tick to the last, reloaded in the middle, and taken back', async () => {
    const { page, asked, said } = await browser.open(
      'card.html',
      sheetHtml(batch, plan, { date: DATE, script }),
    );
    const rails = plan.mouldings.flatMap(({ sticks }) => sticks.flatMap((stick) => stick.rails)).length;
    await expect.poll(() => cutCount(page)).toBe(0);
    expect(await page.locator('h2.figure').textContent()).toMatch(/^26\s1\/8"$/);
    expect(await violations(page)).toEqual([]);
    await walk(page, 60);
    const cut = await cutCount(page);
    expect(cut).toBeGreaterThan(40);
    const figure = await page.locator('h2.figure').textContent();
    await page.reload();
    expect(await cutCount(page)).toBe(cut);
    expect(await page.locator('h2.figure').textContent()).toBe(figure);
    await page.locator('.visit.here').first().click();
    const after = await cutCount(page);
    await page.getByRole('button', { name: 'Undo' }).click();
    expect(await cutCount(page)).toBeLessThanOrEqual(after);
    await walkToTheEnd(page);
    expect(await page.locator('.now h2').textContent()).toBe('All is cut');
    expect(await cutCount(page)).toBe(rails);
    expect([asked, said]).toEqual([[], []]);
    await page.close();
  });

  it('takes a spoiled rail and a flawed stick, and what it then says is what recut understands', async () => {
    const { page } = await browser.open('spoil.html', sheetHtml(batch, plan, { date: DATE, script }));
    await page.evaluate(() => localStorage.clear());
    await page.reload();
    await walk(page, 8);
    await page.getByRole('button', { name: 'Rail spoiled' }).click();
    expect(await violations(page)).toEqual([]);
    const spoiled = (await page.locator('.choices b').first().textContent()) ?? '';
    await page.locator('.choices button').first().click();
    await page.getByRole('button', { name: 'Stick flawed' }).click();
    await page.locator('.choices button').last().click();
    const open = page.locator('.choices button:not([disabled])');
    const flawed = (await open.first().locator('b').textContent()) ?? '';
    await open.first().click();
    await page.locator('dialog .go').click();
    const line = (await page.locator('pre').textContent()) ?? '';
    const [, flaw = ''] = /--flaw '([^']+)' /.exec(line) ?? [];
    expect(line).toContain(`--lost ${spoiled} --flaw '`);
    expect(await page.locator('.lost').textContent()).toContain(`Flawed wood under ${flawed}`);
    const download = page.waitForEvent('download');
    await page.getByRole('button', { name: 'Save cut-so-far.json' }).click();
    const told = readTold(readFileSync(await (await download).path(), 'utf8'));
    const given = { batch, plan, lost: [spoiled], told, flaws: toldAs('--flaw', [flaw]) };
    const made = recut(given, engine(), {
      now,
      deadline: now() + 10_000,
      seed: 1,
    });
    // What lay in the flaw is cut elsewhere on the stick, or from another.
    expect([made.lost.length, made.totals.replaced]).toEqual([1, 1]);
    const moved = made.mouldings.flatMap(({ sticks }) => sticks).filter(({ flaws = [] }) => flaws.length > 0);
    expect(moved.length).toBe(1);
    const cut = made.totals.cut + made.totals.lost;
    expect(cut).toBe(await cutCount(page));
    await page.close();
  });

  it('is worked by keys alone', async () => {
    const { page } = await browser.open('keys.html', sheetHtml(batch, plan, { date: DATE, script }));
    await page.evaluate(() => localStorage.clear());
    await page.reload();
    await page.locator('.visit.here').focus();
    await page.keyboard.press('Enter');
    await page.keyboard.press('Tab');
    await page.keyboard.press('Space');
    expect(await cutCount(page)).toBe(2);
    await page.close();
  });

  it('asks the service that served it, and shows what it says', async () => {
    const html = sheetHtml(batch, plan, { date: DATE, script, service: '/v1/recuts' });
    expect(html).toContain("connect-src 'self'");
    const { page } = await browser.open('service.html', html);
    await page.evaluate(() => localStorage.clear());
    await page.reload();
    await page.getByRole('button', { name: 'Rail spoiled' }).click();
    await page.locator('.choices button').first().click();
    expect(await page.getByRole('button', { name: 'Plan the lost rails again' }).count()).toBe(1);
    expect(await page.locator('pre').count()).toBe(0);
    await page.close();
  });
});

describe('labels', () => {
  it('are of the size given, and none of their text is clipped', async () => {
    const grid = labelGrid({ labelSize: '63.5x38.1', labelGrid: '3x7', labelPage: 'a4' }, 'mm');
    const { page, asked, said } = await browser.open('labels.html', labelsHtml(batch, plan, grid));
    const boxes = await page.evaluate(() =>
      [...document.querySelectorAll<HTMLElement>('.label')].map((label) => ({
        width: label.getBoundingClientRect().width,
        height: label.getBoundingClientRect().height,
        clipped: label.scrollWidth > label.clientWidth + 1 || label.scrollHeight > label.clientHeight + 1,
        mark: label.dataset.label,
      })),
    );
    const mm = 96 / 25.4;
    expect(boxes.filter(({ clipped }) => clipped)).toEqual([]);
    for (const { width, height } of boxes) {
      expect(Math.abs(width - 63.5 * mm)).toBeLessThan(0.5);
      expect(Math.abs(height - 38.1 * mm)).toBeLessThan(0.5);
    }
    expect(await violations(page)).toEqual([]);
    expect([asked, said]).toEqual([[], []]);
    const pages = await printedPages(await page.pdf({ preferCSSPageSize: true }));
    expect(pages.length).toBe(Math.ceil(boxes.length / 21));
    expect(Math.round(pages[0]!.width)).toBe(Math.round((210 / 25.4) * 72));
    await page.close();
  });
});

describe('two hundred hostile ids', () => {
  it('inject nothing into the sheet, the card or the labels, and are read as they are', async () => {
    const hostile = checkBatch(hostileBatch());
    const made = await hostilePlan();
    expect(HOSTILE.length).toBe(200);
    const sheet = await browser.open('hostile.html', sheetHtml(hostile, made, { date: DATE, script }));
    const labels = await browser.open('hostile-labels.html', labelsHtml(hostile, made, labelGrid({}, 'mm')));
    for (const { page, asked, said } of [sheet, labels]) {
      const found = await page.evaluate(() => ({
        hacked: Reflect.get(globalThis, 'hacked') ?? null,
        foreign: document.querySelectorAll('img, iframe, object, embed, base, form, link[rel=stylesheet]')
          .length,
        handlers: [...document.querySelectorAll('*')].flatMap((element) =>
          element
            .getAttributeNames()
            .filter((name) => name.startsWith('on') || name === 'style' || name === 'srcdoc'),
        ),
        scripts: document.querySelectorAll('script').length,
        body: getComputedStyle(document.body).display,
      }));
      expect(found).toEqual({
        hacked: null,
        foreign: 0,
        handlers: [],
        scripts: page === sheet.page ? 3 : 0,
        body: 'block',
      });
      expect([asked, said]).toEqual([[], []]);
    }
    const text = await sheet.page.evaluate(() => document.getElementById('sheet')?.textContent ?? '');
    for (const { id } of hostile.frames) expect(text).toContain(id);
    // The card too: walked a way, with a rail spoiled.
    await walk(sheet.page, 12);
    await sheet.page.getByRole('button', { name: 'Rail spoiled' }).click();
    await sheet.page.locator('.choices button').first().click();
    expect(await sheet.page.evaluate(() => Reflect.get(globalThis, 'hacked') ?? null)).toBe(null);
    expect(sheet.said).toEqual([]);
    const clipped = await labels.page.evaluate(
      () =>
        [...document.querySelectorAll('.label')].filter(
          (label) => label.scrollWidth > label.clientWidth + 1 || label.scrollHeight > label.clientHeight + 1,
        ).length,
    );
    expect(clipped).toBe(0);
    await sheet.page.close();
    await labels.page.close();
  });
});
