/** A recut as the shop reads it: what was lost, what to buy, and what is still to be cut. */

import type { MouldingPlan } from '../documents/plan/types.js';
import type { FoundFlaw, Recut, RecutMoulding, RecutPurchase } from '../documents/recut/types.js';
import { umFromMm } from '../lengths/units.js';
import type { Batch } from '../terms.js';
import { edges, PAGE, paragraph, plural, printed, table } from '../text/page.js';
import { cautionLines } from '../words/cautions.js';
import { Words } from '../words/words.js';
import { aboutTime, LEFT_OUT } from './hours.js';
import { tagLines } from './method.js';
import { stickLines } from './sticks.js';
import { stopLines } from './stops.js';

function buyTable(batch: Batch, words: Words, buy: readonly RecutPurchase[]): readonly string[] {
  const offers = new Map(batch.offers.map((offer) => [offer.id, offer]));
  const rows = buy.map(({ moulding, offer, count, cost }) => [
    `${count} x`,
    words.stock(offers.get(offer)?.length ?? 0),
    moulding,
    offer,
    words.costs.of(moulding, cost),
  ]);
  return table(
    rows,
    [
      { most: 10, align: 'right' },
      { most: 16, align: 'right' },
      { most: 26 },
      { most: 26 },
      { most: 16, align: 'right' },
    ],
    2,
  );
}

function shortLines(batch: Batch, words: Words, recut: Recut): readonly string[] {
  return recut.shortfall.flatMap(({ moulding, frames, rails, needs, buy, cost }) => {
    const what = `SHORT of ${moulding}: ${frames.join(', ')} not completed; not cut: ${rails.join(', ')}.`;
    const run =
      cost === null
        ? ` A stick of ${words.tape(umFromMm(needs))} would do.`
        : ` What would complete them, ${words.costs.of(moulding, cost)}${words.costs.pricing(moulding) === 'unpriced' ? ' of stick' : " at the offers' prices"}:`;
    return [...paragraph(what + run, 0, 2), ...buyTable(batch, words, buy)];
  });
}

/** Flaws found at the saw, and pieces that were spoiled rails. */
function foundLines(words: Words, { mouldings, reused = [] }: Recut): readonly string[] {
  const span = ([from, to]: FoundFlaw): string =>
    `${words.tape(umFromMm(from))} to ${words.tape(umFromMm(to))}`;
  const flaws = mouldings.flatMap(({ sticks }) =>
    sticks.flatMap(({ stick, flaws: found = [] }) =>
      found.length === 0 ? [] : [`${stick} from ${found.map(span).join(' and from ')}`],
    ),
  );
  const pieces = reused.map(({ id, rail, length }) => `${id}, ${words.tape(umFromMm(length))} of ${rail}`);
  return [
    ...(flaws.length === 0
      ? []
      : paragraph(`Flawed: ${flaws.join('; ')}, from the left end of the whole stick.`, 0, 2)),
    ...(pieces.length === 0 ? [] : paragraph(`Spoiled rails used again: ${pieces.join('; ')}.`, 0, 2)),
  ];
}

/** A stick with a flaw found in it is cut otherwise than the plan says. */
function flawed({ sticks }: RecutMoulding): boolean {
  return sticks.some(({ flaws = [], rails }) => flaws.length > 0 && rails.length > 0);
}

function headLines(words: Words, recut: Recut): readonly string[] {
  const { totals } = recut;
  const counts = `${plural(totals.lost, 'rail')} lost, ${totals.cut} cut and kept, ${totals.toCut} to cut`;
  const taken =
    recut.cutSoFar === 'told'
      ? totals.cut + totals.lost === 0
        ? 'Taken as cut: nothing.'
        : 'Taken as cut: what the file says, and the lost rails.'
      : "Taken as cut: everything up to the last lost rail, in the plan's order. If that is not so, say what is cut with --cut-so-far.";
  return [
    ...edges(`Recut: ${recut.batch}`, counts),
    '='.repeat(PAGE),
    ...(recut.lost.length === 0 ? [] : paragraph(`Lost: ${recut.lost.join(', ')}.`, 0, 2)),
    ...foundLines(words, recut),
    ...paragraph(taken, 0, 2),
  ];
}

/** The lost rails of a moulding, where each now comes from, and what to set the stop against. */
function replacedLines(words: Words, part: RecutMoulding): readonly string[] {
  const setBy = new Map(
    part.stops.flatMap((stop) =>
      stop.setBy === null ? [] : [[umFromMm(stop.setting), stop.setBy] as const],
    ),
  );
  const rows = part.sticks.flatMap((stick) =>
    stick.rails
      .filter((rail) => rail.replaces)
      .map((rail) => {
        const like = setBy.get(umFromMm(rail.length));
        return [
          rail.rail,
          words.rail(rail),
          `from ${stick.stick}`,
          like === undefined ? '' : `set the stop against ${like}`,
        ];
      }),
  );
  return table(rows, [{ most: 30 }, { most: 12, align: 'right' }, { most: 28 }, { most: PAGE }], 2);
}

