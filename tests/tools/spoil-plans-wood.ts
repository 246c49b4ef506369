/** Plans that hold, worked out by hand, of profiled, reversible and many-sided stock. Lengths are millimetres. */
import {
  endOf,
  moulding,
  pair,
  planOf,
  type RailName,
  remainder,
  row,
  stick,
  stop,
  up,
} from './spoil-build.js';
import { type Case, K45, read } from './spoil-case.js';

/**
 * A: glass 400 × 300, so 400 + 3 − 2·6 + 2·30 = 451 by 351. B: outside 250.2 × 200, so 250.5 by 200 on a 0.5 mm step.
 */
export function profiled(): Case {
  const batch = read({
    id: 'profiled',
    units: 'mm',
    saw: { kerf: 3, recut: 1, stopStep: 0.5 },
    mouldings: [{ id: 'oak', face: 30, rabbet: 6, endTrim: 10, keepOver: 300 }],
    frames: [
      { id: 'A', moulding: 'oak', quantity: 2, width: 400, height: 300, play: 3 },
      { id: 'B', moulding: 'oak', measuredBy: 'outside', width: 250.2, height: 200, match: 'pair' },
    ],
    sticks: [{ id: 'r', moulding: 'oak', length: 1500, flaws: [[700, 720]] }],
    offers: [
      {
        id: 'o',
        moulding: 'oak',
        length: 2000,
        price: 12.5,
        available: 10,
        pack: 2,
        breaks: [{ from: 6, price: 11 }],
      },
    ],
    gauges: [{ id: 'G451', length: 451 }],
  });
  const gap = K45 + 1;
  const first = row(10, gap, [['A/1/top', 451]]);
  const second = row(720, gap, [
    ['B/1/left', 200],
    ['B/1/right', 200],
  ]);
  const long = row(10, gap, [
    ['A/1/bottom', 451],
    ['A/2/top', 451],
    ['A/2/bottom', 451],
    ['A/1/left', 351],
  ]);
  const mixed = row(10, gap, [
    ['A/1/right', 351],
    ['A/2/left', 351],
    ['A/2/right', 351],
    ['B/1/top', 250.5],
    ['B/1/bottom', 250.5],
  ]);
  const oak = moulding(
    'oak',
    { status: 'optimal', measure: 'cost', value: 25, bound: 25 },
    [
      stick(
        'r/1',
        'rack',
        1500,
        [...first, ...second],
        // 461 + 4.243 to the flaw; 1125.243 + 4.243 to the trim: 360.514.
        [remainder(465.243, 700, 'waste'), remainder(1129.486, 1490, 'offcut')],
      ),
      // 10 + 3·451 + 351 + 3·5.243 + 4.243 = 1733.972, and 256.028 to the trim.
      stick('o/1', 'offer', 2000, long, [remainder(1733.972, 1990, 'waste')]),
      // 10 + 3·351 + 2·250.5 + 4·5.243 + 4.243 = 1589.215, and 400.785 to the trim.
      stick('o/2', 'offer', 2000, mixed, [remainder(1589.215, 1990, 'offcut')]),
    ],
    [
      stop(451, [pair('A/1/top', 'A/1/bottom'), pair('A/2/top', 'A/2/bottom')], { gauge: 'G451' }),
      stop(351, [pair('A/1/left', 'A/1/right'), pair('A/2/left', 'A/2/right')]),
      stop(250.5, [pair('B/1/top', 'B/1/bottom')]),
      stop(200, [pair('B/1/left', 'B/1/right')]),
    ],
  );
  const buy = [{ moulding: 'oak', offer: 'o', count: 2, cost: 25 }];
  // 4·451 + 4·351 + 2·250.5 + 2·200 = 4109; 12 rails, two cuts each.
  const given = { railLength: 4109, stopSettings: 4, cuts: 24 };
  // 451: r/1, o/1; 351: o/1, o/2; then o/2, then r/1. Both pairs of A/1 lie on two sticks.
  const handling = { visits: 6, layouts: 3, splitPairs: 2, offcuts: 2 };
  const plan = planOf('profiled', 'mm', [{ ...oak, handling }], buy, given);
  return { batch, plan: { ...plan, totals: { ...plan.totals, handling } } };
}

