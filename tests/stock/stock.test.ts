import { describe, expect, it } from 'vitest';
import { checkBatch } from '../../src/documents/batch/read.js';
import { impossibleIn, surelyFits } from '../../src/stock/impossible.js';
import { clearSpans, lanesOf } from '../../src/stock/lanes.js';
import { sortOrders } from '../../src/stock/lines.js';
import { allCopies, problemOf, taskOf } from '../../src/stock/problem.js';
import { purchase } from '../../src/stock/purchase.js';
import { refusals } from '../../src/stock/refusals.js';
import { ResolvedBatch } from '../../src/stock/resolved.js';
import { cutsOf, kindsOf, nested, railWeight, runLength, spare, standings } from '../../src/stock/spacing.js';
import type { Spacing } from '../../src/stock/task.js';
import type { Moulding, Offer } from '../../src/terms.js';
import { dice, randomBatch } from '../plan/batches.js';

const PROFILED: Spacing = {
  reversible: false,
  recut: 1588,
  mitres: [
    { sides: 4, angle: 45, blade: 3368, nest: 31_750 },
    { sides: 6, angle: 30, blade: 2750, nest: 18_330 },
  ],
};
const REVERSIBLE: Spacing = { ...PROFILED, reversible: true };

function moulding(endTrim: number): Moulding {
  const face = { num: 31_750n, den: 1n };
  return { id: 'm', face, rabbet: { num: 0n, den: 1n }, reversible: false, endTrim, keepOver: 0 };
}

describe('spacing', () => {
  it('puts long points of profiled neighbours one blade and the recut apart', () => {
    const rails = [500_000, 400_000].map((length) => ({ kind: 0, length }));
    expect(standings(PROFILED, 12_700, rails)).toEqual([
      { start: 12_700, flipped: false },
      { start: 12_700 + 500_000 + 3368 + 1588, flipped: false },
    ]);
  });

  it('nests and flips neighbours of reversible stock', () => {
    const rails = [500_000, 400_000, 300_000].map((length) => ({ kind: 0, length }));
    expect(standings(REVERSIBLE, 0, rails)).toEqual([
      { start: 0, flipped: false },
      { start: 500_000 - 31_750 + 3368, flipped: true },
      { start: 900_000 - 2 * (31_750 - 3368), flipped: false },
    ]);
  });

  it('does not nest unlike angles: the larger blade and the recut, long edges on one side', () => {
    const rails = [
      { kind: 0, length: 500_000 },
      { kind: 0, length: 500_000 },
      { kind: 1, length: 400_000 },
    ];
    const [, second, third] = standings(REVERSIBLE, 0, rails);
    expect(third).toEqual({ start: (second?.start ?? 0) + 500_000 + 3368 + 1588, flipped: true });
  });

  // Trade formulas: Σ L + (n−1)(k' + recut), and Σ (L − F·tan θ) + (n−1)·k' + F·tan θ.
  it('needs the length of the trade formulas', () => {
    const lengths = [500_000, 400_000, 300_000];
    expect(runLength(PROFILED, 0, lengths)).toBe(1_200_000 + 2 * (3368 + 1588));
    expect(runLength(REVERSIBLE, 0, lengths)).toBe(1_200_000 - 3 * 31_750 + 2 * 3368 + 31_750);
    expect(runLength(REVERSIBLE, 1, [400_000])).toBe(400_000);
  });

  it.each([
    ['profiled', PROFILED],
    ['reversible', REVERSIBLE],
  ])('agrees with the weights the engine is given, to the micrometre: %s', (name, spacing) => {
    const at = dice(`weights ${name}`);
    const kinds = kindsOf(spacing);
    for (let round = 0; round < 500; round++) {
      const rails = Array.from({ length: at.whole(1, 8) }, () => ({
        kind: at.whole(0, 1),
        length: at.whole(80_000, 900_000),
      }));
      const from = at.whole(0, 20_000);
      const stand = standings(spacing, from, rails);
      const end = stand.at(-1)!.start + rails.at(-1)!.length;
      let used = kinds!.start[rails[0]!.kind]!;
      rails.forEach(({ kind, length }, i) => {
        used += railWeight(spacing, kind, length);
        if (i > 0) used += kinds!.joint[rails[i - 1]!.kind]![kind]!;
      });
      expect(end - from).toBe(used - spare(spacing));
    }
  });

  it('never hands the engine a negative joint', () => {
    for (const spacing of [PROFILED, REVERSIBLE]) {
      const kinds = kindsOf(spacing);
      expect(Math.min(...(kinds?.start ?? [-1]), ...(kinds?.joint.flat() ?? [-1]))).toBeGreaterThanOrEqual(0);
    }
    expect(kindsOf({ ...PROFILED, mitres: PROFILED.mitres.slice(0, 1) })).toBeNull();
  });

  it('counts cuts: two a rail, or one a nested rail and one more a row', () => {
    expect(cutsOf(PROFILED, [0, 0, 1])).toBe(6);
    expect(cutsOf(REVERSIBLE, [0, 0, 0])).toBe(4);
    expect(cutsOf(REVERSIBLE, [0, 0, 1, 0])).toBe(7);
    expect(nested(REVERSIBLE, [0, 0, 1, 0])).toEqual([0, 0]);
    expect(nested(PROFILED, [0, 0])).toEqual([]);
  });
});

