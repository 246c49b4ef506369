/** Labels as a page to print at full size: sheets of any grid, or a roll. One file; it asks nobody for anything. */
import type { JSX } from 'preact';
import { renderToString } from 'preact-render-to-string';
import { encode } from 'uqr';
import type { Plan } from '../../documents/plan/types.js';
import type { Recut } from '../../documents/recut/types.js';
import type { Batch } from '../../terms.js';
import { Words } from '../../words/words.js';
import { digestSource } from '../digest.js';
import { sheetJob } from '../job.js';
import type { LabelGrid } from './grid.js';
import { labelsOf, type SheetLabel } from './labels.js';

/** A quiet zone of four modules, as ISO/IEC 18004 asks for. */
const QUIET = 4;

/** Each row of dark modules as rectangles. */
function codePath(text: string): { readonly path: string; readonly size: number } {
  const { data, size } = encode(text, { ecc: 'M', border: QUIET });
  const parts: string[] = [];
  data.forEach((row, y) => {
    for (let x = 0; x < row.length; ) {
      let end = x;
      while (row[end] === true) end += 1;
      if (end > x) parts.push(`M${x} ${y}h${end - x}v1h${x - end}z`);
      x = Math.max(end, x + 1);
    }
  });
  return { path: parts.join(''), size };
}

function Code({ text }: { readonly text: string }): JSX.Element {
  const { path, size } = codePath(text);
  return (
    <svg class="code" viewBox={`0 0 ${size} ${size}`} role="img" aria-label={`Code: ${text}`}>
      <rect width={size} height={size} fill="#fff" />
      <path d={path} />
    </svg>
  );
}

/** Steps of size, as parts of the largest, and how many millimetres a letter of it may take. */
const STEPS = [1, 0.8, 0.64, 0.5, 0.4, 0.32, 0.25, 0.2] as const;
const LETTER = 0.74;
const LEADING = 1.15;

/** Lines that `text` takes at a size. */
function linesOf(text: string, width: number, size: number): number {
  return Math.max(1, Math.ceil((text.length * size * LETTER) / width));
}

/** The largest step at which `fits`; the smallest where none does. */
function step(fits: (share: number) => boolean): number {
  const found = STEPS.findIndex(fits);
  return found < 0 ? STEPS.length - 1 : found;
}

interface Sizes {
  readonly mark: number;
  readonly line: number;
  readonly pad: number;
}

function sizesOf({ width, height }: LabelGrid): Sizes {
  const pad = Math.min(3, width * 0.05, height * 0.08);
  return { mark: Math.min(height * 0.3, width * 0.2), line: Math.min(height * 0.115, 4.6), pad };
}

function LabelBox({ label, grid }: { readonly label: SheetLabel; readonly grid: LabelGrid }): JSX.Element {
  const { mark, line, pad } = sizesOf(grid);
  const code = label.code === null ? 0 : Math.min(grid.height * 0.6, grid.width * 0.4);
  const room = grid.width - 2 * pad - code - 2;
  const markStep = step((share) => linesOf(label.mark, room, mark * share) <= (share > 0.5 ? 1 : 3));
  const markSize = mark * STEPS[markStep]!;
  const rest = grid.height - 2 * pad - linesOf(label.mark, room, markSize) * markSize * LEADING;
  const lineStep = step((share) => {
    const lines = label.lines.reduce((sum, text) => sum + linesOf(text, room, line * share), 0);
    return lines * line * share * LEADING <= rest;
  });
  return (
    <div class={`label ${label.kind}`} data-label={label.mark}>
      <div class="text">
        <div class={`m m${markStep}`}>{label.mark}</div>
        {label.lines.map((text, i) => (
          <div key={text} class={`l${lineStep}${i === 0 ? ' first' : ''}`}>
            {text}
          </div>
        ))}
      </div>
      {label.code !== null && <Code text={label.code} />}
    </div>
  );
}

function styleOf(grid: LabelGrid): string {
  const { mark, line, pad } = sizesOf(grid);
  const { page, margin, gap, columns, width, height } = grid;
  const codeSize = Math.min(height * 0.6, width * 0.4);
  const steps = STEPS.map(
    (share, i) =>
      `.m${i}{font-size:${(mark * share).toFixed(2)}mm}.l${i}{font-size:${(line * share).toFixed(2)}mm}`,
  ).join('\n');
  return `
*{box-sizing:border-box}
html{color:#000;background:#fff;font-family:system-ui,"Segoe UI",Roboto,"Helvetica Neue","DejaVu Sans",Arial,sans-serif}
body{margin:0}
@page{size:${page.width}mm ${page.height}mm;margin:0}
.page{width:${page.width}mm;height:${page.height}mm;padding:${margin.top}mm 0 0 ${margin.left}mm;overflow:hidden;break-after:page;display:grid;align-content:start;justify-content:start;grid-template-columns:repeat(${columns},${width}mm);grid-auto-rows:${height}mm;gap:${gap.down}mm ${gap.across}mm}
.page:last-child{break-after:auto}
.label{padding:${pad}mm;display:flex;gap:1mm;min-width:0;overflow:hidden}
.text{flex:1;min-width:0;word-break:break-all;line-height:${LEADING}}
h1{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%);margin:0}
.m{font-weight:700;font-variant-numeric:tabular-nums}
.first{font-weight:700}
.stick{border-left:1.2mm solid #000}
.offcut{border-left:1.2mm dashed #000}
.code{width:${codeSize}mm;height:${codeSize}mm;flex:none;align-self:center}
${steps}
@media screen{.page{outline:1px solid #999;margin:4mm auto}.label{outline:1px dotted #999}}
`;
}

/** UTF-8 text of an HTML page. Pure. */
export function labelsHtml(batch: Batch, made: Plan | Recut, grid: LabelGrid): string {
  const labels = labelsOf(sheetJob(batch, made), new Words(batch));
  const perPage = grid.columns * grid.rows;
  const pages = Array.from({ length: Math.ceil(labels.length / perPage) }, (_, i) =>
    labels.slice(i * perPage, (i + 1) * perPage),
  );
  const style = styleOf(grid);
  const policy = `default-src 'none'; style-src ${digestSource(style)}; img-src data:; base-uri 'none'; form-action 'none'`;
  const head = renderToString(
    <>
      <meta charset="utf-8" />
      <meta http-equiv="Content-Security-Policy" content={policy} />
      <meta name="viewport" content="width=device-width, initial-scale=1" />
      <title>{`${batch.id}: labels`}</title>
      <link rel="icon" href="data:," />
    </>,
  );
  const body = renderToString(
    <main>
      <h1>Labels of {batch.id}</h1>
      {pages.map((page) => (
        <div class="page" key={page[0]?.mark}>
          {page.map((label) => (
            <LabelBox
              key={`${label.kind} ${label.mark} ${label.lines.join(' ')}`}
              label={label}
              grid={grid}
            />
          ))}
        </div>
      ))}
    </main>,
  );
  return `<!doctype html>
<html lang="en"><head>${head}<style>${style}</style></head>
<body>${body}</body></html>
`;
}
