/** The plan as the shop reads it: what to buy, then moulding by moulding what to set, cut and keep. */

import type { MouldingPlan, Plan, WhyUnplanned } from '../documents/plan/types.js';
import { umFromMm } from '../lengths/units.js';
import type { Batch } from '../terms.js';
import { edges, money, PAGE, paragraph, percent, plural, printed, table } from '../text/page.js';
import { cautionLines } from '../words/cautions.js';
import { angleText } from '../words/method.js';
import { ranges } from '../words/ranges.js';
import { notPlannedText, Words } from '../words/words.js';
import { handlingText, mergingLines, unmergedText } from './figures.js';
import { aboutTime, LEFT_OUT } from './hours.js';
import { anglesOf, methodLines, tagLines } from './method.js';
import { pooledLines } from './pooled.js';
import { stickLines } from './sticks.js';
import { stopLines } from './stops.js';

/** Mouldings that could not be planned, and why. */
function unplanned(plan: Plan): ReadonlyMap<string, WhyUnplanned> {
  return new Map(plan.mouldings.flatMap((part) => (part.unplanned ? [[part.moulding, part.unplanned]] : [])));
}

function headLines(batch: Batch, plan: Plan, partial: boolean): readonly string[] {
  const ordered = batch.frames.reduce((sum, line) => sum + line.quantity, 0);
  const short = plan.shortfall.reduce((sum, { frames }) => sum + frames.length, 0);
  const frames = short === 0 ? plural(ordered, 'frame') : `${ordered - short} of ${plural(ordered, 'frame')}`;
  const made = `${frames}, ${plural(plan.totals.sticks, 'stick')}, ${plural(plan.totals.cuts, 'cut')}`;
  return [...edges(`${partial ? 'Partial cut plan' : 'Cut plan'}: ${batch.id}`, made), '='.repeat(PAGE)];
}

function shortLines(words: Words, plan: Plan, without: ReadonlyMap<string, WhyUnplanned>): readonly string[] {
  return plan.shortfall.flatMap(({ moulding, frames: all, needs, cost, impossible = [] }) => {
    const skipped = new Set(impossible);
    const frames = all.filter((frame) => !skipped.has(frame));
    if (frames.length === 0) return skippedLines(moulding, impossible);
    const why = without.get(moulding);
    if (why !== undefined) {
      const what = `NOT PLANNED: ${moulding}, ${plural(frames.length, 'frame')} not made, ${ranges(frames)}.`;
      return [...paragraph(what, 0, 2), ...paragraph(notPlannedText(moulding, why), 2)];
    }
    const length = words.long(umFromMm(needs));
    const priced = cost !== null && words.costs.pricing(moulding) !== 'unpriced';
    const price = priced ? `, ${money(cost)} at the offers' prices` : '';
    const what =
      cost === null
        ? `A single stick of ${words.tape(umFromMm(needs))}, beside what this plan leaves,`
        : `${length} more`;
    const text = `SHORT of ${moulding}: ${plural(frames.length, 'frame')} not made, ${ranges(frames)}. ${what} would complete ${frames.length === 1 ? 'it' : 'them'}${price}.`;
    return [...paragraph(text, 0, 2), ...skippedLines(moulding, impossible)];
  });
}

/** Frames that nothing can hold. A note below says why, line by line. */
function skippedLines(moulding: string, frames: readonly string[]): readonly string[] {
  if (frames.length === 0) return [];
  const text = `SKIPPED of ${moulding}: ${plural(frames.length, 'frame')} that nothing can hold, ${ranges(frames)}; see the notes below.`;
  return paragraph(text, 0, 2);
}

function buyLines(batch: Batch, words: Words, plan: Plan): readonly string[] {
  if (plan.buy.length === 0)
    return [plan.status === 'short' ? 'To buy: nothing.' : 'To buy: nothing, the rack is enough.'];
  const offers = new Map(batch.offers.map((offer) => [offer.id, offer]));
  const rows = plan.buy.map(({ moulding, offer, count, cost }) => [
    `${count} x`,
    words.stock(offers.get(offer)?.length ?? 0),
    moulding,
    offer,
    words.costs.of(moulding, cost),
  ]);
  const total = ['', '', '', 'in all', words.costs.total(plan.buy)];
  return [
    'To buy',
    ...table(
      rows.length > 1 ? [...rows, total] : rows,
      [
        { most: 10, align: 'right' },
        { most: 16, align: 'right' },
        { most: 26 },
        { most: 26 },
        { most: 20, align: 'right' },
      ],
      2,
    ),
  ];
}

/** Runs, time, and stops set with their proof. */
function hoursLines({ runs, stopsSet, seconds }: MouldingPlan): readonly string[] {
  if (runs === undefined || stopsSet === undefined || seconds === undefined) return [];
  const { value, proof } = stopsSet;
  const sure = proof.status === 'optimal' ? 'proven fewest' : `at least ${proof.bound} are needed`;
  const begun = runs.reduce((most, run) => Math.max(most, run.begunMost), 0);
  const longest = runs.reduce((most, run) => Math.max(most, run.begunLongestFirst ?? run.begunMost), 0);
  const beside = longest > begun ? ` (${longest} with the longest setting first)` : '';
  const text = `Sawing: ${aboutTime(seconds)}; ${plural(runs.length, 'run')}, at most ${plural(begun, 'stick')} begun at once${beside}; stops set ${plural(value, 'time')}, ${sure}.`;
  return paragraph(text, 0, 2);
}

