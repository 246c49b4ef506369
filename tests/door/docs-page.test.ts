/** The door's page to read, in a real browser: it fits screens and paper, and asks nothing of anywhere. */
import { afterAll, beforeAll, expect, it, vi } from 'vitest';
import { type Opened, TestBrowser } from '../tools/browser.js';
import { ask, closeDoor, type DoorSetting, openDoor } from '../tools/door.js';
import { printedPages } from '../tools/printed.js';

// A browser beside other tests on two cores takes its time.
vi.setConfig({ testTimeout: 180_000, hookTimeout: 120_000 });

const browser = new TestBrowser();
let setting: DoorSetting;
let opened: Opened;

beforeAll(async () => {
  setting = await openDoor();
  await browser.start();
  opened = await browser.open('docs.html', (await ask(setting.door, 'GET', '/docs')).text);
});
afterAll(async () => {
  await browser.stop();
  await closeDoor(setting);
});

/** Phones, a tablet, half a screen, a screen. */
it.each([320, 390, 800, 1024, 1600])('is no wider than a window of %i pixels', async (width) => {
  await opened.page.setViewportSize({ width, height: 900 });
  const beyond = await opened.page.evaluate(() => {
    const edge = document.documentElement.clientWidth;
    return [...document.querySelectorAll('body *')]
      .filter((one) => one.getBoundingClientRect().right > edge + 0.5)
      .map((one) => `${one.tagName} ${one.textContent.slice(0, 60)}`);
  });
  expect(beyond.slice(0, 3)).toEqual([]);
  // A path is broken between its steps, if at all: never so often that it stands upright.
  const upright = await opened.page.evaluate(() =>
    [...document.querySelectorAll('td:first-child > code')]
      .filter((one) => {
        const lines = new Set([...one.getClientRects()].map(({ top }) => Math.round(top))).size;
        return lines > 1 + (one.textContent.match(/[./-]/g) ?? []).length;
      })
      .map((one) => one.textContent),
  );
  expect(upright).toEqual([]);
  expect([opened.asked, opened.said]).toEqual([[], []]);
});

it.each(['A4', 'Letter'])('is printed on %s with nothing beyond the edge, examples too', async (format) => {
  const pages = await printedPages(await opened.page.pdf({ format }));
  expect(pages.length).toBeGreaterThan(10);
  for (const { width, words } of pages) {
    for (const { text, left, right } of words) {
      if (left < 20 || right > width - 20) throw new Error(`${text}: from ${left} to ${right} of ${width}`);
    }
  }
  // A long example is folded up on a screen; paper has nothing to press.
  const folded = await opened.page.locator('details pre').first().textContent();
  const line = folded?.split('\n').find((one) => one.length > 20) ?? 'nothing is folded';
  const flat = (text: string): string => text.replaceAll(/\s+/g, '');
  expect(flat(pages.map(({ text }) => text).join(''))).toContain(flat(line));
});
