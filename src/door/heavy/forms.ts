/** What came out of a batch, in the form that is wanted. */
import { checkBatch } from '../../documents/batch/read.js';
import type { Plan } from '../../documents/plan/types.js';
import type { Recut } from '../../documents/recut/types.js';
import type { WorkKind } from '../../processes/solver/tasks.js';
import type { Client } from '../../queue/client/client.js';
import { type LabelTexts, labelGrid } from '../../sheet/labels/grid.js';
import { labelsHtml } from '../../sheet/labels/page.js';
import { type ListKind, listsOf } from '../../sheet/lists/lists.js';
import { listCsv, listsJson } from '../../sheet/lists/write.js';
import { cardScript } from '../../sheet/script.js';
import { sheetHtml } from '../../sheet/sheet.js';
import { showComparison } from '../../show/comparison.js';
import { comparisonSvg } from '../../show/comparison-chart.js';
import { showPlan } from '../../show/plan.js';
import { showRecut } from '../../show/recut.js';
import type { Batch } from '../../terms.js';
import type { Form } from '../http/negotiate.js';

export interface ResultWanted {
  readonly work: WorkKind;
  readonly id: string;
  readonly partial: boolean;
  readonly form: Form;
  /** When it was made, milliseconds since 1970: the sheet bears the day. */
  readonly made: number;
}

/** Lists are CSV one at a time; the cutting list stands for the plan. */
const CUTTING: ListKind = 'cutting';

export function recutsPath(id: string): string {
  return `/v1/batches/${encodeURIComponent(id)}/recuts`;
}

async function sheetOf(batch: Batch, made: Plan | Recut, at: number, service: string): Promise<string> {
  const date = new Intl.DateTimeFormat('en-GB', { dateStyle: 'long' }).format(at);
  return sheetHtml(batch, made, { date, script: await cardScript(), service });
}

export async function resultIn(client: Client, wanted: ResultWanted): Promise<string> {
  const { work, id, partial, form, made } = wanted;
  if (work === 'compare') {
    const comparison = await client.comparison(id, { partial });
    if (form === 'svg') return comparisonSvg(comparison);
    return showComparison(checkBatch(await client.batch(id, { work })), comparison);
  }
  const plan = await client.result(id, { partial });
  const batch = checkBatch(await client.batch(id));
  if (form === 'html') return sheetOf(batch, plan, made, recutsPath(id));
  return form === 'csv' ? listCsv(listsOf(batch, plan)[CUTTING], batch.units) : showPlan(batch, plan);
}

export async function labelsOf(client: Client, id: string, texts: LabelTexts): Promise<string> {
  const plan = await client.result(id);
  const batch = checkBatch(await client.batch(id));
  return labelsHtml(batch, plan, labelGrid(texts, batch.units));
}

/** One list as CSV, or all as JSON. */
export async function listOf(client: Client, id: string, kind: ListKind | null): Promise<string> {
  const plan = await client.result(id);
  const batch = checkBatch(await client.batch(id));
  const lists = listsOf(batch, plan);
  return kind === null ? listsJson(batch.id, batch.units, lists) : listCsv(lists[kind], batch.units);
}

/** A recut that was kept, in the form that is wanted. */
export async function recutIn(
  client: Client,
  id: string,
  recut: Recut,
  { form, self, made }: { readonly form: Form; readonly self: string; readonly made: number },
): Promise<string> {
  const batch = checkBatch(await client.batch(id));
  return form === 'html' ? sheetOf(batch, recut, made, `${self}/recuts`) : showRecut(batch, recut);
}
