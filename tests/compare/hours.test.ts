/** What an hour is worth: the plans found are the lower envelope of all plans, from the definition. */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../bench/tools/random.js';
import { hoursWorth, type PlanAtRate, RATES_MOST } from '../../src/compare/hours.js';
import { hoursSchema } from '../../src/documents/hours/schema.js';
import { hoursSvg } from '../../src/show/hours-chart.js';
import { showHours } from '../../src/show/hours-comparison.js';

const HOUR = 3_600;

interface Given {
  readonly cost: number;
  readonly seconds: number;
}

function worth({ cost, seconds }: Given, rate: number): number {
  return cost + (seconds * rate) / HOUR;
}

function least(plans: readonly Given[], rate: number): number {
  return Math.min(...plans.map((plan) => worth(plan, rate)));
}

/** Runs the questions against a shop whose plans are all known; the cheapest at a rate is handed out. */
function answered(plans: readonly Given[], bound = (value: number): number => value) {
  const asking = hoursWorth();
  let asked = 0;
  for (let step = asking.next(); ; asked += 1) {
    if (step.done === true) return { points: step.value, asked };
    const rate = step.value;
    const best = plans.reduce((a, b) => (worth(b, rate) < worth(a, rate) ? b : a));
    const plan: PlanAtRate = { ...best, sticks: 1, visits: 1, stopsSet: 1, bound: bound(worth(best, rate)) };
    step = asking.next(plan);
  }
}

describe('plans that are cheapest at some rate', () => {
  // 18 frames had two points: the one rate asked about between the ends had found nothing better than these.
  it('are asked for at further rates where a search has missed one', () => {
    const plans = [
      { cost: 800, seconds: 9_000 },
      { cost: 805, seconds: 7_500 },
      { cost: 815, seconds: 6_500 },
      { cost: 840, seconds: 6_000 },
      { cost: 900, seconds: 5_900 },
    ];
    const asking = hoursWorth();
    const asked: number[] = [];
    let step = asking.next();
    while (step.done !== true) {
      const rate = step.value;
      const best = plans.reduce((a, b) => (worth(b, rate) < worth(a, rate) ? b : a));
      const found = asked.length === 2 ? plans[0]! : best;
      asked.push(rate);
      const bound = worth(best, rate);
      step = asking.next({ ...found, sticks: 1, visits: 1, stopsSet: 1, bound });
    }
    expect(step.value.map(({ cost }) => cost)).toEqual(plans.map(({ cost }) => cost));
    expect(asked.length).toBeLessThanOrEqual(RATES_MOST);
  });

  it('are found, each between the rates where it is, and proven', () => {
    for (let k = 0; k < 200; k++) {
      const random = seeded(`hours ${k}`);
      const plans = Array.from({ length: random.int(1, 6) }, () => ({
        cost: random.int(100, 2_000),
        seconds: random.int(100, 9_000),
      }));
      const { points, asked } = answered(plans);
      expect(asked).toBeLessThanOrEqual(RATES_MOST);
      expect(points[0]?.from).toBe(0);
      expect(points.at(-1)?.to).toBeNull();
      points.forEach((point, i) => {
        if (i > 0) expect(point.from).toBe(points[i - 1]!.to);
        const middle = point.to === null ? point.from + 1 : (point.from + point.to) / 2;
        expect(worth(point, middle)).toBeCloseTo(least(plans, middle), 1);
        expect(point.proof.status).toBe('optimal');
      });
    }
  });

  it('claim no more than the bounds at the rates asked about', () => {
    for (let k = 0; k < 100; k++) {
      const random = seeded(`hours bounded ${k}`);
      const plans = Array.from({ length: 12 }, () => ({
        cost: random.int(100, 2_000),
        seconds: random.int(100, 9_000),
      }));
      for (const { proof } of answered(plans, (value) => 0.9 * value).points) {
        expect(proof.bound).toBeLessThanOrEqual(least(plans, proof.rate) + 0.02);
        expect(proof.status).not.toBe('optimal');
      }
    }
  });
});

it('are shown as a table and a chart, and keep to their schema', () => {
  const plans = [
    { cost: 100, seconds: 7_200 },
    { cost: 130, seconds: 3_600 },
    { cost: 400, seconds: 1_800 },
  ];
  const { points } = answered(plans);
  const document = { schema: 'pairstop/hours@1' as const, batch: 'a<b', points: [...points] };
  expect(hoursSchema.parse(document)).toEqual(document);
  expect(points.map(({ from, to }) => [from, to])).toEqual([
    [0, 30],
    [30, 540],
    [540, null],
  ]);
  const text = showHours(document);
  expect(text).toContain('up to 30.00');
  expect(text).toContain('from 540.00 on');
  const svg = hoursSvg(document);
  expect(svg).toContain('a&lt;b');
  expect(svg.match(/<circle/g)).toHaveLength(3);
});
