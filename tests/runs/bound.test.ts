/** The least number of stops set, against every way to cut a few pieces and to divide them into runs. */
import { describe, expect, it } from 'vitest';
import { begunMost } from '../../src/runs/begun.js';
import { stopsBound } from '../../src/runs/bound.js';
import type { Turns } from '../../src/runs/sawing.js';
import type { MouldingTask } from '../../src/stock/task.js';
import { dice } from '../plan/batches.js';

interface Few {
  readonly weights: readonly number[];
  /** Item of each rail, longest first. */
  readonly rails: readonly number[];
  readonly capacities: readonly number[];
  readonly bench: number;
}

function few(seed: number): Few {
  const at = dice(`stops bound ${seed}`);
  const weights = Array.from({ length: at.whole(1, 3) }, () => at.whole(2, 9)).sort((a, b) => b - a);
  const rails = weights.flatMap((_, item) => Array.from({ length: at.whole(1, 4) }, () => item)).slice(0, 7);
  const length = rails.reduce((sum, item) => sum + weights[item]!, 0);
  const pieces = at.whole(1, 4);
  const each = Math.max(weights[0]!, Math.ceil((length * (1 + at.whole(0, 4) / 10)) / pieces));
  const capacities = Array.from({ length: pieces }, () => each + at.whole(0, 2));
  return { weights, rails, capacities, bench: at.whole(1, 3) };
}

/** Every way to put numbered things into groups. */
function* partitions(count: number): Generator<readonly number[]> {
  const own: number[] = [];
  function* next(groups: number): Generator<readonly number[]> {
    if (own.length === count) {
      yield own;
      return;
    }
    for (let group = 0; group <= groups; group++) {
      own.push(group);
      yield* next(Math.max(groups, group + 1));
      own.pop();
    }
  }
  yield* next(0);
}

function stopsOf(sticks: readonly ReadonlySet<number>[], bench: number): number {
  let least = Number.POSITIVE_INFINITY;
  for (const runOf of partitions(sticks.length)) {
    let stops = 0;
    for (let run = 0; run <= Math.max(...runOf); run++) {
      const own = sticks.filter((_, k) => runOf[k] === run);
      const spans = own.map((items) => ({ first: Math.min(...items), last: Math.max(...items) }));
      if (begunMost(spans, 3) > bench) stops = Number.POSITIVE_INFINITY;
      stops += new Set(own.flatMap((items) => [...items])).size;
    }
    least = Math.min(least, stops);
  }
  return least;
}

/** The fewest stops of all ways to cut just these pieces; infinite where there is none. */
function fewestStops({ weights, rails, capacities, bench }: Few): number {
  const left = [...capacities];
  const held = capacities.map(() => new Map<number, number>());
  const known = new Map<string, number>();
  let least = Number.POSITIVE_INFINITY;
  const lay = (k: number): void => {
    if (k === rails.length) {
      if (held.some(({ size }) => size === 0)) return;
      const sticks = held.map((items) => new Set(items.keys()));
      const key = sticks
        .map((items) => [...items].reduce((sum, one) => sum + 2 ** one, 0))
        .sort((a, b) => a - b)
        .join();
      const stops = known.get(key) ?? stopsOf(sticks, bench);
      known.set(key, stops);
      least = Math.min(least, stops);
      return;
    }
    const item = rails[k]!;
    for (let piece = 0; piece < left.length; piece++) {
      if (left[piece]! < weights[item]!) continue;
      const before = held[piece]!.get(item) ?? 0;
      left[piece]! -= weights[item]!;
      held[piece]!.set(item, before + 1);
      lay(k + 1);
      left[piece]! += weights[item]!;
      if (before === 0) held[piece]!.delete(item);
      else held[piece]!.set(item, before);
    }
  };
  lay(0);
  return least;
}

function boundOf({ weights, rails, capacities, bench }: Few): number {
  const numbers = weights.map((_, item) => item);
  const task = {
    spacing: { mitres: [45] },
    piles: capacities.map((length) => ({ segments: [length] })),
    items: weights.map((weight) => ({ weight })),
  } as unknown as MouldingTask;
  const turns: Turns = {
    turnOf: numbers,
    stopOf: numbers,
    weight: numbers.map(() => 1),
    together: numbers.map(() => 1),
    loose: numbers.map(() => -1),
  };
  // Which rails lie where does not matter to the bound.
  const patterns = capacities.map((_, stock) => ({
    stock,
    count: 1,
    segments: [stock === 0 ? rails.map((item) => ({ item, count: 1 })) : []],
  }));
  return stopsBound(task, turns, patterns, bench);
}

describe('the least number of stops set', () => {
  it('is never above the fewest of all ways to cut and divide, and often just that', () => {
    let [reached, beyond, cases] = [0, 0, 0];
    for (let seed = 0; seed < 400; seed++) {
      const one = few(seed);
      const least = fewestStops(one);
      if (least === Number.POSITIVE_INFINITY) continue;
      const bound = boundOf(one);
      expect({ seed, sound: bound <= least }).toEqual({ seed, sound: true });
      cases += 1;
      reached += Number(bound === least);
      beyond += Number(bound > new Set(one.rails).size);
    }
    expect(cases).toBeGreaterThan(150);
    expect(reached / cases).toBeGreaterThan(0.5);
    expect(beyond).toBeGreaterThan(1);
  });
});
