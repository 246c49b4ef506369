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
import { showBatchPart } from '../../show/pooled.js';
import { showRecut } from '../../show/recut.js';
import type { Batch } from '../../terms.js';
import type { Form } from '../http/negotiate.js';
import { asRevision, type RevisionWanted, recutsPath } from '../revision.js';
import { batchOfPlan } from './plan-batch.js';

export interface ResultWanted extends RevisionWanted {
  readonly work: WorkKind;
  readonly partial: boolean;
  readonly form: Form;
  /** When it was made, milliseconds since 1970: the sheet bears the day. */
  readonly made: number;
}

/** Lists are CSV one at a time; the cutting list stands for the plan. */
const CUTTING: ListKind = 'cutting';

async function sheetOf(batch: Batch, made: Plan | Recut, at: number, service: string): Promise<string> {
  const date = new Intl.DateTimeFormat('en-GB', { dateStyle: 'long' }).format(at);
  return sheetHtml(batch, made, { date, script: await cardScript(), service });
}

export async function resultIn(client: Client, wanted: ResultWanted): Promise<string> {
  const { work, id, partial, form, made } = wanted;
  const which = asRevision(wanted);
  if (work === 'compare') {
    const comparison = await client.comparison(id, { partial, ...which });
    if (form === 'svg') return comparisonSvg(comparison);
    return showComparison(checkBatch(await client.batch(id, { work, ...which })), comparison);
  }
  const plan = await client.result(id, { partial, ...which });
  const batch = await batchOfPlan(client, wanted, plan);
  // A batch of a night has its own page; all else is of the whole night, which is cut as one.
  const own = plan.batch === id;
  if (form === 'html')
    return sheetOf(batch, plan, made, recutsPath(own ? wanted : { id: plan.batch, revision: undefined }));
  if (form === 'csv') return listCsv(listsOf(batch, plan)[CUTTING], batch.units);
  return own ? showPlan(batch, plan) : showBatchPart(batch, plan, id);
}

export async function labelsOf(client: Client, wanted: RevisionWanted, texts: LabelTexts): Promise<string> {
  const plan = await client.result(wanted.id, asRevision(wanted));
  const batch = await batchOfPlan(client, wanted, plan);
  return labelsHtml(batch, plan, labelGrid(texts, batch.units));
}

/** One list as CSV, or all as JSON. */
export async function listOf(client: Client, wanted: RevisionWanted, kind: ListKind | null): Promise<string> {
  const plan = await client.result(wanted.id, asRevision(wanted));
  const batch = await batchOfPlan(client, wanted, plan);
  const lists = listsOf(batch, plan);
  return kind === null ? listsJson(batch.id, batch.units, lists) : listCsv(lists[kind], batch.units);
}

/** A recut that was kept, in the form that is wanted. */
export async function recutIn(
  client: Client,
  recut: Recut,
  {
    form,
    next,
    made,
    ...wanted
  }: RevisionWanted & { readonly form: Form; readonly next: string; readonly made: number },
): Promise<string> {
  const batch = checkBatch(await client.batch(wanted.id, asRevision(wanted)));
  return form === 'html' ? sheetOf(batch, recut, made, next) : showRecut(batch, recut);
}
