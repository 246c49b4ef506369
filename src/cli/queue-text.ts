/** What the queue's commands print. */

import type { PlanProof } from '../documents/plan/types.js';
import { gapOf } from '../processes/progress.js';
import type { BatchStatus, QueueDepth, ServiceStatus } from '../queue/client/status.js';
import type { Heartbeat } from '../queue/record/health.js';
import { aboutTime } from '../show/hours.js';
import { money, plural } from '../text/page.js';
import { shown } from './shown.js';

const MB = 2 ** 20;
const SECOND = 1_000;
const LINES_SHOWN = 40;

/** To the second, UTC. */
export function moment(ms: number | null): string {
  return ms === null ? '-' : new Date(ms).toISOString().replace(/\.\d+Z$/, 'Z');
}

export function seconds(value: number): string {
  if (value < 90) return `${value < 10 ? value.toFixed(1) : Math.round(value)} s`;
  return value < 5400 ? `${Math.round(value / 60)} min` : `${(value / 3600).toFixed(1)} h`;
}

function percent(gap: number): string {
  return gap === 0 ? 'proven' : `within ${(gap * 100).toFixed(2)} %`;
}

function finishText({ state, progress }: BatchStatus): string[] {
  if (progress === null || state !== 'running') return [];
  const { likely, latest } = progress.finish;
  if (latest === null && progress.elapsed === 0) return ['not begun yet'];
  if (latest === null) return ['past its time limit: it was interrupted, or the plan is being put together'];
  const most = `at the latest in ${seconds(latest)} if nothing interrupts it or takes the workers`;
  return [likely === null ? most : `likely in ${seconds(likely)}, ${most}`];
}

/** A proof's value with its unit: money, or millimetres of stick. */
function proofValue({ measure, value }: PlanProof): string {
  return measure === 'cost' ? `cost ${money(value)}` : `length ${value} mm`;
}

/** When sawing would end that begins now; milliseconds since 1970. */
function cutBy(sawing: number, now: number): string {
  return `begun now it is cut by ${moment(now + SECOND * Math.round(sawing))}`;
}

export function statusText(status: BatchStatus, now = Date.now()): string {
  const { id, state, urgency, run, submitted, starts, started, finished, progress, mouldings, failure } =
    status;
  const lines = [
    `${shown(id)}: ${state}${status.outcome === 'short' ? ' (short of stock)' : ''}`,
    `  urgency     ${urgency}${run > 1 ? `, run ${run}` : ''}${status.revision > 1 ? `, revision ${status.revision}` : ''}`,
    `  submitted   ${moment(submitted)}`,
    ...(starts === null ? [] : [`  waits until ${moment(starts)}`]),
    ...(status.pool === null ? [] : [`  in the pool, which closes at ${moment(status.pool.closes)}`]),
    ...(status.night === null ? [] : [`  planned with ${shown(status.night)}`]),
    ...(status.batches.length === 0 ? [] : [`  batches     ${status.batches.map(shown).join(', ')}`]),
    `  started     ${moment(started)}`,
    `  finished    ${moment(finished)}`,
  ];
  if (progress !== null) {
    const { total, done, failed } = progress.mouldings;
    lines.push(`  mouldings   ${done} of ${total} done${failed > 0 ? `, ${failed} failed` : ''}`);
    if (progress.cost !== null) {
      const { value, bound } = progress.cost;
      const far = state === 'done' ? '' : ' so far';
      lines.push(`  cost        ${money(value)}${far}, at least ${money(bound)}`);
    }
    if (progress.gap !== null) lines.push(`  largest gap ${percent(progress.gap)}`);
    lines.push(`  elapsed     ${seconds(progress.elapsed)}`);
  }
  if (status.sawing !== null)
    lines.push(
      `  sawing      ${aboutTime(status.sawing)}, breaks and fetching wood not counted; ${cutBy(status.sawing, now)}`,
    );
  for (const text of finishText(status)) lines.push(`  finish      ${text}`);
  for (const { moulding, state: at, proof, frames, ordered } of mouldings.slice(0, LINES_SHOWN)) {
    const plan =
      proof === null
        ? ''
        : `  ${frames} of ${ordered} frames, ${proofValue(proof)}, ${percent(gapOf(proof))}`;
    lines.push(`    ${shown(moulding)}: ${at}${plan}`);
  }
  if (mouldings.length > LINES_SHOWN) lines.push(`    and ${mouldings.length - LINES_SHOWN} more`);
  if (failure !== null) {
    lines.push(`  ${failure.code}: ${failure.message}`);
    for (const { path, given } of failure.problems.slice(1, LINES_SHOWN)) lines.push(`    ${path}: ${given}`);
  }
  return `${lines.join('\n')}\n`;
}

