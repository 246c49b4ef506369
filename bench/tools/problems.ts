/** Seeded random problems of every kind the engine's problem statement allows. */
import type { Item, Kinds, Problem, Purchase, Stock } from '../../src/solve/problem.js';
import { type Random, seeded } from './random.js';

export interface Shape {
  /** Most distinct items, most of each, and most stocks. */
  readonly items: number;
  readonly demand: number;
  readonly stocks: number;
  /** Lengths range up to this. */
  readonly length: number;
  /** Share of stocks with limited supply, several segments, or packs and price breaks. */
  readonly limited: number;
  readonly flawed: number;
  readonly packed: number;
  readonly goals: number;
  /** `mouldings`: joints as geometry gives them, each at most any detour; `any`: arbitrary whole numbers. */
  readonly kinds: 'one' | 'mouldings' | 'any';
}

export const PLAIN: Shape = {
  items: 5,
  demand: 4,
  stocks: 1,
  length: 100,
  limited: 0,
  flawed: 0,
  packed: 0,
  goals: 1,
  kinds: 'one',
};

export function randomProblem(name: string, shape: Shape): Problem {
  const random = seeded(name);
  const scale = random.int(Math.min(12, shape.length), shape.length);
  const kerf = random.chance(0.5) ? random.int(0, Math.ceil(scale / 20)) : 0;
  const kindCount = shape.kinds === 'one' ? 1 : random.int(2, 3);
  const items = randomItems(random, shape, scale, kerf, kindCount);
  const longest = Math.max(...items.map((item) => item.weight));
  const stocks = Array.from({ length: random.int(1, shape.stocks) }, () =>
    randomStock(random, shape, scale, kerf, longest),
  );
  const kinds = shape.kinds === 'one' ? null : randomKinds(random, shape, kindCount, scale);
  return { items, stocks, kinds, goals: shape.goals };
}

/** Whole lengths from long to short, now and then two equal ones, each with the kerf of its joint. */
function randomItems(random: Random, shape: Shape, scale: number, kerf: number, kinds: number): Item[] {
  const shortest = Math.max(1, Math.floor(scale * random.pick([0.05, 0.15, 0.25])));
  const longest = Math.max(shortest, Math.floor(scale * random.pick([0.5, 0.8, 1])));
  const count = random.int(1, shape.items);
  const lengths = Array.from({ length: count }, () => random.int(shortest, longest));
  if (!random.chance(0.2)) lengths.sort((a, b) => b - a);
  return lengths.map((length) => ({
    weight: length + kerf,
    demand: random.int(1, shape.demand),
    kind: random.int(0, kinds - 1),
  }));
}

function randomStock(random: Random, shape: Shape, scale: number, kerf: number, longest: number): Stock {
  const fits = random.chance(0.9) ? longest : 0;
  const length = Math.max(fits, random.int(Math.ceil(scale / 2), scale)) + kerf;
  const segments = random.chance(shape.flawed)
    ? Array.from({ length: random.int(2, 3) }, () => random.int(0, length))
    : [length];
  const costs = Array.from({ length: shape.goals }, (_, goal) => randomCost(random, goal, length));
  const supply = random.chance(shape.limited) ? random.int(0, 6) : null;
  if (!random.chance(shape.packed)) return { segments, costs, supply, purchase: null };
  const purchase = randomPurchase(random, costs[0] ?? 1);
  // Whole packs; a price break may lie beyond the supply.
  const whole = supply === null ? null : Math.ceil(supply / purchase.pack) * purchase.pack;
  return { segments, costs, supply: whole, purchase };
}

function randomCost(random: Random, goal: number, length: number): number {
  if (goal > 0) return random.int(0, 4);
  return random.pick([1, length, Math.max(1, length + random.int(-5, 5)), random.int(1, 30)]);
}

function randomPurchase(random: Random, price: number): Purchase {
  const tiers = [{ from: 1, price: price + 2 }];
  let from = 1;
  for (let more = random.int(0, 2); more > 0; more--) {
    from += random.int(1, 4);
    tiers.push({ from, price: Math.max(1, (tiers.at(-1)?.price ?? 1) - random.int(1, 3)) });
  }
  return { pack: random.int(1, 3), tiers };
}

function randomKinds(random: Random, shape: Shape, count: number, scale: number): Kinds {
  const most = Math.max(1, Math.floor(scale / 8));
  const list = Array.from({ length: count }, (_, kind) => kind);
  if (shape.kinds === 'any')
    return {
      start: list.map(() => random.int(0, most)),
      joint: list.map(() => list.map(() => random.int(0, most))),
    };
  // As mitred rails have it (src/stock/spacing.ts): each weight holds its own joint; where angles meet, the larger counts.
  const blade = list.map(() => random.int(0, most));
  const nest = list.map(() => (random.chance(0.5) ? random.int(0, most) : 0));
  const unused = (kind: number): number => (blade[kind] ?? 0) - (nest[kind] ?? 0);
  const spare = Math.max(...list.map(unused));
  const joint = (a: number, b: number): number =>
    a === b ? 0 : Math.max(blade[a] ?? 0, blade[b] ?? 0) - unused(b);
  return {
    start: list.map((kind) => spare - unused(kind)),
    joint: list.map((a) => list.map((b) => joint(a, b))),
  };
}

/** A problem with one stock length and unit costs, as published instances state it. */
export function cuttingStock(
  capacity: number,
  sizes: readonly number[],
  demands: readonly number[],
): Problem {
  return withStocks(
    sizes.map((weight, i) => [weight, demands[i] ?? 0] as const),
    [{ length: capacity, cost: 1, supply: null }],
  );
}

export interface PlainStock {
  readonly length: number;
  readonly cost: number;
  readonly supply: number | null;
}

export function withStocks(
  items: readonly (readonly [weight: number, demand: number])[],
  stocks: readonly PlainStock[],
): Problem {
  return {
    items: items.map(([weight, demand]) => ({ weight, demand, kind: 0 })),
    stocks: stocks.map(({ length, cost, supply }) => ({
      segments: [length],
      costs: [cost],
      supply,
      purchase: null,
    })),
    kinds: null,
    goals: 1,
  };
}
