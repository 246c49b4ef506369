/** Seeded random batches of every kind the contract allows, small enough to plan by the hundred. */
import type { BatchDocument } from '../../src/documents/batch/schema.js';

export interface Dice {
  /** A whole number from `low` to `high`. */
  readonly whole: (low: number, high: number) => number;
  readonly pick: <T>(from: readonly T[]) => T;
  readonly chance: (share: number) => boolean;
}

/** Mulberry32, seeded by an FNV-1a hash of the case's name. */
export function dice(name: string): Dice {
  let state = 0x811c9dc5;
  for (const character of name) state = Math.imul(state ^ (character.codePointAt(0) ?? 0), 0x01000193);
  const next = (): number => {
    state = (state + 0x6d2b79f5) | 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
  const whole = (low: number, high: number): number => low + Math.floor(next() * (high - low + 1));
  return { whole, pick: (from) => from[whole(0, from.length - 1)]!, chance: (share) => next() < share };
}

type Frame = BatchDocument['frames'][number];
type Stick = NonNullable<BatchDocument['sticks']>[number];
type Offer = NonNullable<BatchDocument['offers']>[number];
type Moulding = BatchDocument['mouldings'][number];

const INCH_PARTS = ['', ' 1/2', ' 3/8', ' 5/16', ' 7/32'] as const;

/** Lengths in the batch's units: whole inches with a fraction, or millimetres with a decimal. */
function lengths(units: 'in' | 'mm', { whole, pick }: Dice) {
  return (low: number, high: number): string | number => {
    const inches = whole(low, high);
    return units === 'in' ? `${inches}${inches > 0 ? pick(INCH_PARTS) : ''}` : inches * 25 + whole(0, 9) / 10;
  };
}

export interface Kind {
  readonly reversible?: boolean;
  /** Rack only, or offers that may not be enough. */
  readonly scarce?: boolean;
}

function frameOf(id: string, moulding: string, at: Dice, size: ReturnType<typeof lengths>): Frame {
  const common = {
    id,
    moulding,
    quantity: at.whole(1, 4),
    measuredBy: at.pick(['glass', 'rabbet', 'sight', 'outside'] as const),
    match: at.pick(['stop', 'stop', 'pair', 'frame'] as const),
    ...(at.chance(0.3) ? { play: at.pick(['1/16 in', '3 mm', '0 mm']) } : {}),
  };
  if (at.chance(0.25)) return { ...common, sides: at.pick([3, 5, 6, 8]), side: size(6, 9) };
  return { ...common, width: size(7, 16), height: at.chance(0.2) ? '9 in' : size(7, 16) };
}

function stickOf(id: string, moulding: string, at: Dice, size: ReturnType<typeof lengths>): Stick {
  const flaws: Stick['flaws'] = at.chance(0.4)
    ? [[size(0, 20), size(22, 25)], ...(at.chance(0.3) ? [['31 in', '31.05 in'] as const] : [])]
    : [];
  return {
    id,
    moulding,
    length: size(50, 110),
    quantity: at.whole(1, 3),
    flaws,
    ...(at.chance(0.25) ? { value: at.pick([0, 4.5, 12]) } : {}),
  };
}

function offerOf(id: string, moulding: string, at: Dice, scarce: boolean): Offer {
  const pack = at.pick([1, 1, 1, 2, 3]);
  const price = at.whole(800, 3000) / 100;
  return {
    id,
    moulding,
    length: at.pick(["8'", "10'", "12'", '2.4 m']),
    ...(at.chance(0.8) ? { price } : {}),
    pack,
    ...(scarce || at.chance(0.3) ? { available: pack * at.whole(1, scarce ? 2 : 6) } : {}),
    ...(at.chance(0.3) ? { breaks: [{ from: at.whole(2, 5), price: Math.min(price, 8) }] } : {}),
  };
}

/** A batch of one to three mouldings. Every frame fits at least the sticks of 8 feet that are always there. */
export function randomBatch(name: string, kind: Kind = {}): BatchDocument {
  const at = dice(name);
  const units = at.pick(['in', 'mm'] as const);
  const size = lengths(units, at);
  const scarce = kind.scarce === true;
  const mouldings: Moulding[] = Array.from({ length: at.whole(1, scarce ? 1 : 3) }, (_, m) => {
    const reversible = kind.reversible ?? at.chance(0.4);
    return {
      id: `m${m}`,
      face: at.pick(['1 in', '1 1/4 in', '30 mm', '18.5 mm']),
      rabbet: reversible ? 0 : at.pick([0, '1/4 in', '6 mm']),
      reversible,
      endTrim: at.pick([0, '1/2 in', '5 mm']),
      keepOver: at.pick([0, '12 in', '400 mm']),
    };
  });
  const frames: Frame[] = [];
  const sticks: Stick[] = [];
  const offers: Offer[] = [];
  for (const { id } of mouldings) {
    const priced = at.chance(scarce ? 0.5 : 0.85);
    const lines = at.whole(1, 4);
    for (let i = 0; i < lines; i++) frames.push(frameOf(`${id}-F${i}`, id, at, size));
    sticks.push({ id: `${id}-long`, moulding: id, length: "10'", quantity: scarce || priced ? 1 : 60 });
    for (let i = at.whole(0, 3); i > 0; i--) sticks.push(stickOf(`${id}-r${i}`, id, at, size));
    if (!priced) continue;
    offers.push({
      id: `${id}-o0`,
      moulding: id,
      length: "10'",
      price: 21,
      ...(scarce ? { available: 1 } : {}),
    });
    for (let i = at.whole(0, 2); i > 0; i--) offers.push(offerOf(`${id}-o${i}`, id, at, scarce));
  }
  return {
    schema: 'pairstop/batch@1',
    id: name,
    units,
    saw: {
      kerf: at.pick(['1/8 in', '3/32 in', '3 mm', 0]),
      recut: at.pick([0, '1/16 in', '6 mm']),
      ...(at.chance(0.5) ? { stopStep: at.pick(['1/32 in', '0.5 mm', '1 mm', '1/16 in']) } : {}),
    },
    mouldings,
    frames,
    sticks,
    offers,
    gauges: [{ id: 'G1', length: '9 in' }],
    options: { timeLimit: 2, seed: at.whole(0, 1000) },
  };
}
