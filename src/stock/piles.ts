/** Rack pieces and offers as the engine's stocks. Sticks that serve no rail of the moulding are left out. */
import { type Cents, RAW_ENDS, type RackEntry, type Um, type Units } from '../terms.js';
import { clearSpans, lanesOf } from './lanes.js';
import type { Order } from './lines.js';
import { supplyOf } from './purchase.js';
import { kindsOf, spare } from './spacing.js';
import type { CutItem, GoalName, Grouped, Pile, Source, Spacing } from './task.js';

const UM_PER_UNIT: Readonly<Record<Units, Um>> = { in: 25_400, mm: 1_000 };

/** A length as money: one unit of length is worth one unit of money. */
export function lengthAsCents(length: Um, units: Units): Cents {
  return Math.round((length * 100) / UM_PER_UNIT[units]);
}

/** Goals of the moulding, most important first, and the one the plan's proof is about. */
export function goalsOf(
  rack: readonly RackEntry[],
  offers: number,
): { readonly goals: readonly GoalName[]; readonly proofGoal: number } {
  const valued = rack.some((entry) => entry.value !== null);
  // Where the shop says that pieces are worth the same, the short one is cut first.
  if (offers > 0 && valued) return { goals: ['cost', 'value', 'rack'], proofGoal: 0 };
  if (offers > 0) return { goals: rack.length > 0 ? ['cost', 'value'] : ['cost'], proofGoal: 0 };
  // Without prices of their own, rack pieces are worth their length: one goal, in whole micrometres.
  if (!valued) return { goals: ['length'], proofGoal: 0 };
  return { goals: ['value', 'length'], proofGoal: 1 };
}

interface Useful {
  readonly lanes: readonly number[];
  readonly segments: readonly number[];
}

function useful(source: Source, spacing: Spacing, items: readonly CutItem[]): Useful {
  const starts = kindsOf(spacing)?.start;
  const least = Math.min(...items.map((item) => item.weight + (starts?.[item.kind] ?? 0)));
  const extra = spare(spacing);
  const lanes: number[] = [];
  const segments: number[] = [];
  source.lanes.forEach((lane, i) => {
    const capacity = lane.to - lane.from + extra;
    if (capacity < least) return;
    lanes.push(i);
    segments.push(capacity);
  });
  return { lanes, segments };
}

export function pilesOf(
  units: Units,
  order: Order,
  goals: readonly GoalName[],
  { spacing, items }: Grouped,
): readonly Pile[] {
  const { moulding, rack, offers } = order;
  const piles = new Map<string, Pile>();
  for (const entry of [...rack].sort((a, b) => a.length - b.length)) {
    const clear = clearSpans(entry, moulding, spacing.recut);
    const { id: ref, length, quantity: copies, ends, flaws } = entry;
    const lanes = lanesOf(clear, spacing);
    const source: Source = { source: 'rack', ref, length, ends, flaws, clear, lanes, copies };
    const { lanes: serving, segments } = useful(source, spacing, items);
    if (segments.length === 0) continue;
    const value = entry.value ?? lengthAsCents(entry.length, units);
    const costs = goals.map((goal) => ({ cost: 0, value, length, rack: length })[goal]);
    const key = JSON.stringify([serving, segments, costs]);
    const pile = piles.get(key);
    piles.set(key, {
      sources: [...(pile?.sources ?? []), source],
      lanes: serving,
      segments,
      costs,
      supply: (pile?.supply ?? 0) + entry.quantity,
      offer: null,
    });
  }
  for (const offer of offers) {
    const supply = supplyOf(offer);
    if (supply === 0) continue;
    const clear = clearSpans({ length: offer.length }, moulding, spacing.recut);
    const { id: ref, length } = offer;
    const source: Source = {
      source: 'offer',
      ref,
      length,
      ends: RAW_ENDS,
      flaws: [],
      clear,
      lanes: lanesOf(clear, spacing),
      copies: supply,
    };
    const { lanes: serving, segments } = useful(source, spacing, items);
    if (segments.length === 0) continue;
    const costs = goals.map((goal) => ({ cost: offer.price, value: 0, length, rack: 0 })[goal]);
    piles.set(`offer ${offer.id}`, { sources: [source], lanes: serving, segments, costs, supply, offer });
  }
  return [...piles.values()];
}
