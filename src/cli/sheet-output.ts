/** The files a plan or recut is written to besides its page: sheet, labels, lists. Loaded only when asked for. */
import { mkdir } from 'node:fs/promises';
import { join } from 'node:path';
import type { Command } from 'commander';
import type { Plan } from '../documents/plan/types.js';
import type { Recut } from '../documents/recut/types.js';
import { PairstopError } from '../errors.js';
import type { LabelTexts } from '../sheet/labels/grid.js';
import type { ListKind } from '../sheet/lists/lists.js';
import type { Batch } from '../terms.js';
import { print, STANDARD, writeOutput } from './files.js';

export interface SheetOutput extends LabelTexts {
  readonly sheet?: string;
  readonly labels?: string;
  readonly lists?: string;
  readonly csv?: string;
}

/** Names of the batch's and the plan's file, for the line to type after a mishap. */
interface FileNames {
  readonly batch: string;
  readonly plan: string;
}

export function fileNames(batch: string | undefined, plan: string | undefined): FileNames {
  const named = (path: string | undefined, other: string): string =>
    path === undefined || path === STANDARD ? other : path;
  return { batch: named(batch, 'BATCH.json'), plan: named(plan, 'PLAN.json') };
}

const LIST_NAMES = 'buy, glass, sizes, rails, joining, cutting';

/** `before`: what the command needs for these options to make sense, as in `with --wait: `. */
export function addSheetOptions(command: Command, before = ''): Command {
  return command
    .option('--sheet <file>', `${before}write the sheet as HTML: paper to print, and the bench card`)
    .option(
      '--labels <file>',
      `${before}write labels as HTML, one a rail, stick and offcut, in cutting order`,
    )
    .option('--label-size <WxH>', 'size of a label in mm (63x38)')
    .option('--label-grid <CxR>', 'labels across and down a page; without it, a roll')
    .option('--label-margin <LxT>', 'left and top margin of the grid in mm (in the middle of the page)')
    .option('--label-gap <AxD>', 'gaps between labels across and down in mm (0x0)')
    .option('--label-page <page>', 'a4, letter, or its size in mm (a4; letter for inch batches)')
    .option('--lists <folder>', `${before}write all lists into a folder: each as CSV, all together as JSON`)
    .option('--csv <list>', `${before}print one list as CSV instead of the page: ${LIST_NAMES}`);
}

function listKind(given: string, kinds: readonly ListKind[]): ListKind {
  const found = kinds.find((kind) => kind === given);
  if (found !== undefined) return found;
  throw new PairstopError('PS_USAGE', `--csv: given ${JSON.stringify(given)}; allowed: ${kinds.join(', ')}`);
}

/** Refuses options that could not be written, before any work is done. Throws PS_USAGE. */
export async function checkSheetOutput(output: SheetOutput, batch?: Batch): Promise<void> {
  const { labelGrid } = await import('../sheet/labels/grid.js');
  const { LIST_KINDS } = await import('../sheet/lists/lists.js');
  if (output.csv !== undefined) listKind(output.csv, LIST_KINDS);
  labelGrid(output, batch?.units ?? 'mm');
  const standard = [output.sheet, output.labels].filter((path) => path === STANDARD);
  if (standard.length + (output.csv === undefined ? 0 : 1) > 1) {
    throw new PairstopError('PS_USAGE', 'only one of sheet, labels and CSV can go to standard output');
  }
}

function today(): string {
  return new Intl.DateTimeFormat('en-GB', { dateStyle: 'long' }).format(new Date());
}

async function writeSheet(path: string, batch: Batch, made: Plan | Recut, files: FileNames): Promise<void> {
  const { sheetHtml } = await import('../sheet/sheet.js');
  const { cardScript } = await import('../sheet/script.js');
  await writeOutput(path, sheetHtml(batch, made, { date: today(), script: await cardScript(), files }));
}

async function writeLists(folder: string, batch: Batch, made: Plan | Recut): Promise<void> {
  const { listsOf } = await import('../sheet/lists/lists.js');
  const { listCsv, listsJson } = await import('../sheet/lists/write.js');
  const lists = listsOf(batch, made);
  await mkdir(folder, { recursive: true });
  for (const list of Object.values(lists)) {
    await writeOutput(join(folder, `${list.kind}.csv`), listCsv(list, batch.units));
  }
  await writeOutput(join(folder, 'lists.json'), listsJson(batch.id, batch.units, lists));
}

/** Writes what was asked for. True: standard output is taken, so no page is printed there. */
export async function writeSheets(
  batch: Batch,
  made: Plan | Recut,
  output: SheetOutput,
  files: FileNames,
): Promise<boolean> {
  if (output.sheet !== undefined) await writeSheet(output.sheet, batch, made, files);
  if (output.labels !== undefined) {
    const { labelGrid } = await import('../sheet/labels/grid.js');
    const { labelsHtml } = await import('../sheet/labels/page.js');
    await writeOutput(output.labels, labelsHtml(batch, made, labelGrid(output, batch.units)));
  }
  if (output.lists !== undefined) await writeLists(output.lists, batch, made);
  if (output.csv !== undefined) {
    const { LIST_KINDS, listsOf } = await import('../sheet/lists/lists.js');
    const { listCsv } = await import('../sheet/lists/write.js');
    await print(listCsv(listsOf(batch, made)[listKind(output.csv, LIST_KINDS)], batch.units));
  }
  return output.csv !== undefined || [output.sheet, output.labels].includes(STANDARD);
}
