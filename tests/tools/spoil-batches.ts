/** Seeded batches of everything the contract allows, small enough to be planned by the dozen. */

import { type Random, seeded } from '../../bench/tools/random.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';

type Frame = BatchDocument['frames'][number];
type Moulding = BatchDocument['mouldings'][number];
type Offer = NonNullable<BatchDocument['offers']>[number];
type Stick = NonNullable<BatchDocument['sticks']>[number];

/** Millimetres with up to three decimals, or a mark on a rule in inches, as text with its unit. */
function length(random: Random, from: number, to: number): string {
  if (random.chance(0.4)) {
    const marks = random.int(Math.ceil((from / 25.4) * 32), Math.floor((to / 25.4) * 32));
    return `${Math.floor(marks / 32)} ${marks % 32}/32 in`.replace(' 0/32', '');
  }
  return `${random.int(from * 1000, to * 1000) / 1000} mm`;
}

function frame(random: Random, id: string, moulding: string): Frame {
  const common = {
    id,
    moulding,
    quantity: random.pick([1, 1, 2, 3]),
    measuredBy: random.pick(['glass', 'rabbet', 'sight', 'outside'] as const),
    play: random.pick(['3 mm', '1/8 in', '0 mm']),
    match: random.pick(['stop', 'stop', 'pair', 'frame'] as const),
    ...(random.chance(0.3) ? { playMax: '5 mm' } : {}),
  };
  if (random.chance(0.3)) {
    return { ...common, sides: random.pick([3, 4, 5, 6, 8]), side: length(random, 250, 400) };
  }
  const width = length(random, 250, 500);
  return { ...common, width, height: random.chance(0.2) ? width : length(random, 250, 500) };
}

function flaws(random: Random, stick: number): [string, string][] {
  const found: [string, string][] = [];
  let at = random.int(100, 900);
  while (at < stick - 200 && random.chance(0.6)) {
    // Some narrower than the blade.
    const to = at + random.pick([0.5, 2, 5, 40]);
    found.push([`${at} mm`, `${to} mm`]);
    at = Math.ceil(to) + random.int(1, 1500);
  }
  return found;
}

function rackOf(random: Random, moulding: string, count: number): Stick[] {
  return Array.from({ length: count }, (_, i) => {
    const stick = random.int(600, 3500);
    return {
      id: `${moulding}-r${i + 1}`,
      moulding,
      length: `${stick} mm`,
      quantity: random.int(1, 2),
      flaws: flaws(random, stick),
      ...(random.chance(0.3) ? { value: random.int(0, 900) / 100 } : {}),
    };
  });
}

function offer(random: Random, moulding: string, at: number): Offer {
  const price = random.int(500, 4000) / 100;
  return {
    id: `${moulding}-o${at}`,
    moulding,
    length: `${random.int(2400, 6000)} mm`,
    price,
    pack: random.pick([1, 1, 2, 3]),
    ...(random.chance(0.3) ? { available: random.int(3, 12) } : {}),
    ...(random.chance(0.4)
      ? { breaks: [{ from: random.int(2, 6), price: Math.floor(price * 80) / 100 }] }
      : {}),
  };
}

export function contractBatch(name: string): BatchDocument {
  const random = seeded(name);
  const units = random.pick(['in', 'mm'] as const);
  const mouldings = Array.from({ length: random.int(1, 2) }, (_, i): Moulding => {
    const reversible = random.chance(0.4);
    return {
      id: `m${i + 1}`,
      face: length(random, 15, 60),
      rabbet: reversible ? 0 : '6 mm',
      reversible,
      endTrim: random.pick(['0 mm', '1/2 in', '10 mm']),
      keepOver: random.pick(['0 mm', '12 in', '300 mm']),
    };
  });
  const sold = mouldings.map(() => random.chance(0.75));
  return {
    schema: 'pairstop/batch@1',
    id: name,
    units,
    saw: {
      kerf: random.pick(['1/8 in', '3/32 in', '3 mm', '0 mm']),
      recut: random.pick(['0 mm', '1/16 in', '1.5 mm']),
      stopStep: random.pick(['1/32 in', '1/16 in', '0.5 mm', '1 mm']),
    },
    mouldings,
    frames: mouldings.flatMap(({ id }, m) =>
      Array.from({ length: random.int(1, 5) }, (_, i) => frame(random, `F${m + 1}${i + 1}`, id)),
    ),
    sticks: mouldings.flatMap(({ id }, m) => rackOf(random, id, random.int(sold[m] ? 0 : 2, 5))),
    offers: mouldings.flatMap(({ id }, m) =>
      sold[m] ? Array.from({ length: random.int(1, 3) }, (_, i) => offer(random, id, i + 1)) : [],
    ),
    gauges: [{ id: 'G1', length: length(random, 300, 600) }],
    options: { timeLimit: 2, mergeStops: random.chance(0.3), seed: 1 },
  };
}
