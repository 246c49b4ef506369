/** What is worked out from the documents in a request alone, without the queue. */

import type { z } from 'zod';
import { checkPlan } from '../../check/check.js';
import { checkRecut } from '../../check/recut/recut.js';
import { type CheckReport, reportText } from '../../check/report.js';
import { checkBatch } from '../../documents/batch/read.js';
import { checkComparisonDocument } from '../../documents/comparison/read.js';
import { checkPlanDocument } from '../../documents/plan/read.js';
import type { Plan } from '../../documents/plan/types.js';
import { checkRecutDocument } from '../../documents/recut/read.js';
import type { Recut } from '../../documents/recut/types.js';
import { supplyUm } from '../../lengths/exact.js';
import { parseLength } from '../../lengths/parse.js';
import { mmFromUm } from '../../lengths/units.js';
import { checkComparison } from '../../processes/check-comparison.js';
import { recutBatch } from '../../processes/recut-batch.js';
import type { Client } from '../../queue/client/client.js';
import { withPlanRack } from '../../rack/shop-pieces.js';
import { railsOf } from '../../rails/rails.js';
import { parseJson } from '../../read/json.js';
import { PLAN_BYTES, PLAN_VALUES } from '../../read/limits.js';
import { type Told, toldAs } from '../../recut/told-lines.js';
import { sawCheck } from '../../saw/saw.js';
import { showRecut } from '../../show/recut.js';
import { showSawCheck } from '../../show/saw.js';
import type { Batch } from '../../terms.js';
import type { Form } from '../http/negotiate.js';
import { refuseRequest } from '../http/problem.js';
import { bodyIn } from '../http/read-body.js';
import { checkBody, railsBody, recutBody, recutOfBody, sawBody } from '../openapi/bodies.js';
import { keptRecut } from '../recuts.js';
import { asRevision, type RevisionWanted } from '../revision.js';
import { batchOfPlan } from './plan-batch.js';

/** Common practice, no source: a joint open by less is filled by glue and finish. */
const GAP = '1/64 in';
/** Whoever asks waits for the answer, at the saw; a batch may allow its plan a whole night. */
const SEARCH_SECONDS = 60;

/** The batch, with no more time than a caller waits. */
function inTime(batch: Batch): Batch {
  const timeLimit = Math.min(batch.options.timeLimit, SEARCH_SECONDS);
  return { ...batch, options: { ...batch.options, timeLimit } };
}

async function reportOn({
  batch,
  plan,
  recut,
  comparison,
}: z.output<typeof checkBody>): Promise<CheckReport> {
  const read = checkBatch(batch);
  if (comparison !== undefined) {
    // Its purchases are shown to make the order by plans, which take a search.
    if (plan === undefined && recut === undefined)
      return checkComparison(inTime(read), checkComparisonDocument(comparison));
    throw refuseRequest('body', 'a comparison and another document', 'one of plan, recut and comparison');
  }
  if (recut === undefined) return checkPlan(read, checkPlanDocument(plan));
  return checkRecut(read, checkRecutDocument(recut), plan === undefined ? undefined : workOf(plan));
}

export async function checked(bytes: Uint8Array, form: Form): Promise<string> {
  const body = bodyIn(checkBody, bytes);
  const report = await reportOn(body);
  if (form === 'json') return JSON.stringify(report);
  const schema = body.comparison === undefined ? 'pairstop/plan@1' : 'pairstop/comparison@1';
  return `${reportText(report, schema)}\n`;
}

export function sawChecked(bytes: Uint8Array, form: Form): string {
  const { batch: document, gap = GAP, angles = [] } = bodyIn(sawBody, bytes);
  const batch = checkBatch(document);
  const made = sawCheck(batch, { gap: supplyUm(parseLength(gap, batch.units)), angles });
  return form === 'text' ? showSawCheck(batch, made) : JSON.stringify(made);
}

export function railLengths(bytes: Uint8Array): string {
  const batch = checkBatch(bodyIn(railsBody, bytes).batch);
  const mouldings = new Map(batch.mouldings.map((moulding) => [moulding.id, moulding]));
  const frames = batch.frames.map((line, index) => ({
    frame: line.id,
    moulding: line.moulding,
    quantity: line.quantity,
    rails: railsOf(batch, index, mouldings.get(line.moulding)!).map(({ sides, setting, angle }) => ({
      sides,
      length: mmFromUm(setting),
      angle,
    })),
  }));
  return JSON.stringify({ batch: batch.id, units: batch.units, lengths: 'mm', frames });
}

function workOf(document: unknown): Plan | Recut {
  const schema: unknown =
    typeof document === 'object' && document !== null ? Reflect.get(document, 'schema') : undefined;
  return schema === 'pairstop/recut@1' ? checkRecutDocument(document) : checkPlanDocument(document);
}

function mishapOf({ lost = [], cutSoFar, flaws = [], reuse = [] }: z.output<typeof recutOfBody>) {
  const told: readonly Told[] | null = cutSoFar?.map((text, i) => ({ path: `cutSoFar[${i}]`, text })) ?? null;
  return { lost, told, flaws: toldAs('flaws', flaws), reuse: toldAs('reuse', reuse) };
}

async function recutFor(
  batch: Batch,
  plan: Plan | Recut,
  body: z.output<typeof recutOfBody>,
  form: Form,
): Promise<string> {
  const made = await recutBatch({ batch: inTime(batch), plan, ...mishapOf(body) });
  return form === 'text' ? showRecut(batch, made) : JSON.stringify(made);
}

export function recutMade(bytes: Uint8Array, form: Form): Promise<string> {
  const { batch, plan, ...rest } = bodyIn(recutBody, bytes);
  return recutFor(checkBatch(batch), workOf(plan), rest, form);
}

/** As the door kept it. */
export function storedRecut(bytes: Uint8Array): Recut {
  return checkRecutDocument(parseJson(bytes, { bytes: PLAN_BYTES, values: PLAN_VALUES }));
}

interface RecutOfAsked extends RevisionWanted {
  readonly shop: string;
  readonly body: Uint8Array;
  readonly earlier: string | null;
  readonly who: string | null;
  readonly retention: number;
}

/** Of a batch's own plan, or of an earlier recut of it; for a batch from the shop's rack also from what is free there. */
export async function recutMadeOf(client: Client, asked: RecutOfAsked): Promise<string> {
  const { shop, id, revision, earlier, who, retention } = asked;
  const which = asRevision(asked);
  const body = bodyIn(recutOfBody, asked.body);
  const work = earlier === null ? await client.result(id, which) : storedRecut(Buffer.from(earlier));
  const batch = await batchOfPlan(client, asked, work);
  // Of what an id stood for before, nothing is reserved any more.
  if (batch.rack === null || who === null || revision !== undefined) {
    return recutFor(withPlanRack(batch, work), work, body, 'json');
  }
  const made = await client.rack.recut(id, {
    work,
    ...mishapOf(body),
    who,
    timeLimit: SEARCH_SECONDS,
    keep: async (recut) => (await keptRecut(shop, id, JSON.stringify(recut), retention)).beside,
  });
  return JSON.stringify(made);
}
