/** Plans that hold, worked out by hand, for the rules of the shop: matches, shortage, merged stops, packs. In millimetres. */
import type { MouldingPlan, Plan } from '../../src/documents/plan/types.js';
import { moulding, pair, planOf, type RailName, remainder, row, stick, stop } from './spoil-build.js';
import { type Case, K45, read } from './spoil-case.js';

/** Two frames matched as wholes with two stops, a square one that needs one stop, and one matched by stop only. */
export function rings(): Case {
  const sized = { moulding: 'elm', measuredBy: 'outside' };
  const batch = read({
    id: 'rings',
    units: 'mm',
    saw: { kerf: 3 },
    mouldings: [{ id: 'elm', face: 30, rabbet: 0, keepOver: 500 }],
    frames: [
      { id: 'F', ...sized, quantity: 2, width: 400, height: 300, match: 'frame' },
      { id: 'S', ...sized, width: 400, height: 400 },
      { id: 'Q', ...sized, width: 350, height: 350, match: 'frame' },
    ],
    sticks: [{ id: 'r', moulding: 'elm', length: 6000, quantity: 2 }],
  });
  const ring = (frame: string, width: number, height: number): [RailName, number][] => [
    [`${frame}/top`, width],
    [`${frame}/right`, height],
    [`${frame}/bottom`, width],
    [`${frame}/left`, height],
  ];
  const rails = row(0, K45, [
    ...ring('S/1', 400, 400),
    ...ring('F/1', 400, 300),
    ...ring('F/2', 400, 300),
    ...ring('Q/1', 350, 350),
  ]);
  const opposing = (frame: string) => [
    pair(`${frame}/top`, `${frame}/bottom`),
    pair(`${frame}/right`, `${frame}/left`),
  ];
  const elm = moulding(
    'elm',
    { status: 'optimal', measure: 'length', value: 6000, bound: 6000 },
    // 4·400 + 3·1400 + 15·4.243 + 4.243 = 5867.888
    [stick('r/1', 'rack', 6000, rails, [remainder(5867.888, 6000, 'waste')])],
    [
      stop(400, opposing('S/1')),
      stop(400, [...opposing('F/1'), ...opposing('F/2')], { second: 300 }),
      stop(350, [pair('Q/1/top', 'Q/1/right', 'Q/1/bottom', 'Q/1/left')]),
    ],
  );
  return { batch, plan: planOf('rings', 'mm', [elm], [], { railLength: 5800, stopSettings: 4, cuts: 32 }) };
}

/** Three frames asked for, stock for one: 2·500 + 2·400 + 3·4.243 = 1812.729 of 2000. */
export function shortage(): Case {
  const batch = read({
    id: 'shortage',
    units: 'mm',
    saw: { kerf: 3 },
    mouldings: [{ id: 'fir', face: 30, rabbet: 0, keepOver: 150 }],
    frames: [{ id: 'T', moulding: 'fir', measuredBy: 'outside', quantity: 3, width: 500, height: 400 }],
    sticks: [{ id: 'x', moulding: 'fir', length: 2000 }],
  });
  const rails = row(0, K45, [
    ['T/1/top', 500],
    ['T/1/bottom', 500],
    ['T/1/left', 400],
    ['T/1/right', 400],
  ]);
  const fir: MouldingPlan = {
    ...moulding(
      'fir',
      { status: 'optimal', measure: 'length', value: 2000, bound: 2000 },
      [stick('x/1', 'rack', 2000, rails, [remainder(1816.972, 2000, 'offcut')])],
      [stop(500, [pair('T/1/top', 'T/1/bottom')]), stop(400, [pair('T/1/left', 'T/1/right')])],
    ),
    status: 'short',
  };
  const plan = planOf('shortage', 'mm', [fir], [], { railLength: 1800, stopSettings: 2, cuts: 8 });
  const shortfall = [{ moulding: 'fir', frames: ['T/2', 'T/3'], needs: 3625.458, cost: null }];
  return { batch, plan: { ...plan, status: 'short', shortfall } };
}

/** The stock of `shortage`; of three equal frames the one that comes last in the order has priority. */
export function ranked(): Case {
  const { batch, plan } = shortage();
  const [line] = batch.frames;
  const frames = [
    { ...line!, quantity: 2 },
    { ...line!, id: 'S', quantity: 1, priority: 1 },
  ];
  const text = JSON.stringify(plan)
    .replaceAll('T/1', 'S/1')
    .replaceAll('T/2', 'T/1')
    .replaceAll('T/3', 'T/2');
  return { batch: { ...batch, frames }, plan: JSON.parse(text) as Plan };
}

