/** What has to be alike for orders of two batches to be planned as one, as text that is equal exactly then. */
import type { Batch, FrameLine, Moulding } from '../terms.js';

/** Numbers that JSON does not know are written out; what is equal has equal text. */
export function alikeText(value: unknown): string {
  return JSON.stringify(value, (_, one: unknown) => (typeof one === 'bigint' ? `${one}n` : one));
}

/** Parts of the settings that hold for all of a plan, by what they are called where they differ. */
export function settingsOf({ units, saw, labour, rack, options }: Batch): Readonly<Record<string, string>> {
  return {
    units: alikeText(units),
    saw: alikeText(saw),
    labour: alikeText(labour),
    rack: alikeText(rack),
    'options.mergeStops': alikeText(options.mergeStops),
    'options.skipImpossible': alikeText(options.skipImpossible),
  };
}

/** What a batch says of one moulding. */
export interface MouldingDefinition {
  readonly moulding: string;
  /** With the shop's rack: whether the batch lists sticks of its own, which are then all there is. */
  readonly own: boolean;
  /** By id: sticks and offers. */
  readonly sticks: ReadonlyMap<string, string>;
  readonly offers: ReadonlyMap<string, string>;
}

export function definitionOf(batch: Batch, moulding: Moulding): MouldingDefinition {
  const of = <T extends { readonly id: string; readonly moulding: string }>(all: readonly T[]) =>
    new Map(all.filter((one) => one.moulding === moulding.id).map((one) => [one.id, alikeText(one)]));
  const sticks = of(batch.sticks);
  return {
    moulding: alikeText(moulding),
    own: batch.rack !== null && sticks.size > 0,
    sticks,
    offers: of(batch.offers.map((offer) => ({ ...offer, supplier: null }))),
  };
}

/** In what the two differ, in words; null: they can be planned as one. */
export function differenceOf(a: MouldingDefinition, b: MouldingDefinition): string | null {
  if (a.moulding !== b.moulding) return 'its definition differs';
  if (a.own !== b.own) return 'only one of them lists sticks of its own';
  const clash = (one: ReadonlyMap<string, string>, other: ReadonlyMap<string, string>) =>
    [...one].find(([id, text]) => other.has(id) && other.get(id) !== text)?.[0];
  const stick = clash(a.sticks, b.sticks);
  if (stick !== undefined) return `rack stick "${stick}" differs`;
  const offer = clash(a.offers, b.offers);
  return offer === undefined ? null : `offer "${offer}" differs`;
}

/** Whether a batch orders anything of a moulding. */
export function orders(frames: readonly FrameLine[], moulding: string): boolean {
  return frames.some((line) => line.moulding === moulding);
}