function movedLines(part: RecutMoulding): readonly string[] {
  const moved = part.sticks.flatMap((stick) =>
    stick.rails
      .filter((rail) => !rail.replaces && rail.was !== stick.stick)
      .map((rail) => `${rail.rail} from ${rail.was} to ${stick.stick}`),
  );
  return moved.length === 0
    ? ['  Nothing else moves.']
    : paragraph(`Moved to another stick: ${moved.join('; ')}.`, 2, 4);
}

/** What is still to be cut, as lines of a plan. */
function asPlan(part: RecutMoulding, finish: boolean): MouldingPlan {
  return {
    moulding: part.moulding,
    status: part.status,
    proof: part.proof,
    sticks: part.sticks.filter((stick) => stick.rails.length > 0),
    stops: part.stops.filter((stop) => stop.finish === finish),
    ...(!finish && { runs: part.runs }),
  };
}

function mouldingLines(batch: Batch, words: Words, part: RecutMoulding): readonly string[] {
  const toCut = part.sticks.reduce((sum, stick) => sum + stick.rails.length, 0);
  const touched =
    part.status === 'short' ||
    part.moved > 0 ||
    flawed(part) ||
    part.sticks.some((stick) => stick.rails.some((rail) => rail.replaces));
  if (!touched) {
    if (toCut === 0) return [];
    return [
      '',
      ...paragraph(
        `${part.moulding}: as planned, ${plural(toCut, 'rail')} to cut${part.seconds === undefined ? '' : `, ${aboutTime(part.seconds)}`}.`,
        0,
        2,
      ),
    ];
  }
  const [begun, rest] = [asPlan(part, true), asPlan(part, false)];
  const started = begun.sticks.filter((stick) =>
    part.sticks.some((one) => one.stick === stick.stick && one.cut.length + one.lost.length > 0),
  );
  return [
    '',
    ...edges(part.moulding, part.moved === 0 ? '' : plural(part.moved, 'rail moved', 'rails moved')),
    '-'.repeat(PAGE),
    ...replacedLines(words, part),
    ...movedLines(part),
    ...(part.proof.value === 0
      ? []
      : paragraph(
          `To buy for it: ${words.costs.of(part.moulding, part.proof.value)}, ${words.proof(part.moulding, part.proof)}.`,
          2,
          4,
        )),
    ...(begun.stops.length === 0 ? [] : ['', 'First finish what was begun', ...stopLines(words, begun)]),
    ...(rest.stops.length === 0
      ? []
      : ['', 'Stop settings: set each once, cut all its sticks, tick it off', ...stopLines(words, rest)]),
    ...(part.seconds === undefined ? [] : [`Sawing what is left: ${aboutTime(part.seconds)}.`]),
    ...(rest.sticks.length === 0
      ? []
      : [
          '',
          'Sticks, what is still to be cut of them',
          ...stickLines(words, rest),
          '',
          ...tagLines(batch, words, rest),
        ]),
    ...(started.length === 0
      ? []
      : paragraph(
          `Begun: ${started.map((stick) => stick.stick).join(', ')}. Go on from where they were cut.`,
          2,
          4,
        )),
  ];
}

/** The readable recut, lines of at most 100 columns, with a line end after each. */
export function showRecut(batch: Batch, recut: Recut): string {
  const words = new Words(batch);
  const cuts = recut.totals.toCut > 0;
  const clamps = recut.mouldings.some((part) =>
    part.stops.some((stop) => words.clamped(stop.second ?? stop.setting)),
  );
  const buy =
    recut.buy.length === 0
      ? ['To buy: nothing.']
      : [`To buy, ${words.costs.total(recut.buy)} in all`, ...buyTable(batch, words, recut.buy)];
  return printed([
    ...headLines(words, recut),
    ...shortLines(batch, words, recut),
    ...buy,
    ...recut.mouldings.flatMap((part) => mouldingLines(batch, words, part)),
    ...(recut.totals.seconds === undefined || !cuts
      ? []
      : [
          '',
          ...paragraph(`Sawing what is left, in all: ${aboutTime(recut.totals.seconds)}. ${LEFT_OUT}`, 0, 2),
        ]),
    ...(recut.notices.length === 0
      ? []
      : ['', ...recut.notices.flatMap((one) => paragraph(`Note: ${one.message}`, 0, 2))]),
    ...(cuts ? ['', ...cautionLines(batch, clamps)] : []),
  ]);
}
