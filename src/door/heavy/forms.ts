/** The result of a batch in the form that is wanted. */
import { checkBatch } from '../../documents/batch/read.js';
import type { Client } from '../../queue/client/client.js';
import type { WorkKind } from '../../run/solver/tasks.js';
import { showComparison } from '../../show/comparison.js';
import { comparisonSvg } from '../../show/comparison-chart.js';
import { showPlan } from '../../show/plan.js';
import type { Form } from '../http/negotiate.js';

export interface ResultWanted {
  readonly work: WorkKind;
  readonly id: string;
  readonly partial: boolean;
  readonly form: Form;
}

export async function resultIn(client: Client, { work, id, partial, form }: ResultWanted): Promise<string> {
  if (work === 'compare') {
    const comparison = await client.comparison(id, { partial });
    if (form === 'svg') return comparisonSvg(comparison);
    if (form === 'json') return JSON.stringify(comparison);
    return showComparison(checkBatch(await client.batch(id, { work })), comparison);
  }
  const plan = await client.result(id, { partial });
  if (form === 'json') return JSON.stringify(plan);
  return showPlan(checkBatch(await client.batch(id)), plan);
}
