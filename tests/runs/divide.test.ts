/** The division into runs against every division there is, and what no division may do. */
import { describe, expect, it } from 'vitest';
import { Annealing } from '../../src/runs/anneal/annealing.js';
import { Lanes, type LooseStick } from '../../src/runs/anneal/lanes.js';
import { DivisionState } from '../../src/runs/anneal/state.js';
import { begunMost } from '../../src/runs/begun.js';
import { initialRuns } from '../../src/runs/initial.js';
import { parted } from '../../src/runs/parted.js';
import type { Turns } from '../../src/runs/sawing.js';
import { tiesOf } from '../../src/runs/ties.js';
import { dice } from '../plan/batches.js';

interface Small {
  readonly turns: Turns;
  readonly sticks: readonly LooseStick[];
  readonly bench: number;
}

/** A few sticks of a few settings, each setting cut in pairs; some settings take two stops. */
function small(seed: number): Small {
  const at = dice(`divide ${seed}`);
  const items = at.whole(3, 7);
  const counts = Array.from({ length: at.whole(2, 7) }, () => {
    const own = new Map<number, number>();
    for (let more = at.whole(1, 4); more > 0; more--) own.set(at.whole(0, items - 1), at.whole(1, 3));
    return own;
  });
  // Every setting has whole pairs over all sticks.
  for (let item = 0; item < items; item++) {
    const all = counts.filter((own) => own.has(item));
    const sum = all.reduce((total, own) => total + own.get(item)!, 0);
    if (sum % 2 === 1) all[0]!.set(item, all[0]!.get(item)! + 1);
  }
  const numbers = Array.from({ length: items }, (_, item) => item);
  return {
    turns: {
      turnOf: numbers,
      stopOf: numbers,
      weight: numbers.map(() => (at.chance(0.2) ? 2 : 1)),
      together: numbers.map(() => 2),
      loose: numbers.map(() => -1),
    },
    sticks: counts.map((own) => {
      const sorted = [...own].sort(([a], [b]) => a - b);
      return { items: sorted.map(([item]) => item), counts: sorted.map(([, count]) => count), lanes: [] };
    }),
    bench: at.whole(1, 4),
  };
}

function begun({ turns, sticks }: Small, own: readonly number[]): number {
  const spans = own.map((stick) => ({ first: sticks[stick]!.items[0]!, last: sticks[stick]!.items.at(-1)! }));
  return begunMost(spans, turns.stopOf.length);
}

/** Stops set by these runs; null where a pair is parted or the bench overfull. */
function movesOf(one: Small, runs: readonly (readonly number[])[]): number | null {
  let moves = 0;
  for (const own of runs) {
    const rails = new Map<number, number>();
    for (const stick of own) {
      const { items, counts } = one.sticks[stick]!;
      for (const [i, item] of items.entries()) rails.set(item, (rails.get(item) ?? 0) + counts[i]!);
    }
    if ([...rails.values()].some((count) => count % 2 === 1) || begun(one, own) > one.bench) return null;
    for (const item of rails.keys()) moves += one.turns.weight[item]!;
  }
  return moves;
}

/** Every partition of the sticks. */
function* partitions(
  sticks: number,
  runs: number[][] = [],
  at = 0,
): Generator<readonly (readonly number[])[]> {
  if (at === sticks) {
    yield runs;
    return;
  }
  for (let run = 0; run <= runs.length; run++) {
    if (run === runs.length) runs.push([]);
    runs[run]!.push(at);
    yield* partitions(sticks, runs, at + 1);
    runs[run]!.pop();
    if (runs.at(-1)!.length === 0) runs.pop();
  }
}

function exhaustive(one: Small): number | null {
  let least: number | null = null;
  for (const runs of partitions(one.sticks.length)) {
    const moves = movesOf(one, runs);
    if (moves !== null && (least === null || moves < least)) least = moves;
  }
  return least;
}

function grouped(run: Iterable<number>): readonly (readonly number[])[] {
  const found: number[][] = [];
  let stick = 0;
  for (const own of run) {
    while (found.length <= own) found.push([]);
    found[own]!.push(stick++);
  }
  return found.filter((own) => own.length > 0);
}

function searched(one: Small, elapsed = (): number => 0): readonly (readonly number[])[] | null {
  const state = new DivisionState(one.turns, one.sticks, one.bench);
  const runs = initialRuns(one.turns, one.sticks, one.bench, { tied: true, chosen: true });
  for (const stick of one.sticks.keys()) {
    while (state.members.length <= runs[stick]!) state.open();
    state.add(stick, runs[stick]!);
  }
  while (state.members.length < one.sticks.length) state.open();
  for (const run of state.members.keys()) state.settle(run);
  const annealing = new Annealing(state, new Lanes(one.sticks, [], null), 1);
  annealing.run(4_000, elapsed);
  const { best } = annealing;
  if (best === null) return null;
  return grouped(best.run);
}

describe('sticks in runs', () => {
  it('set stops as seldom as any division of the same sticks, on 300 seeds', () => {
    let several = 0;
    for (let seed = 0; seed < 300; seed++) {
      const one = small(seed);
      const least = exhaustive(one);
      const found = searched(one);
      const moves = found === null ? null : movesOf(one, found);
      expect([seed, moves]).toEqual([seed, least]);
      if (found !== null && found.length > 1) several += 1;
    }
    expect(several).toBeGreaterThan(40);
  }, 60_000);
});

