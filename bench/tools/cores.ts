/**
 * Instances whose fractional optimum is whole and has no waste, while a whole plan may need one stick more: the class
 * of the augmented instances of Delorme, Iori and Martello (2016), by a construction of our own.
 *
 * The ten rails of a half core stand for the edges of the complete graph on five vertices, weighted so that the four at
 * each vertex fill a stick. Cutting each vertex's pattern half a time makes every rail, from two and a half sticks; any
 * two vertices share an edge, so that whole sticks of these patterns make four rails of ten, and two half cores need
 * six sticks instead of five unless other patterns happen to fill. Triplets that fill a stick are added around them.
 */
import type { Problem } from '../../src/solve/problem.js';
import { cuttingStock } from './problems.js';
import { type Random, seeded } from './random.js';

const VERTICES = [0, 1, 2, 3, 4] as const;
const EDGES = VERTICES.flatMap((i) => VERTICES.filter((j) => j < i).map((j) => [i, j] as const));

function half(random: Random, stick: number): number[] {
  for (;;) {
    const rough = EDGES.map(() => random.int(Math.ceil(stick * 0.15), Math.floor(stick * 0.35)));
    const missing = VERTICES.map((v) =>
      EDGES.reduce((rest, edge, e) => (edge.includes(v) ? rest - (rough[e] ?? 0) : rest), stick),
    );
    // Adding p[i] + p[j] to edge ij puts every vertex right when 3 p[v] + Σ p = missing[v].
    const sum = missing.reduce((a, b) => a + b, 0) / 8;
    const put = missing.map((m) => (m - sum) / 3);
    const rails = EDGES.map(([i, j], e) => (rough[e] ?? 0) + (put[i] ?? 0) + (put[j] ?? 0));
    if (rails.every((w) => Number.isInteger(w) && w > 0.05 * stick && w < 0.6 * stick)) return rails;
  }
}

function triplet(random: Random, stick: number): number[] {
  for (;;) {
    const a = random.int(Math.ceil(stick * 0.3), Math.floor(stick * 0.75));
    const b = random.int(Math.ceil(stick * 0.1), Math.floor(stick * 0.5));
    const c = stick - a - b;
    if (c > 0.03 * stick) return [a, b, c];
  }
}

/** The fifteen edges of the complete graph on six vertices, weighted so that the five at each vertex fill a stick. */
function sixfold(random: Random, stick: number): number[] {
  const vertices = [...VERTICES, 5];
  const edges = vertices.flatMap((i) => vertices.filter((j) => j < i).map((j) => [i, j] as const));
  for (;;) {
    const rough = edges.map(() => random.int(Math.ceil(stick * 0.08), Math.floor(stick * 0.32)));
    const missing = vertices.map((v) =>
      edges.reduce((rest, edge, e) => (edge.includes(v) ? rest - (rough[e] ?? 0) : rest), stick),
    );
    // As for five: 4 p[v] + Σ p = missing[v].
    const sum = missing.reduce((a, b) => a + b, 0) / 10;
    const put = missing.map((m) => (m - sum) / 4);
    const rails = edges.map(([i, j], e) => (rough[e] ?? 0) + (put[i] ?? 0) + (put[j] ?? 0));
    if (rails.every((w) => Number.isInteger(w) && w > 0.03 * stick && w < 0.5 * stick)) return rails;
  }
}

/** One rail longer than half a stick, and two that fill the rest. */
function longTriplet(random: Random, stick: number): number[] {
  const a = random.int(Math.ceil(stick * 0.5) + 1, Math.floor(stick * 0.85));
  const b = random.int(Math.ceil((stick - a) * 0.1), Math.floor((stick - a) * 0.5));
  return [a, b, stick - a - b];
}

export interface AroundSix {
  readonly rails: number;
  readonly stick: number;
  /** Each triplet with one rail longer than half a stick. */
  readonly long: boolean;
  /** One rail of the core parted in two, at random. */
  readonly parted: boolean;
}

/**
 * Fifteen rails that are three sticks in fractions and four in whole numbers (the edges of a complete graph on six
 * vertices: any two vertices share one), and triplets around them: `rails` in all, and one more where one is parted.
 * `name` is the seed.
 */
export function aroundSix(name: string, { rails: count, stick, long, parted }: AroundSix): Problem {
  const random = seeded(name);
  const rails = sixfold(random, stick);
  while (rails.length < count) rails.push(...(long ? longTriplet : triplet)(random, stick));
  if (parted) {
    const k = random.int(0, 14);
    const length = rails[k]!;
    const part = random.int(1, length - 1);
    rails.splice(k, 1, part, length - part);
  }
  const demand = new Map<number, number>();
  for (const rail of rails) demand.set(rail, (demand.get(rail) ?? 0) + 1);
  return cuttingStock(stick, [...demand.keys()], [...demand.values()]);
}

/** Lengths that rails come to in all, up to a stick; answers how many are new. */
function addSums(sums: Uint8Array, rail: number): number {
  let more = 0;
  for (let to = sums.length - 1; to >= rail; to--) {
    if (sums[to] === 1 || sums[to - rail] === 0) continue;
    sums[to] = 1;
    more++;
  }
  return more;
}

