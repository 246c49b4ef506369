/** Whose wood it is: a pooled plan batch by batch, and the page of one batch. */
import type { PlannedBatch } from '../documents/plan/pooled.js';
import type { Plan } from '../documents/plan/types.js';
import { PairstopError } from '../errors.js';
import { umFromMm } from '../lengths/units.js';
import { tagsOf } from '../rails/tags.js';
import type { Batch, PlannedApart } from '../terms.js';
import { edges, PAGE, paragraph, plural, printed, table } from '../text/page.js';
import { batchTexts, costText, poolingText, rulesText } from '../words/pooled.js';
import { Words } from '../words/words.js';

/** `A1…12` for each of its order lines. */
function marksOf(batch: Batch, frame: string): string {
  const tags = tagsOf(batch);
  const quantity = batch.frames.find(({ id }) => id === frame)?.quantity ?? 1;
  const [first, last] = [tags.frame(`${frame}/1`), tags.frame(`${frame}/${quantity}`)];
  return quantity === 1 ? first : `${first}…${last}`;
}

/** Empty where the plan is not pooled. */
export function pooledLines(batch: Batch, words: Words, plan: Plan): readonly string[] {
  const { batches = [], pooling } = plan;
  if (pooling === undefined) return [];
  const cost = costText(batch, words);
  const rows = batches.map((part) => {
    const { made, wood, saved } = batchTexts(part, cost);
    return [part.batch, made, part.lines.map(({ frame }) => marksOf(batch, frame)).join(' '), wood, saved];
  });
  const head = ['batch', 'frames', 'tags', 'its wood', 'pooling saved'];
  return [
    '',
    'Whose it is',
    ...table(
      [head, ...rows],
      [{ most: 20 }, { most: 18 }, { most: 18 }, { most: 12, align: 'right' }, { most: 60 }],
      2,
    ),
    ...paragraph(poolingText(pooling, cost), 2),
    ...paragraph(rulesText(pooling), 2),
  ];
}

function partOf(plan: Plan, id: string): PlannedBatch {
  const part = plan.batches?.find(({ batch }) => batch === id);
  if (part === undefined) {
    throw new PairstopError(
      'PS_UNKNOWN',
      `batch ${JSON.stringify(id)} is not among those planned as "${plan.batch}"`,
    );
  }
  return part;
}

function apartText({ why, moulding, from }: PlannedApart): string {
  if (moulding === null) return `It is ${why}`;
  return `Its ${from ?? moulding} is planned apart, as ${moulding}, since ${why} from what others of the night say`;
}

/** The page of one batch of a pooled plan. Throws PS_UNKNOWN for a batch that is not in it. */
export function showBatchPart(batch: Batch, plan: Plan, id: string): string {
  const words = new Words(batch);
  const cost = costText(batch, words);
  const part = partOf(plan, id);
  const { made, wood, saved, missing } = batchTexts(part, cost);
  const others = (plan.batches?.length ?? 1) - 1;
  const apart = batch.batches.find((one) => one.id === id)?.apart ?? [];
  const together =
    others === 0
      ? `Planned by itself: ${plan.batch}.`
      : `Planned as one with ${plural(others, 'other batch', 'other batches')}: ${plan.batch}.`;
  const its = new Set(part.mouldings.map(({ moulding }) => moulding));
  const rules = plan.pooling?.mouldings.filter(({ moulding }) => its.has(moulding));
  const lines = new Map(part.lines.map(({ frame, line }) => [frame, line]));
  const frames = batch.frames
    .filter((line) => lines.has(line.id))
    .map((line) => [`${line.quantity} x`, lines.get(line.id)!, line.moulding, marksOf(batch, line.id)]);
  const mouldings = part.mouldings.map((one) => [
    one.moulding,
    words.long(umFromMm(one.railLength)),
    cost(one.share),
    one.alone === null ? 'not known' : cost(one.alone.cost),
  ]);
  return printed([
    ...edges(`Batch ${id}`, made),
    '='.repeat(PAGE),
    ...paragraph(together, 0),
    ...apart.flatMap((one) => paragraph(`${apartText(one)}.`, 0, 2)),
    ...(missing === null ? [] : paragraph(`${missing}.`, 0, 2)),
    ...paragraph(`Its wood cost ${wood}. Pooling saved ${saved}.`, 0),
    '',
    'Frames, and the marks on their rails',
    ...table(frames, [{ most: 10, align: 'right' }, { most: 40 }, { most: 26 }, { most: 30 }], 2),
    '',
    'Its share, moulding by moulding',
    ...table(
      [['moulding', 'rails', 'its wood', 'alone'], ...mouldings],
      [
        { most: 40 },
        { most: 14, align: 'right' },
        { most: 14, align: 'right' },
        { most: 14, align: 'right' },
      ],
      2,
    ),
    ...(rules === undefined ? [] : paragraph(rulesText({ mouldings: rules }), 2)),
  ]);
}
