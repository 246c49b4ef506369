/** What the shop should know beside the plan. */

import type { PlannedRun } from '../documents/plan/types.js';
import { formatLength } from '../lengths/format.js';
import { type Notice, notice } from '../notices.js';
import { sidesOf } from '../rails/rails.js';
import type { Bought } from '../stock/purchase.js';
import type { MouldingTask } from '../stock/task.js';
import type { Batch, Offer } from '../terms.js';
import { named, plural } from '../text/page.js';
import { notPlannedText } from '../words/words.js';
import { unlikelyOf } from './order/unlikely.js';
import type { Unplanned } from './part.js';

/** Offers named in a notice. */
const NAMED_MOST = 5;

/** Notices that the order itself calls for; `made` tells which items are cut at all. */
export function orderNotices(batch: Batch, task: MouldingTask, demand: readonly number[]): readonly Notice[] {
  const { moulding, spacing } = task;
  const path = `mouldings[${task.index}]`;
  const { clampBelow, stopStep } = batch.saw;
  const found: Notice[] = [];
  const short = task.items.flatMap((item, i) => ((demand[i] ?? 0) > 0 ? item.settings : []));
  const settings = [...new Set(short.filter((setting) => setting < clampBelow))].sort((a, b) => b - a);
  if (settings.length > 0) {
    const [least, most] = [settings.at(-1)!, settings[0]!].map((um) =>
      formatLength(um, batch.units, stopStep),
    );
    const range = settings.length === 1 ? most : `${least} to ${most}`;
    const below = formatLength(clampBelow, batch.units);
    const message = `${moulding.id}: rails of ${range} are under ${below}: clamp or jig them, never hold them by hand`;
    found.push(notice('PS_SHORT_RAILS', path, message));
  }
  if (moulding.reversible && spacing.mitres.length > 1) {
    const angles = spacing.mitres.map((mitre) => `${Number(mitre.angle.toFixed(2))}°`).join(', ');
    const message = `${moulding.id}: mitres of ${angles} share this stock; rails of unlike angle stand apart, not nested`;
    found.push(notice('PS_MIXED_ANGLES', path, message));
  }
  const bare = task.offers.filter(({ priced }) => !priced);
  if (bare.length > 0 && bare.length < task.offers.length) {
    const names = named(bare.slice(0, NAMED_MOST).map(({ id }) => id));
    const message = `${moulding.id}: ${names}${bare.length > NAMED_MOST ? ' …' : ''} without a price beside offers with one: length stands in for it, and is weighed against money; give every offer a price`;
    found.push(notice('PS_MIXED_PRICES', `offers[${batch.offers.indexOf(bare[0]!)}].price`, message));
  }
  for (const line of task.lines) {
    const frame = batch.frames[line]!;
    if (batch.options.mergeStops && frame.playMax !== null && frame.measuredBy !== 'glass') {
      const message = `${frame.id}: its ${frame.measuredBy} size is kept; playMax merges only frames measured by glass`;
      found.push(notice('PS_SIZE_KEPT', `frames[${line}].playMax`, message));
    }
    if (frame.match !== 'pair' || sidesOf(frame) % 2 === 0) continue;
    const message = `${frame.id}: a ring of ${sidesOf(frame)} sides has no opposing rails; cut as match "stop"`;
    found.push(notice('PS_NO_OPPOSING', `frames[${line}].match`, message));
  }
  found.push(...unlikelyOf(batch, task));
  return found;
}

export function skippedNotice(path: string, id: string, quantity: number, why: string): Notice {
  return notice('PS_SKIPPED', path, `${id}: skipped, ${plural(quantity, 'frame')} not made: it ${why}`);
}

export function spareNotice(offer: Offer, index: number, used: number, bought: Bought): Notice | null {
  const spare = bought.count - used;
  if (spare === 0) return null;
  const why = offer.pack > 1 ? `packs of ${offer.pack}` : 'the price break';
  const message = `${offer.id}: ${plural(bought.count, 'piece')} bought for ${why}, ${spare} of them not cut`;
  return notice('PS_SPARE_PIECES', `offers[${index}]`, message);
}

/** A reason may come from anywhere: it is kept to one line of a length that a plan's reader takes. */
const REASON_LENGTH = 1_000;

export function reasonOf(message: string): string {
  return message.replaceAll(/[\s\p{Cc}]+/gu, ' ').slice(0, REASON_LENGTH);
}

export function whyNotPlanned({ moulding, code, message }: Unplanned): string {
  return notPlannedText(moulding, { code, message: reasonOf(message) });
}

export function notPlanned(unplanned: Unplanned, index: number): Notice {
  return notice('PS_NOT_PLANNED', `mouldings[${index}]`, whyNotPlanned(unplanned));
}

export function searchEnded(task: MouldingTask): Notice {
  const message = `${task.moulding.id}: the search ended before it was known whether more frames can be made`;
  return notice('PS_SEARCH_ENDED', `mouldings[${task.index}]`, message);
}

const WHY_NOT_MERGED = {
  dearer: 'merged ones would cost more, wood and time together',
  'no play': 'no frame measured by glass gives a playMax that reaches the next setting',
  'none equal': 'no two settings lie within the play of all their rails',
  'too long': 'no plan was found that makes these frames at merged settings',
  unsolved: 'the time ended before merged settings were planned',
} as const;
export type WhyNotMerged = keyof typeof WHY_NOT_MERGED;

export function notMerged(moulding: string, why: WhyNotMerged): Notice {
  const message = `${moulding}: every rail is cut at its own stop setting: ${WHY_NOT_MERGED[why]}`;
  return notice('PS_STOPS_NOT_MERGED', 'options.mergeStops', message);
}

export function choiceNotice(task: MouldingTask, choices: number): Notice {
  const tried = choices === 1 ? 'one choice' : `the best of ${choices} choices`;
  const message = `${task.moulding.id}: what is proven holds for the merged settings planned, ${tried} of so few settings; another might cost less`;
  return notice('PS_MERGED_CHOICE', 'options.mergeStops', message);
}

/** Where a run lays more sticks down than the bench holds; null where none does. */
export function benchNotice(batch: Batch, task: MouldingTask, runs: readonly PlannedRun[]): Notice | null {
  const { bench } = batch.saw;
  const over = runs.filter(({ begunMost }) => bench !== null && begunMost > bench);
  if (over.length === 0) return null;
  const told = over.map(({ run, begunMost }) => `run ${run} lays down ${begunMost}`).join(', ');
  const why =
    'pairs or rings on several sticks tie its sticks together, and no exchange of rails was found that parts them';
  return notice(
    'PS_BENCH_FULL',
    'saw.bench',
    `${task.moulding.id}: ${told}, where the bench holds ${bench}; ${why}`,
  );
}