describe('clear spans', () => {
  it('lie between the trims, without the flaws, and need no trim at a flaw', () => {
    const flaws = [
      [0, 5_000],
      [500_000, 520_000],
    ] as const;
    expect(clearSpans({ length: 1_000_000, flaws }, moulding(12_700), 0)).toEqual([
      { from: 12_700, to: 500_000 },
      { from: 520_000, to: 987_300 },
    ]);
  });

  it('are none where the trims or a flaw take it all', () => {
    expect(clearSpans({ length: 20_000 }, moulding(12_700), 0)).toEqual([]);
    expect(clearSpans({ length: 100_000, flaws: [[0, 100_000]] }, moulding(0), 0)).toEqual([]);
  });

  it('reach to an end that is sawn or mitred, but for what meeting it with the saw takes', () => {
    const stick = { length: 1_000_000, ends: ['mitred', 'raw'] } as const;
    expect(clearSpans(stick, moulding(12_700), 0)).toEqual([{ from: 0, to: 987_300 }]);
    expect(clearSpans(stick, moulding(12_700), 1_500)).toEqual([{ from: 1_500, to: 987_300 }]);
    expect(clearSpans({ ...stick, ends: ['raw', 'sawn'] }, moulding(1_000), 1_500)).toEqual([
      { from: 1_000, to: 999_000 },
    ]);
  });

  it('leave room for the blade across a narrow flaw', () => {
    const clear = clearSpans({ length: 1_000_000, flaws: [[500_000, 501_000]] }, moulding(0), 0);
    expect(lanesOf(clear, PROFILED)).toEqual([
      { from: 0, to: 500_000 },
      { from: 500_000 + 3368 + 1588, to: 1_000_000 },
    ]);
  });
});

describe('purchases', () => {
  function offer(price: number, pack: number, breaks: Offer['breaks'], available: number | null): Offer {
    return {
      id: 'o',
      moulding: 'm',
      length: 1,
      price,
      priced: true,
      available,
      pack,
      breaks,
      supplier: null,
    };
  }

  it('cost the least of all larger purchases, tried one by one', () => {
    const at = dice('purchases');
    for (let round = 0; round < 500; round++) {
      const price = at.whole(100, 3000);
      const pack = at.whole(1, 6);
      const from = at.whole(2, 30);
      const breaks = at.chance(0.7) ? [{ from, price: at.whole(50, price) }] : [];
      const available = at.chance(0.5) ? pack * at.whole(5, 20) : null;
      const used = at.whole(1, pack * 5);
      const tried = Array.from({ length: 400 }, (_, i) => used + i)
        .filter((n) => n % pack === 0 && (available === null || n <= available))
        .map((n) => n * (breaks[0] !== undefined && n >= breaks[0].from ? breaks[0].price : price));
      const bought = purchase(offer(price, pack, breaks, available), used);
      expect(bought.cost).toBe(Math.min(...tried));
      expect(bought.count % pack).toBe(0);
      expect(bought.count).toBeGreaterThanOrEqual(used);
    }
  });
});

