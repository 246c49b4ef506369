/**
 * How large the sheet of a large plan is, how long it takes to write, and how long a browser takes to open it.
 *
 *     npm run bench:sheet -- [--frames 60,1000] [--limit 20]
 *
 * Single frames of odd sizes, so that nothing repeats; Chromium without a screen, from opening the file to the card drawn,
 * the middle of five times. The promise is 3 MB and 2 s at 1,000 frames.
 */
import { parseArgs } from 'node:util';
import { checkPlan } from '../src/check/check.js';
import { reportText } from '../src/check/report.js';
import { checkBatch } from '../src/documents/batch/read.js';
import { labelGrid } from '../src/sheet/labels/grid.js';
import { labelsHtml } from '../src/sheet/labels/page.js';
import { cardScript } from '../src/sheet/script.js';
import { sheetHtml } from '../src/sheet/sheet.js';
import { TestBrowser } from '../tests/tools/browser.js';
import { frameBatch } from './tools/batches.js';
import { percentile, rounded, table } from './tools/figures.js';
import { plan } from './tools/planning.js';

const TIMES = 5;
const MB = 1e6;

const { values } = parseArgs({
  options: { frames: { type: 'string', default: '60,1000' }, limit: { type: 'string', default: '20' } },
});

function timed<T>(work: () => T): { readonly made: T; readonly ms: number } {
  const began = performance.now();
  const made = work();
  return { made, ms: performance.now() - began };
}

const browser = new TestBrowser();
await browser.start();
const script = await cardScript();
const rows: (string | number)[][] = [];
for (const frames of values.frames.split(',').map(Number)) {
  const batch = checkBatch(
    frameBatch('sheet', {
      frames,
      mouldings: 3,
      offers: [8, 10, 12],
      sizes: 'odd',
      timeLimit: Number(values.limit),
    }),
  );
  const { plan: made } = await plan(batch, 'here');
  const report = checkPlan(batch, made);
  if (!report.ok) throw new Error(reportText(report));
  const sheet = timed(() => sheetHtml(batch, made, { date: 'today', script }));
  const labels = timed(() => labelsHtml(batch, made, labelGrid({ labelGrid: '3x6' }, batch.units)));
  const opened: number[] = [];
  for (let time = 0; time < TIMES; time++) {
    const began = performance.now();
    const { page } = await browser.open(`sheet-${frames}.html`, sheet.made);
    await page.locator('h2.figure').waitFor();
    opened.push(performance.now() - began);
    await page.close();
  }
  rows.push([
    frames,
    made.totals.sticks,
    rounded(Buffer.byteLength(sheet.made) / MB, 2),
    Math.round(sheet.ms),
    Math.round(percentile(opened, 0.5)),
    rounded(Buffer.byteLength(labels.made) / MB, 2),
    Math.round(labels.ms),
  ]);
}
await browser.stop();
process.stdout.write(
  `${table(['frames', 'sticks', 'sheet MB', 'written ms', 'opened ms', 'labels MB', 'written ms'], rows)}\n`,
);