/** A rectangle and a hexagon of flat stock: the rectangle's rails nest, the hexagon's nest, one does not in the other. */
export function nested(): Case {
  const batch = read({
    id: 'nested',
    units: 'mm',
    saw: { kerf: 3, recut: 1 },
    mouldings: [{ id: 'flat', face: 40, rabbet: 0, reversible: true, endTrim: 5, keepOver: 350 }],
    frames: [
      { id: 'C', moulding: 'flat', measuredBy: 'outside', width: 500, height: 300, match: 'pair' },
      { id: 'D', moulding: 'flat', measuredBy: 'outside', sides: 6, side: 200 },
    ],
    offers: [{ id: 'o', moulding: 'flat', length: 3000, price: 9.99 }],
  });
  // Square: each rail starts F·tan 45° = 40 before the last one's end, plus k'.
  const square = row(
    5,
    K45 - 40,
    [
      ['C/1/top', 500],
      ['C/1/bottom', 500],
      ['C/1/left', 300],
      ['C/1/right', 300],
    ],
    45,
    true,
  );
  // Hexagon: 40·tan 30° = 23.0940…, down; 3 / cos 30° = 3.4641…, up.
  const ring = row(
    endOf(square) + K45 + 1,
    3.465 - 23.094,
    [1, 2, 3, 4, 5, 6].map((side): [RailName, number] => [`D/1/side${side}`, 200]),
    30,
    true,
  );
  const flat = moulding(
    'flat',
    { status: 'optimal', measure: 'cost', value: 9.99, bound: 9.99 },
    [stick('o/1', 'offer', 3000, [...square, ...ring], [remainder(endOf(ring) + 3.465, 2995, 'offcut')])],
    [
      stop(500, [pair('C/1/top', 'C/1/bottom')]),
      stop(300, [pair('C/1/left', 'C/1/right')]),
      stop(
        200,
        [1, 2, 3].map((side) => pair(`D/1/side${side}`, `D/1/side${side + 3}`)),
      ),
    ],
  );
  // 2·460 + 2·260 + 6·(200 − 23.0940108) = 2501.4359…; 4 + 1 cuts and 6 + 1 cuts.
  const given = { railLength: 2501.436, stopSettings: 3, cuts: 12 };
  const buy = [{ moulding: 'flat', offer: 'o', count: 1, cost: 9.99 }];
  return { batch, plan: planOf('nested', 'mm', [flat], buy, given) };
}

/**
 * A hexagon by its sight side, 9 + 2·1.25·tan 30° = 10.4434 in, so 335/32 in; a pentagon by its glass,
 * 6 + (0.125 − 0.5 + 2.5)·tan 36° = 7.5439 in, so 242/32 in.
 */
export function polygons(): Case {
  const batch = read({
    id: 'polygons',
    units: 'in',
    saw: { kerf: '1/8', recut: '1/16', stopStep: '1/32' },
    mouldings: [{ id: 'ash', face: '1 1/4', rabbet: '1/4', endTrim: '1/2' }],
    frames: [
      { id: 'H', moulding: 'ash', measuredBy: 'sight', sides: 6, side: 9 },
      { id: 'P', moulding: 'ash', sides: 5, side: 6, match: 'pair' },
    ],
    offers: [{ id: 'o', moulding: 'ash', length: "8'", price: 10 }],
  });
  const [hexagon, pentagon] = [up((335 / 32) * 25.4), up((242 / 32) * 25.4)];
  // 3.175 / cos 30° and / cos 36°, up; the recut of 1.5875 mm is a need, so 1.588.
  const [k30, k36] = [3.667, 3.925];
  const six = row(
    12.7,
    k30 + 1.588,
    [1, 2, 3, 4, 5, 6].map((side): [RailName, number] => [`H/1/side${side}`, hexagon]),
    30,
  );
  const five = (start: number, sides: readonly number[]) =>
    row(
      start,
      k36 + 1.588,
      sides.map((side): [RailName, number] => [`P/1/side${side}`, pentagon]),
      36,
    );
  const three = five(endOf(six) + k36 + 1.588, [1, 2, 3]);
  const two = five(12.7, [4, 5]);
  const ash = moulding(
    'ash',
    { status: 'within', measure: 'cost', value: 20, bound: 18.5 },
    [
      stick('o/1', 'offer', 2438.4, [...six, ...three], [remainder(endOf(three) + k36, 2425.7, 'waste')]),
      stick('o/2', 'offer', 2438.4, two, [remainder(endOf(two) + k36, 2425.7, 'offcut')]),
    ],
    [
      stop(hexagon, [pair('H/1/side1', 'H/1/side2', 'H/1/side3', 'H/1/side4', 'H/1/side5', 'H/1/side6')]),
      stop(pentagon, [pair('P/1/side1', 'P/1/side2'), pair('P/1/side3', 'P/1/side4'), pair('P/1/side5')]),
    ],
  );
  const buy = [{ moulding: 'ash', offer: 'o', count: 2, cost: 20 }];
  const given = { railLength: up(6 * hexagon + 5 * pentagon), stopSettings: 2, cuts: 22 };
  return { batch, plan: planOf('polygons', 'in', [ash], buy, given) };
}
