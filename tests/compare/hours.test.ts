/** What an hour is worth: the plans found are those of the shop that no other betters, from the definition. */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../bench/tools/random.js';
import type { BoughtPlan } from '../../src/compare/between.js';
import { type HourAnswer, type HourOrder, hoursWorth, QUESTIONS_MOST } from '../../src/compare/hours.js';
import { hoursSchema } from '../../src/documents/hours/schema.js';
import { hoursSvg } from '../../src/show/hours-chart.js';
import { showHours } from '../../src/show/hours-comparison.js';
import type { Labour, Offer } from '../../src/terms.js';

const HOUR = 3_600_000;
const LABOUR: Labour = {
  setStop: 60_000,
  setGauge: 20_000,
  takeStick: 20_000,
  cut: 10_000,
  swing: 6_000,
  label: 5_000,
  firstMitre: 30_000,
  rate: null,
};
const NOTHING = { cost: 0, time: 0, sticks: 0, visits: 0, stopsSet: 0 };

/** A plan of one moulding that takes so many pieces, at 10.00 each. */
interface Given {
  readonly pieces: number;
  readonly time: number;
}

const PRICE = 1_000;

function bought(moulding: string, { pieces, time }: Given): BoughtPlan {
  const cost = pieces * PRICE;
  return { cost, time, sticks: pieces, visits: 1, stopsSet: 1, bought: new Map([[moulding, pieces]]) };
}

function worth({ cost, time }: Pick<BoughtPlan, 'cost' | 'time'>, rate: number): number {
  return cost + (time * rate) / HOUR;
}

function orderOf(moulding: string): HourOrder {
  const offer: Offer = {
    id: moulding,
    moulding,
    length: 3_000_000,
    price: PRICE,
    priced: true,
    available: null,
    pack: 1,
    breaks: [],
    supplier: null,
  };
  return { moulding, offers: [offer] };
}

/** Runs the questions against a shop whose plans are all known, by moulding; the cheapest that is allowed is handed out. */
function answered(shop: readonly (readonly Given[])[], lowered = 1, others = NOTHING) {
  const names = shop.map((_, k) => `m${k}`);
  const asking = hoursWorth(names.map(orderOf), LABOUR);
  let asked = 0;
  for (let step = asking.next(); ; ) {
    if (step.done === true) return { points: step.value, asked };
    asked += step.value.length;
    step = asking.next(
      step.value.map(({ rate, available }): HourAnswer | null => {
        const plans = names.map((name, k) => {
          const allowed = shop[k]!.filter(({ pieces }) => pieces <= (available.get(name) ?? Infinity));
          const of = allowed.map((plan) => bought(name, plan));
          return of.reduce((a, b) => (worth(b, rate) < worth(a, rate) ? b : a));
        });
        const least = plans.reduce((sum, plan) => sum + worth(plan, rate), 0);
        return {
          bought: new Map(names.map((name, k) => [name, plans[k]!])),
          others,
          bound: available.size > 0 ? null : Math.floor(lowered * least),
        };
      }),
    );
  }
}

function shopOf(seed: string, mouldings: number, plans: number): readonly (readonly Given[])[] {
  const random = seeded(seed);
  return Array.from({ length: mouldings }, () =>
    Array.from({ length: random.int(1, plans) }, () => ({
      pieces: random.int(10, 40),
      time: random.int(100, 9_000) * 1_000,
    })),
  );
}

/** Every sum of one plan of each moulding. */
function allSums(shop: readonly (readonly Given[])[]): readonly { cost: number; time: number }[] {
  return shop.reduce<readonly { cost: number; time: number }[]>(
    (all, plans) =>
      all.flatMap((a) =>
        plans.map(({ pieces, time }) => ({ cost: a.cost + pieces * PRICE, time: a.time + time })),
      ),
    [{ cost: 0, time: 0 }],
  );
}