function depthText(name: string, depth: QueueDepth): string {
  const { waiting, active, delayed, divided, failed, oldest } = depth;
  const parts = [`${waiting} waiting`, `${active} in hand`, `${delayed} delayed`];
  if (divided > 0) parts.push(`${divided} wait for their mouldings`);
  parts.push(`${failed} failed`);
  if (oldest !== null) parts.push(`oldest waits ${seconds(oldest)}`);
  return `  ${name.padEnd(18)} ${parts.join(', ')}`;
}

function workerText({
  id,
  host,
  pid,
  slots,
  running,
  done,
  failed,
  memory,
  version,
  dropped,
}: Heartbeat): string {
  const jobs = `${done} jobs done, ${failed} failed`;
  const lost = dropped > 0 ? `, ${dropped} log lines dropped` : '';
  return (
    `  ${id.slice(0, 8)} on ${shown(host)} (${pid}), version ${shown(version)}: slots ${slots.now} now + ` +
    `${slots.tonight} tonight, ${running.length} in hand, ${jobs}, ${Math.round(memory / MB)} MB${lost}`
  );
}

export function workersText(living: readonly Heartbeat[]): string[] {
  return [`workers alive: ${living.length}`, ...living.map(workerText)];
}

/** Nothing where none is missed. */
export function lostText(lost: readonly Heartbeat[]): string[] {
  if (lost.length === 0) return [];
  const last = (one: Heartbeat): string => `${workerText(one)}, last heard of ${moment(one.at)}`;
  return [`workers lost (killed, frozen or cut off): ${lost.length}`, ...lost.map(last)];
}

/** Nothing where no plan waits to be cut. */
function toSawText(toSaw: ServiceStatus['toSaw'], now: number): string[] {
  if (toSaw === null || toSaw.plans === 0) return [];
  const { plans, seconds: time, unknown } = toSaw;
  const known = unknown === plans ? [] : [`${aboutTime(time)}; ${cutBy(time, now)}`];
  const open = unknown === 0 ? [] : [`${plural(unknown, 'plan')} of an older version not counted`];
  const all = `${plural(plans, 'plan')} of which nothing is known to be cut`;
  return [`to saw: ${[all, ...open, ...known].join(', ')}`];
}

export function serviceText(
  { workers, lost, queues, errors, toSaw }: ServiceStatus,
  now = Date.now(),
): string {
  const lines = [...workersText(workers), ...lostText(lost)];
  lines.push('queues:');
  for (const urgency of ['now', 'tonight'] as const) {
    lines.push(depthText(`${urgency}, batches`, queues[urgency].batches));
    lines.push(depthText(`${urgency}, mouldings`, queues[urgency].mouldings));
  }
  lines.push(...toSawText(toSaw, now));
  lines.push(errors.length === 0 ? 'last errors: none' : 'last errors:');
  for (const { at, code, message, batch, moulding } of errors) {
    const of = [batch, moulding].flatMap((part) => (part === null ? [] : [shown(part)])).join(', ');
    lines.push(`  ${moment(at)} ${shown(code)} ${of}: ${message.split('\n')[0] ?? ''}`);
  }
  return `${lines.join('\n')}\n`;
}