describe('a run that is overfull', () => {
  it('is parted where sticks complete each other, though its odd rails tie all of them together', () => {
    const stick = (...items: number[]): LooseStick => ({ items, counts: items.map(() => 1), lanes: [] });
    const { turns } = small(0);
    const own = {
      ...turns,
      turnOf: [0, 1, 2],
      stopOf: [0, 1, 2],
      weight: [1, 1, 1],
      together: [2, 2, 2],
      loose: [-1, -1, -1],
    };
    const sticks = [stick(0, 1), stick(0, 2), stick(0, 2), stick(0, 1)];
    expect(new Set(tiesOf(own, sticks))).toEqual(new Set([0]));
    expect(grouped(parted(own, sticks, 2))).toEqual([
      [0, 3],
      [1, 2],
    ]);
  });

  it('keeps whole pairs, and is parted in most cases in which it can be, on 300 seeds', () => {
    let [can, done] = [0, 0];
    for (let seed = 0; seed < 300; seed++) {
      const one = small(seed);
      const found = grouped(parted(one.turns, one.sticks, one.bench));
      expect([seed, movesOf({ ...one, bench: Number.POSITIVE_INFINITY }, found) !== null]).toEqual([
        seed,
        true,
      ]);
      if (exhaustive(one) === null) continue;
      can += 1;
      done += Number(movesOf(one, found) !== null);
    }
    expect(can).toBeGreaterThan(100);
    expect(done / can).toBeGreaterThan(0.95);
  }, 60_000);
});

describe('thousands of sticks that odd rails tie together', () => {
  // A plan of 46,000 lines had a run of 130 sticks begun at once that its layout did not tie, and was refused by its check.
  it('are tied as they are laid out wherever the bench does not hold them, on 4 seeds', () => {
    let overfull = 0;
    for (const seed of [4, 5, 6, 7]) {
      const at = dice(`tied ${seed}`);
      const items = Array.from({ length: 30 }, (_, item) => item);
      const contents = Array.from({ length: 120 }, () => {
        const own = new Set(Array.from({ length: 3 }, () => at.whole(0, 29)));
        return [...own].sort((a, b) => a - b);
      });
      const chosen = contents.flatMap((own) => Array.from({ length: at.whole(1, 31) }, () => own));
      const odd = items.filter((item) => chosen.filter((own) => own.includes(item)).length % 2 === 1);
      const sticks = [...chosen, ...odd.map((item) => [item])].map(
        (own): LooseStick => ({ items: own, counts: own.map(() => 1), lanes: [] }),
      );
      const turns: Turns = {
        turnOf: items,
        stopOf: items,
        weight: items.map(() => 1),
        together: items.map(() => 2),
        loose: items.map(() => -1),
      };
      const one = { turns, sticks, bench: 4 };
      const runs = grouped(parted(turns, sticks, one.bench));
      expect([seed, movesOf({ ...one, bench: Number.POSITIVE_INFINITY }, runs) !== null]).toEqual([
        seed,
        true,
      ]);
      for (const own of runs) {
        if (begun(one, own) <= one.bench) continue;
        overfull += 1;
        const ties = tiesOf(
          turns,
          own.map((stick) => sticks[stick]!),
        );
        expect([seed, new Set(ties).size]).toEqual([seed, 1]);
      }
    }
    expect(overfull).toBeGreaterThan(4);
  }, 60_000);

  // 50,171 sticks of 90,000 frames had one such run of 3,782, and the plan was refused by its check.
  it('are parted into runs that the bench holds', () => {
    const at = dice('thousands');
    const numbers = Array.from({ length: 20 }, (_, item) => item);
    const contents = Array.from({ length: 30 }, () => [
      ...new Set([at.whole(0, 19), at.whole(0, 19), at.whole(0, 19)]),
    ]);
    const chosen = Array.from({ length: 4_000 }, () => contents[at.whole(0, 29)]!);
    const odd = numbers.filter((item) => chosen.filter((own) => own.includes(item)).length % 2 === 1);
    const sticks = [...chosen, ...odd.map((item) => [item])].map((own): LooseStick => {
      const items = own.toSorted((a, b) => a - b);
      return { items, counts: items.map(() => 1), lanes: [] };
    });
    const turns: Turns = {
      turnOf: numbers,
      stopOf: numbers,
      weight: numbers.map(() => 1),
      together: numbers.map(() => 2),
      loose: numbers.map(() => -1),
    };
    const ties = tiesOf(turns, sticks);
    expect(ties.filter((root) => root === ties[0]).length).toBeGreaterThan(1_500);
    expect(movesOf({ turns, sticks, bench: 20 }, grouped(parted(turns, sticks, 20)))).not.toBeNull();
  });
});

describe('the clock', () => {
  it('only ends the search: slow or quick, what is found in time is the same', () => {
    for (let seed = 0; seed < 60; seed++) {
      let reads = 0;
      const slow = (): number => Math.min(0.99, (reads++ * 256) / 4_000);
      expect([seed, searched(small(seed), slow)]).toEqual([seed, searched(small(seed))]);
    }
  });

  it('leaves a sound division also where it ends the search at once, if the first one is sound', () => {
    for (let seed = 0; seed < 60; seed++) {
      const one = small(seed);
      const first = grouped(initialRuns(one.turns, one.sticks, one.bench, { tied: true, chosen: true }));
      if (movesOf(one, first) === null) continue;
      const found = searched(one, () => 1);
      expect([seed, found !== null && movesOf(one, found) !== null]).toEqual([seed, true]);
    }
  });
});

describe('sticks begun at once', () => {
  it('count from their first turn to their last, and those cut whole at a turn as one', () => {
    const spans = [
      { first: 0, last: 2 },
      { first: 1, last: 1 },
      { first: 1, last: 1 },
      { first: 2, last: 3 },
    ];
    expect(begunMost(spans, 4)).toBe(2);
    expect(begunMost([{ first: 0, last: 0 }], 1)).toBe(1);
    expect(begunMost([], 4)).toBe(0);
  });
});