describe('the engine problem', () => {
  it('asks for every rail of every frame, once', () => {
    for (let i = 0; i < 60; i++) {
      const batch = checkBatch(randomBatch(`demand ${i}`));
      for (const order of new ResolvedBatch(batch).orders.values()) {
        const task = taskOf(batch, order)!;
        const { problem } = problemOf(task, allCopies(batch, task));
        const rails = problem.items.reduce((sum, item, n) => {
          const { settings } = task.items[n]!;
          return sum + item.demand * settings.length;
        }, 0);
        const ordered = order.lines.reduce((sum, line) => {
          const { shape, quantity } = batch.frames[line]!;
          return sum + quantity * (shape.kind === 'rectangle' ? 4 : shape.sides);
        }, 0);
        expect(rails).toBe(ordered);
        const settings = task.items.map((item) => item.setting);
        expect(settings).toEqual(settings.toSorted((a, b) => b - a));
      }
    }
  });

  it('puts equal rails of different lines into one item, and equal rack sticks into one stock', () => {
    const batch = checkBatch({
      schema: 'pairstop/batch@1',
      id: 'equal',
      units: 'in',
      mouldings: [{ id: 'm', face: 1, rabbet: 0 }],
      frames: [
        { id: 'a', moulding: 'm', width: 10, height: 20, quantity: 2 },
        { id: 'b', moulding: 'm', width: 20, height: 30 },
      ],
      sticks: [
        { id: 'r1', moulding: 'm', length: 100, quantity: 2 },
        { id: 'r2', moulding: 'm', length: 100 },
        { id: 'short', moulding: 'm', length: 5 },
      ],
    });
    const task = taskOf(batch, new ResolvedBatch(batch).order('m'))!;
    const { problem } = problemOf(task, allCopies(batch, task));
    expect(problem.items.map((item) => item.demand)).toEqual([2, 6, 4]);
    expect(problem.stocks.map((stock) => stock.supply)).toEqual([3]);
  });
});

describe('frames nothing can hold', () => {
  const base = {
    schema: 'pairstop/batch@1',
    units: 'in',
    saw: { kerf: 0 },
    mouldings: [{ id: 'm', face: 1, rabbet: 0 }],
    sticks: [{ id: 'r', moulding: 'm', length: 30, flaws: [[10, 12]] }],
  } as const;

  it('are named with the run they need and the longest there is', () => {
    const batch = checkBatch({
      ...base,
      id: 'too long',
      frames: [
        { id: 'wide', moulding: 'm', measuredBy: 'outside', width: 20, height: 5 },
        { id: 'ring', moulding: 'm', measuredBy: 'outside', width: 5, height: 5, match: 'frame' },
        { id: 'good', moulding: 'm', measuredBy: 'outside', width: 18, height: 5 },
        { id: 'pair', moulding: 'm', measuredBy: 'outside', width: 9.5, height: 5, match: 'pair' },
      ],
    });
    const problems = refusals(new ResolvedBatch(batch));
    expect(problems.map((problem) => problem.path)).toEqual([
      'frames[0].width',
      'frames[1].match',
      'frames[3].match',
    ]);
    expect(problems[0]?.given).toContain('"wide"');
    expect(problems[0]?.given).toContain('20"');
    expect(problems[0]?.allowed).toContain('18"');
    expect(problems[2]?.given).toContain('19"');
  });

  it('are all frames where a moulding has no stock at all', () => {
    const { sticks: _, ...bare } = base;
    const frames = [{ id: 'f', moulding: 'm', width: 10, height: 10 }];
    const problems = refusals(new ResolvedBatch(checkBatch({ ...bare, id: 'bare', frames })));
    expect(problems.map((problem) => problem.path)).toEqual(['frames[0].width', 'frames[0].height']);
    expect(problems[0]?.allowed).toContain('there is none');
  });

  it('are never among what surely fits: rails just under and just over the longest stick to be bought', () => {
    const { whole, pick, chance } = dice('close to the longest');
    let [sure, refused] = [0, 0];
    for (let i = 0; i < 400; i++) {
      const sides = chance(0.5) ? null : whole(3, 12);
      const size = 16 + whole(0, 800) / 100;
      const measuredBy = pick(['glass', 'rabbet', 'sight', 'outside'] as const);
      const shape = sides === null ? { width: size, height: 5 } : { sides, side: size };
      const batch = checkBatch({
        ...base,
        id: 'close',
        sticks: [],
        offers: [
          { id: 'long', moulding: 'm', length: whole(22, 26), available: whole(0, 1) },
          { id: 'short', moulding: 'm', length: 20 },
        ],
        frames: [
          { id: 'f', moulding: 'm', measuredBy, ...shape, match: pick(['stop', 'stop', 'pair'] as const) },
        ],
      });
      const order = [...sortOrders(batch).values()][0]!;
      const impossible = impossibleIn(batch, taskOf(batch, order)!);
      expect(new ResolvedBatch(batch).impossible).toEqual(impossible);
      if (impossible.length > 0) refused += 1;
      else if (surelyFits(batch, order)) sure += 1;
    }
    expect(Math.min(sure, refused)).toBeGreaterThan(50);
  });

  it('are none where a stick is just long enough', () => {
    const frames = [{ id: 'f', moulding: 'm', measuredBy: 'outside', width: 18, height: 10 }] as const;
    expect(refusals(new ResolvedBatch(checkBatch({ ...base, id: 'just', frames })))).toEqual([]);
  });
});