/** Wood and time as one sum: what the plan minimises. */
function pricedLines({ labour }: Batch, { priced, proof }: MouldingPlan): readonly string[] {
  if (labour.rate !== null && labour.rate > 0 && proof.measure === 'length') {
    const text =
      'The rack has no price to weigh time against: what is least here is the rack used, and time only where that costs none of it.';
    return paragraph(text, 0, 2);
  }
  if (priced === undefined) return [];
  const { status, value, bound } = priced;
  const sure = status === 'optimal' ? 'proven least' : `no plan comes to less than ${money(bound)}`;
  return paragraph(`Wood and sawing time at the batch's rate: ${money(value)}, ${sure}.`, 0, 2);
}

function aboutMoulding(batch: Batch, words: Words, part: MouldingPlan): readonly string[] {
  const rack = part.sticks.filter((stick) => stick.source === 'rack').length;
  const from =
    rack === 0 ? '' : rack === part.sticks.length ? ', all from the rack' : `, ${rack} from the rack`;
  const kept = part.sticks.flatMap((stick) => stick.left).filter((left) => left.use === 'offcut');
  const keep = kept.reduce((sum, left) => sum + left.to - left.from, 0);
  const { measure, value } = part.proof;
  const spent =
    measure === 'cost' ? words.costs.spent(part.moulding, value) : `rack used ${words.long(umFromMm(value))}`;
  const offcuts =
    kept.length === 0
      ? 'no offcut to keep'
      : `${plural(kept.length, 'offcut')} to keep, ${words.long(umFromMm(keep))}`;
  const handling = handlingText(part.handling);
  const merged = (part.merging?.choices ?? 0) > 0;
  const about = `${plural(part.sticks.length, 'stick')}${from}; ${offcuts}; ${spent}, ${words.proof(part.moulding, part.proof, merged)}.`;
  return [
    ...paragraph(about, 0, 2),
    ...(handling === '' ? [] : paragraph(`Handling: ${handling}.`, 0, 2)),
    ...hoursLines(part),
    ...pricedLines(batch, part),
    ...mergingLines(words, part),
  ];
}

function stopsTitle({ runs = [] }: MouldingPlan): string {
  return runs.length > 1
    ? 'Stop settings, run by run: set each once, cut all its sticks, tick it off; end a run before the next'
    : 'Stop settings: set each once, cut all its sticks, tick it off';
}

function mouldingLines(batch: Batch, words: Words, part: MouldingPlan): readonly string[] {
  if (part.sticks.length === 0) return [];
  const mitres = anglesOf(part.sticks).map(angleText).join(' and ');
  return [
    '',
    `${part.moulding}, mitre ${mitres}`,
    '-'.repeat(PAGE),
    ...aboutMoulding(batch, words, part),
    '',
    ...methodLines(batch, words, part),
    '',
    stopsTitle(part),
    ...stopLines(words, part),
    '',
    'Sticks, rails from the left end on',
    ...stickLines(words, part),
    '',
    ...tagLines(batch, words, part),
  ];
}

function sawingLines({ totals }: Plan): readonly string[] {
  if (totals.seconds === undefined) return [];
  const labour = totals.labour === undefined ? '' : `, ${money(totals.labour)} at the batch's rate`;
  return paragraph(`Sawing in all: ${aboutTime(totals.seconds)}${labour}. ${LEFT_OUT}`, 0, 2);
}

function totalLines(words: Words, plan: Plan): readonly string[] {
  const { totals } = plan;
  const handling = handlingText(totals.handling);
  const long = (mm: number): string => words.long(umFromMm(mm));
  const text =
    `In all: ${plural(totals.sticks, 'stick')}, ${long(totals.stockLength)}; yield ${percent(totals.yield)} in rails, ` +
    `${totals.offcutLength === 0 ? 'no' : `${long(totals.offcutLength)} of`} offcuts to keep, ${long(totals.wasteLength)} of waste with kerf; ` +
    `${plural(totals.stopSettings, 'stop setting')}, ${plural(totals.cuts, 'cut')}${handling === '' ? '' : `, ${handling}`}; ` +
    `${words.costs.totalText(plan.buy)}.${unmergedText(words, plan)}`;
  return [...paragraph(text, 0, 2), ...sawingLines(plan)];
}

/** The readable plan, lines of at most 100 columns, with a line end after each. */
export function showPlan(batch: Batch, plan: Plan): string {
  const words = new Words(batch);
  const without = unplanned(plan);
  const cuts = plan.totals.sticks > 0;
  const clamps = plan.mouldings.some((part) =>
    part.stops.some((stop) => words.clamped(stop.second ?? stop.setting)),
  );
  const lines = [
    ...headLines(batch, plan, without.size > 0),
    ...shortLines(words, plan, without),
    ...buyLines(batch, words, plan),
    ...pooledLines(batch, words, plan),
    ...plan.mouldings.flatMap((part) => mouldingLines(batch, words, part)),
    ...(cuts ? ['', ...totalLines(words, plan)] : []),
    ...(plan.notices.length === 0
      ? []
      : ['', ...plan.notices.flatMap((notice) => paragraph(`Note: ${notice.message}`, 0, 2))]),
    ...(cuts ? ['', ...cautionLines(batch, clamps)] : []),
  ];
  return printed(lines);
}