export interface GrownCore {
  readonly rails: number;
  readonly stick: number;
  /** The core is made of three whole sticks, so that there is a plan without waste. */
  readonly whole: boolean;
  /**
   * One rail of the core parted in two at last: at random, so that whether a stick more is needed then is not known, or so
   * that the core fills three sticks and the whole has a plan without waste.
   */
  readonly parted: 'no' | 'anyhow' | 'with a plan';
}

/** Triplets drawn for each that is taken, draws before there are none, and cores begun with. */
const GROWTH_CHOICE = 30;
const GROWTH_DRAWS = 200_000;
const GROWTH_STARTS = 20;

/** Fifteen rails that fill three sticks. */
function wholeCore(random: Random, stick: number): number[] {
  return Array.from({ length: 3 }, () => {
    const rails = Array.from({ length: 4 }, () =>
      random.int(Math.ceil(stick * 0.12), Math.floor(stick * 0.22)),
    );
    return [...rails, rails.reduce((left, rail) => left - rail, stick)];
  }).flat();
}

function waysToFill(rails: readonly number[], stick: number): number {
  const ways = new Float64Array(stick + 1).fill(1, 0, 1);
  for (const rail of rails) {
    for (let to = stick; to >= rail; to--) ways[to] = ways[to]! + ways[to - rail]!;
  }
  return ways[stick]!;
}

/**
 * A core of fifteen rails that are three sticks in fractions and four in whole numbers, and triplets around it, each with
 * a rail that no filling of the rails before it goes with: a plan without waste has to cut the last triplet from one stick,
 * then the one before, and so on to the core. Of thirty triplets the one is taken that makes fewest new lengths. `name` is
 * the seed.
 */
export function grownCore(name: string, shape: GrownCore): Problem {
  const random = seeded(name);
  let rails = grown(random, shape);
  for (let start = 1; !rails && start < GROWTH_STARTS; start++) rails = grown(random, shape);
  if (!rails) throw new RangeError(`${name}: so many rails do not grow on so short a stick`);
  const demand = new Map<number, number>();
  for (const rail of rails) demand.set(rail, (demand.get(rail) ?? 0) + 1);
  return cuttingStock(shape.stick, [...demand.keys()], [...demand.values()]);
}

/** Null where a triplet is wanted and there is none. */
function grown(random: Random, { rails: count, stick, whole, parted }: GrownCore): number[] | null {
  const least = Math.ceil(0.1 * stick);
  const draw = whole ? wholeCore : sixfold;
  let core = draw(random, stick);
  const unfit = (): boolean =>
    (whole ? waysToFill(core, stick) < 4 : waysToFill(core, stick) !== 6) ||
    (parted === 'with a plan' && splits(core, stick).length === 0);
  while (unfit()) core = draw(random, stick);
  const rails = core.slice();
  let sums = new Uint8Array(stick + 1).fill(1, 0, 1);
  for (const rail of rails) addSums(sums, rail);
  while (rails.length < count) {
    let best: { readonly three: readonly number[]; readonly sums: Uint8Array<ArrayBuffer> } | null = null;
    let fewest = Infinity;
    for (let draw = 0, taken = 0; taken < GROWTH_CHOICE && draw < GROWTH_DRAWS; draw++) {
      const a = random.int(least, stick >> 1);
      const b = random.int(least, stick >> 1);
      const c = stick - a - b;
      if (c < least || a === b || b === c || a === c) continue;
      const three = [a, b, c];
      const lone = three.some(
        (rail) => sums[stick - rail] === 0 && three.every((other) => other === rail || sums[other] === 0),
      );
      if (!lone) continue;
      taken++;
      const more = sums.slice();
      const fresh = three.reduce((sum, rail) => sum + addSums(more, rail), 0);
      if (fresh < fewest) [fewest, best] = [fresh, { three, sums: more }];
    }
    if (!best) return null;
    rails.push(...best.three);
    sums = best.sums;
  }
  if (parted !== 'no') {
    const length = random.pick(core);
    const parts = { length, short: random.int(1, length - 1) };
    const { length: whole, short } = parted === 'anyhow' ? parts : random.pick(splits(core, stick));
    rails.splice(rails.indexOf(whole), 1, short, whole - short);
  }
  return rails;
}

interface Split {
  readonly length: number;
  readonly short: number;
}

/** Rails of a core whose parting in two lets the core fill three sticks. */
function splits(core: readonly number[], stick: number): Split[] {
  const found: Split[] = [];
  for (const length of core) {
    const others = core.filter((rail) => rail !== length);
    const left = [stick, stick, stick];
    const share = (k: number): void => {
      if (k === others.length) {
        if (left[0] === 0 && left[1]! > 0 && left[1]! < left[2]!) found.push({ length, short: left[1]! });
        return;
      }
      for (let s = 0; s < 3; s++) {
        if (left[s]! < others[k]!) continue;
        left[s]! -= others[k]!;
        share(k + 1);
        left[s]! += others[k]!;
      }
    };
    share(0);
  }
  return found;
}

/** 20 + 3 · triplets rails for sticks of one length; `name` is the seed. */
export function aroundCore(name: string, stick: number, triplets: number): Problem {
  const random = seeded(name);
  const rails = [...half(random, stick), ...half(random, stick)];
  for (let t = 0; t < triplets; t++) rails.push(...triplet(random, stick));
  const demand = new Map<number, number>();
  for (const rail of rails) demand.set(rail, (demand.get(rail) ?? 0) + 1);
  return cuttingStock(stick, [...demand.keys()], [...demand.values()]);
}
