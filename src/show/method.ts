/** How a moulding is cut, with the saw from above in letters; and the tags of the rails on every stick. */

import type { MouldingPlan, PlacedRail, PlannedStick } from '../documents/plan/types.js';
import { umFromMm } from '../lengths/units.js';
import { tagsOf } from '../rails/tags.js';
import type { Batch, Moulding } from '../terms.js';
import { paragraph, table } from '../text/page.js';
import { methodSteps } from '../words/method.js';
import { ranges } from '../words/ranges.js';
import type { Words } from '../words/words.js';

const PROFILED = [
  'fence  =================================================',
  'stop    # \\          rail          /  \\       stick',
  '           \\______________________/    \\________________   sight edge, towards you',
];
const REVERSIBLE = [
  'fence  =================================================',
  'stop    # \\          rail          //        stick',
  '           \\______________________//___________________   roll it over after each cut',
];

/** Degrees, most rails first. */
export function anglesOf(sticks: readonly PlannedStick[]): readonly number[] {
  const counts = new Map<number, number>();
  for (const { rails } of sticks) {
    for (const { angle } of rails) counts.set(angle, (counts.get(angle) ?? 0) + 1);
  }
  return [...counts].sort((a, b) => b[1] - a[1]).map(([angle]) => angle);
}

function mouldingOf(batch: Batch, part: MouldingPlan): Moulding | undefined {
  return batch.mouldings.find(({ id }) => id === part.moulding);
}

export function methodLines(batch: Batch, words: Words, part: MouldingPlan): readonly string[] {
  const moulding = mouldingOf(batch, part);
  if (moulding === undefined) return [];
  const facts = {
    batch,
    moulding,
    angles: anglesOf(part.sticks),
    secondStop: part.stops.some(({ second }) => second !== null),
    flaws: part.sticks.some((stick) => words.flawsOn(stick).length > 0),
    clamps: part.stops.some(({ setting, second }) => words.clamped(second ?? setting)),
  };
  return [
    'How it is cut, seen from where you stand',
    '',
    ...(moulding.reversible ? REVERSIBLE : PROFILED).map((line) => `    ${line}`),
    '',
    ...methodSteps(facts, words).flatMap(({ name, text }, i) =>
      paragraph(`${i + 1}. ${name}: ${text}`, 2, 5),
    ),
  ];
}

function tagsText(batch: Batch, words: Words, stick: PlannedStick): string {
  const { rails } = stick;
  const tags = tagsOf(batch);
  const flaws = words.flawsOn(stick);
  const tag = (rail: PlacedRail): string => rail.tag ?? tags.rail(rail.frame, rail.side);
  const parts = [0, ...flaws.map(([, to]) => to)].map((from, i) => {
    const end = flaws[i]?.[0] ?? Number.POSITIVE_INFINITY;
    return rails.filter(({ start }) => umFromMm(start) >= from && umFromMm(start) < end).map(tag);
  });
  return parts
    .filter((part) => part.length > 0)
    .map((part) => part.join(' '))
    .join(' | ');
}

/** Which frames the marks mean: `A1…10 is A-101/1…10`. */
function keyText(batch: Batch, part: MouldingPlan): string {
  const tags = tagsOf(batch);
  return batch.frames
    .filter(({ moulding }) => moulding === part.moulding)
    .map(({ id, quantity }) => {
      const [first, last] = [tags.frame(`${id}/1`), tags.frame(`${id}/${quantity}`)];
      const marks = quantity === 1 ? first : `${first}…${last}`;
      return `${marks} ${quantity === 1 ? 'is' : 'are'} ${ranges(Array.from({ length: quantity }, (_, i) => `${id}/${i + 1}`))}`;
    })
    .join(', ');
}

/** Every stick with the tags of its rails. */
export function tagLines(batch: Batch, words: Words, part: MouldingPlan): readonly string[] {
  if (part.sticks.length === 0) return [];
  const rows = part.sticks.map((stick) => [stick.stick, tagsText(batch, words, stick)]);
  const numbered = batch.frames.some(
    ({ moulding, shape }) => moulding === part.moulding && shape.kind === 'regular',
  );
  const sides = `T top, R right, B bottom, L left${numbered ? ', -1 side 1 …' : ''}`;
  return [
    'Tags, from the left end on; write each on the back of its rail',
    ...table(rows, [{ most: 30 }, { most: 100 }], 2),
    ...paragraph(`${keyText(batch, part)}; ${sides}.`, 2, 4),
  ];
}