/**
 * Outside is glass + play − 2·5 + 2·20: M may be 432 to 434 by 332 to 334, N a millimetre more. A gauge stick of
 * 433.3 mm serves both widths, one setting both heights.
 */
export function merged(): Case {
  const play = { moulding: 'yew', play: 2, playMax: 4 };
  const batch = read({
    id: 'merged',
    units: 'mm',
    saw: { kerf: 3, stopStep: 0.5 },
    mouldings: [{ id: 'yew', face: 20, rabbet: 5 }],
    frames: [
      { id: 'M', ...play, width: 400, height: 300 },
      { id: 'N', ...play, width: 401, height: 301 },
    ],
    sticks: [{ id: 'r', moulding: 'yew', length: 5000 }],
    gauges: [{ id: 'G', length: 433.3 }],
    options: { mergeStops: true },
  });
  const rails = row(0, K45, [
    ['M/1/top', 433.3],
    ['M/1/bottom', 433.3],
    ['N/1/top', 433.3],
    ['N/1/bottom', 433.3],
    ['M/1/left', 333.5],
    ['M/1/right', 333.5],
    ['N/1/left', 333.5],
    ['N/1/right', 333.5],
  ]);
  const yew = moulding(
    'yew',
    { status: 'within', measure: 'length', value: 5000, bound: 3100 },
    // 4·433.3 + 4·333.5 + 8·4.243 = 3101.144
    [stick('r/1', 'rack', 5000, rails, [remainder(3101.144, 5000, 'offcut')])],
    [
      stop(433.3, [pair('M/1/top', 'M/1/bottom'), pair('N/1/top', 'N/1/bottom')], { gauge: 'G' }),
      stop(333.5, [pair('M/1/left', 'M/1/right'), pair('N/1/left', 'N/1/right')]),
    ],
  );
  // At their own settings, 432, 433, 332 and 333: the same stick, four settings.
  const way = { sticks: 1, stockLength: 5000, cost: 0, bound: 3100 };
  const merging = {
    unmerged: { ...way, stopSettings: 4 },
    merged: { ...way, stopSettings: 2 },
    leastSettings: 2,
    choices: 1,
  };
  const given = { railLength: 3067.2, stopSettings: 2, cuts: 16 };
  const plan = planOf('merged', 'mm', [{ ...yew, merging }], [], given);
  return { batch, plan: { ...plan, totals: { ...plan.totals, unmerged: { stopSettings: 4, cost: 0 } } } };
}

/** Eight sticks of one rail each, in packs of 3: nine cost 90.00, but twelve, at the lower price, 84.00. */
export function packs(): Case {
  const batch = read({
    id: 'packs',
    units: 'mm',
    saw: { kerf: 0 },
    mouldings: [{ id: 'ivy', face: 30, rabbet: 0 }],
    frames: [{ id: 'U', moulding: 'ivy', measuredBy: 'outside', quantity: 2, width: 900, height: 900 }],
    offers: [
      {
        id: 'o',
        moulding: 'ivy',
        length: 1000,
        price: 10,
        available: 13,
        pack: 3,
        breaks: [{ from: 12, price: 7 }],
      },
    ],
  });
  const names = ['U/1', 'U/2'].flatMap((frame) =>
    ['top', 'bottom', 'left', 'right'].map((side) => `${frame}/${side}`),
  );
  const ivy = moulding(
    'ivy',
    { status: 'unproven', measure: 'cost', value: 84, bound: 50.4 },
    names.map((name, i) =>
      stick(`o/${i + 1}`, 'offer', 1000, row(0, 0, [[name, 900]]), [remainder(900, 1000, 'waste')]),
    ),
    [
      stop(900, [
        pair('U/1/top', 'U/1/bottom'),
        pair('U/1/left', 'U/1/right'),
        pair('U/2/top', 'U/2/bottom'),
        pair('U/2/left', 'U/2/right'),
      ]),
    ],
  );
  const buy = [{ moulding: 'ivy', offer: 'o', count: 12, cost: 84 }];
  return { batch, plan: planOf('packs', 'mm', [ivy], buy, { railLength: 7200, stopSettings: 1, cuts: 16 }) };
}