describe('what an hour is worth', () => {
  it('shows plans of the shop that none betters, those of an hour between their rates, and claims nothing false', () => {
    for (let k = 0; k < 200; k++) {
      const shop = shopOf(`hours ${k}`, 1 + (k % 3), 6);
      const { points, asked } = answered(shop, k % 2 === 0 ? 1 : 0.9);
      const all = allSums(shop);
      expect(asked).toBeLessThanOrEqual(QUESTIONS_MOST);
      expect(points[0]?.from).toBe(0);
      expect(points.at(-1)?.to).toBeNull();
      for (const { cost, seconds, wood, proof, from, to } of points) {
        const [cents, ms] = [Math.round(cost * 100), Math.round(seconds * 1_000)];
        expect(all.some((plan) => plan.cost === cents && plan.time === ms)).toBe(true);
        const least = Math.min(...all.filter(({ time }) => time <= ms).map((plan) => plan.cost));
        expect(Math.round(wood.bound * 100)).toBeLessThanOrEqual(least);
        if (wood.status === 'optimal') expect(cents).toBe(least);
        if (proof === undefined) {
          expect([from, to]).toEqual([null, null]);
          continue;
        }
        const sum = Math.min(...all.map((plan) => worth(plan, proof.rate * 100)));
        expect(proof.bound * 100).toBeLessThanOrEqual(sum + 1);
        // Rates nobody asked about have the line between two bounds, each rounded down.
        if (k % 2 === 0) expect(proof.value - proof.bound).toBeLessThan(0.025);
      }
      const cheapest = points.filter(({ from }) => from !== null);
      cheapest.slice(1).forEach(({ from }, i) => {
        expect(from).toBe(cheapest[i]!.to);
      });
      points.slice(1).forEach((point, i) => {
        expect(point.cost).toBeGreaterThan(points[i]!.cost);
        expect(point.seconds).toBeLessThan(points[i]!.seconds);
      });
    }
  });

  // Only the two ends are the cheapest at any rate.
  it('shows plans in between that are the cheapest at no rate', () => {
    const times = [9_000, 8_900, 8_700, 8_400, 8_000, 7_500, 6_900, 6_200, 5_400];
    const shop = [times.map((time, k) => ({ pieces: 20 + k, time: time * 1_000 }))];
    const { points } = answered(shop);
    expect(points.length).toBeGreaterThanOrEqual(5);
    expect(points.filter(({ from }) => from !== null)).toHaveLength(2);
    for (const { wood } of points.slice(1, -1)) expect(wood.status).toBe('within');
  });

  it('counts mouldings nothing is bought for in the time alone', () => {
    const shop = [
      [
        { pieces: 10, time: 2 * HOUR },
        { pieces: 12, time: HOUR },
      ],
    ];
    const { points } = answered(shop, 1, { ...NOTHING, time: HOUR, sticks: 3 });
    expect(points.map(({ seconds, wood, proof }) => [seconds, wood.status, proof?.status])).toEqual([
      [10_800, 'optimal', 'optimal'],
      [7_200, 'optimal', 'optimal'],
    ]);
  });
});

it('is shown as a table and a chart, and keeps to its schema', () => {
  const { points } = answered([
    [
      { pieces: 10, time: 2 * HOUR },
      { pieces: 13, time: 1.9 * HOUR },
      { pieces: 40, time: 0.5 * HOUR },
    ],
  ]);
  const document = {
    schema: 'pairstop/hours@1' as const,
    batch: 'a<b',
    skipped: ['long'],
    points: [...points],
  };
  expect(hoursSchema.parse(document)).toEqual(document);
  expect(points.map(({ from, to }) => [from, to])).toEqual([
    [0, 200],
    [null, null],
    [200, null],
  ]);
  const text = showHours(document);
  expect(text).toContain('up to 200.00');
  expect(text).toContain('at no rate');
  expect(text).toContain('from 200.00 on');
  expect(text).toMatch(/Skipped, as no stick .*: long\./);
  const svg = hoursSvg(document);
  expect(svg).toContain('a&lt;b');
  expect(svg.match(/<circle/g)).toHaveLength(3);
});
