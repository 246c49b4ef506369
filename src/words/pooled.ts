/** What a batch has of a pooled plan, in words: its frames and marks, what its wood cost, what pooling saved, how sure. */
import type { PlannedBatch, PlanPooling, PooledMoulding, PoolSaving } from '../documents/plan/pooled.js';
import { UM_PER_INCH, UM_PER_MM } from '../lengths/units.js';
import type { Batch } from '../terms.js';
import { money, named, plural } from '../text/page.js';
import type { Words } from './words.js';

/** Money, or where no offer has a price the length that stands for it. */
export type CostText = (amount: number) => string;

export function costText({ offers, units }: Batch, words: Words): CostText {
  const unit = Number(units === 'in' ? UM_PER_INCH : UM_PER_MM);
  const bare = offers.length > 0 && offers.every(({ priced }) => !priced);
  return (amount) => (bare ? `${words.long(Math.round(amount * unit))} of stick` : money(amount));
}

/** `5.20, proven`; or how much of it is. */
export function savedText({ value, least }: PoolSaving, cost: CostText): string {
  if (value === least) return `${cost(value)}, proven`;
  if (least > 0) return `${cost(value)} against the plans alone as found, at least ${cost(least)} proven`;
  return `${cost(value)} against the plans alone as found; nothing of it is proven`;
}

/** Why nothing can be said of what pooling saved a batch. */
function unknownText({ missing, mouldings }: PlannedBatch): string {
  if (missing.length > 0) return `not known: ${plural(missing.length, 'frame')} of it cannot be made here`;
  const unplanned = mouldings.filter(({ alone }) => alone === null);
  if (unplanned.length > 0) {
    return `not known: there was no time to plan ${named(unplanned.map(({ moulding }) => moulding))} alone`;
  }
  const short = mouldings.filter(({ alone, frames }) => alone !== null && alone.made < frames);
  const made = short.map(
    ({ moulding, alone, frames }) => `${alone!.made} of ${plural(frames, 'frame')} in ${moulding}`,
  );
  return `not known: alone, from what those before it leave, only ${named(made)} can be made`;
}

/** The same of all batches together. */
function allUnknownText(mouldings: readonly PooledMoulding[]): string {
  const parts = mouldings.filter(({ alone }) => alone === null).map(({ moulding }) => moulding);
  return `in ${named(parts)} not every frame is made, here and by each batch alone, or there was no time to plan each alone`;
}

export interface BatchTexts {
  readonly made: string;
  readonly wood: string;
  readonly saved: string;
  /** Null: nothing is missing. */
  readonly missing: string | null;
}

export function batchTexts(part: PlannedBatch, cost: CostText): BatchTexts {
  const { frames, made, missing, late, due, share, alone, saved } = part;
  const whole = plural(frames, 'frame');
  const when = due === undefined ? '' : `, needed by ${due}`;
  return {
    made: `${made === frames ? whole : `${made} of ${whole}`}${when}`,
    wood: cost(share),
    saved:
      alone === null || saved === null
        ? unknownText(part)
        : `${savedText(saved, cost)}; alone ${cost(alone.cost)}`,
    missing: missing.length === 0 ? null : `${late ? 'LATE' : 'NOT MADE'}: ${missing.join(', ')}`,
  };
}

/** What pooling saved in all. */
export function poolingText({ cost: here, alone, saved, mouldings }: PlanPooling, cost: CostText): string {
  if (alone === null || saved === null) {
    return `The wood of all costs ${cost(here)}. What pooling saved cannot be said: ${allUnknownText(mouldings)}.`;
  }
  return `The wood of all costs ${cost(here)}; each alone, in the order of arrival, ${cost(alone.cost)}. Pooling saved ${savedText(saved, cost)}.`;
}

const RULES: Readonly<Record<PooledMoulding['rule'], string>> = {
  length: 'in proportion to rail length',
  limited: 'in proportion to rail length, and nobody pays more than alone',
  core: 'as near to rail length as can be, so that no group of batches pays more than alone',
};

/** By what rule each moulding is shared, and where the rule has its limits. */
export function rulesText({ mouldings }: Pick<PlanPooling, 'mouldings'>): string {
  const by = (of: (part: PooledMoulding) => boolean): readonly string[] =>
    mouldings.filter(of).map(({ moulding }) => moulding);
  const rules = (['length', 'limited', 'core'] as const).flatMap((rule) => {
    const some = by((part) => part.rule === rule);
    return some.length === 0 ? [] : [`${named(some)} ${RULES[rule]}`];
  });
  const empty = by(({ core }) => core === 'empty');
  const none =
    empty.length === 0
      ? ''
      : ` In ${named(empty)} there are no shares at which every group of batches pays at most what it would alone.`;
  return `Shared: ${rules.join('; ')}.${none}`;
}
