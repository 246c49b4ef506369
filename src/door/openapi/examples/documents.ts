/** A batch, and a document of each kind that comes of it. The tests hold them against what the door answers. */

/** A rail of copy 1 or 2 of the frame. */
function rail(copy: number, side: 'top' | 'bottom' | 'right' | 'left', start: number) {
  const frame = `A-101/${copy}`;
  const length = side === 'top' || side === 'bottom' ? 460.375 : 561.975;
  const tag = `A${copy}${side.charAt(0).toUpperCase()}`;
  return { rail: `${frame}/${side}`, frame, side, start, length, angle: 45, flipped: false, tag };
}

export const BATCH_EXAMPLE = {
  schema: 'pairstop/batch@1',
  id: 'two-seascapes',
  units: 'in',
  saw: { kerf: '3/32', recut: '1/16', stopStep: '1/32' },
  mouldings: [{ id: 'ash-cap', face: '1 1/4', rabbet: '1/4', endTrim: '1/2' }],
  frames: [{ id: 'A-101', moulding: 'ash-cap', quantity: 2, width: '16', height: '20' }],
  sticks: [{ id: 'r17', moulding: 'ash-cap', length: '61 1/4' }],
  offers: [{ id: 'ash-10', moulding: 'ash-cap', length: "10'", price: 23.4 }],
};

export const PLAN_EXAMPLE = {
  schema: 'pairstop/plan@1',
  batch: 'two-seascapes',
  units: 'in',
  lengths: 'mm',
  status: 'complete',
  mouldings: [
    {
      moulding: 'ash-cap',
      status: 'complete',
      proof: { status: 'optimal', measure: 'cost', value: 23.4, bound: 23.4 },
      sticks: [
        {
          stick: 'ash-10/1',
          source: 'offer',
          ref: 'ash-10',
          length: 3048,
          run: 1,
          rails: [
            rail(1, 'right', 12.7),
            rail(1, 'left', 579.631),
            rail(1, 'top', 1146.562),
            rail(1, 'bottom', 1611.893),
            rail(2, 'top', 2077.224),
            rail(2, 'bottom', 2542.555),
          ],
          left: [{ from: 3006.298, to: 3035.3, use: 'waste' }],
        },
        {
          stick: 'r17/1',
          source: 'rack',
          ref: 'r17',
          length: 1555.75,
          run: 1,
          rails: [rail(2, 'right', 12.7), rail(2, 'left', 579.631)],
          left: [
            {
              from: 1144.974,
              to: 1543.05,
              use: 'offcut',
              piece: { length: 410.776, ends: ['mitred', 'raw'] },
            },
          ],
        },
      ],
      stops: [
        {
          run: 1,
          angle: 45,
          setting: 561.975,
          second: null,
          gauge: null,
          pairs: [
            { frame: 'A-101/1', rails: ['A-101/1/right', 'A-101/1/left'] },
            { frame: 'A-101/2', rails: ['A-101/2/right', 'A-101/2/left'] },
          ],
        },
        {
          run: 1,
          angle: 45,
          setting: 460.375,
          second: null,
          gauge: null,
          pairs: [
            { frame: 'A-101/1', rails: ['A-101/1/top', 'A-101/1/bottom'] },
            { frame: 'A-101/2', rails: ['A-101/2/top', 'A-101/2/bottom'] },
          ],
        },
      ],
      runs: [{ run: 1, sticks: 2, settings: 2, begunMost: 2, seconds: 536 }],
      seconds: 536,
      stopsSet: { value: 2, proof: { status: 'optimal', measure: 'stops', value: 2, bound: 2 } },
      handling: { visits: 3, layouts: 2, splitPairs: 0, offcuts: 1 },
    },
  ],
  buy: [{ moulding: 'ash-cap', offer: 'ash-10', count: 1, cost: 23.4 }],
  totals: {
    sticks: 2,
    stockLength: 4603.75,
    railLength: 4089.4,
    offcutLength: 398.076,
    wasteLength: 116.274,
    yield: 0.8883,
    cost: 23.4,
    stopSettings: 2,
    cuts: 16,
    stopsSet: { value: 2, proof: { status: 'optimal', measure: 'stops', value: 2, bound: 2 } },
    seconds: 536,
    handling: { visits: 3, layouts: 2, splitPairs: 0, offcuts: 1 },
  },
  shortfall: [],
  notices: [],
};

export const COMPARISON_EXAMPLE = {
  schema: 'pairstop/comparison@1',
  batch: 'two-seascapes',
  units: 'in',
  status: 'complete',
  recommendation:
    "ash-cap: buy 1 × ash-10 (10') for 23.40, nothing else that is offered makes it; proven: no purchase costs less.",
  measure: 'cost',
  totals: { cost: 23.4, bound: 23.4, sticks: 2 },
  mouldings: [
    {
      moulding: 'ash-cap',
      status: 'complete',
      recommendation: {
        sentence:
          "ash-cap: buy 1 × ash-10 (10') for 23.40, nothing else that is offered makes it; proven: no purchase costs less.",
        offers: ['ash-10'],
        buy: [{ moulding: 'ash-cap', offer: 'ash-10', count: 1, cost: 23.4 }],
        cost: 23.4,
        bound: 23.4,
        nextBest: null,
        saves: null,
        savesAtLeast: null,
      },
      scenarios: [
        {
          kind: 'one',
          offers: ['ash-10'],
          supplier: null,
          status: 'complete',
          short: null,
          proof: { status: 'optimal', value: 23.4, bound: 23.4 },
          planOf: null,
          buy: [{ moulding: 'ash-cap', offer: 'ash-10', count: 1, cost: 23.4 }],
          figures: {
            sticks: 2,
            stockLength: 4603.75,
            railLength: 4089.4,
            wasteLength: 116.274,
            yield: 0.8883,
            offcuts: { count: 1, length: 398.076, worth: 3.06 },
            stopSettings: 2,
            split: { rail: 22.77, waste: 0.63, offcut: 0 },
            seconds: 536,
          },
        },
      ],
      breakEven: [
        { offer: 'ash-10', price: 23.4, bought: true, aloneTies: null, from: null, to: null, known: true },
      ],
      whatIf: [],
      spare: null,
      growth: [],
      footage: {
        net: 4165.6,
        wasteShare: 0.15,
        length: 4790.44,
        planned: 4603.75,
        off: 0.0406,
        sticks: { offer: 'ash-10', rule: 2, planned: 2 },
      },
    },
  ],
  suppliers: [],
  notices: [],
};

export const RECUT_EXAMPLE = {
  schema: 'pairstop/recut@1',
  batch: 'two-seascapes',
  units: 'in',
  status: 'complete',
  lost: ['A-101/1/top'],
  cutSoFar: 'told',
  mouldings: [
    {
      moulding: 'ash-cap',
      status: 'complete',
      proof: { status: 'optimal', measure: 'cost', value: 23.4, bound: 23.4 },
      moved: 0,
      sticks: [
        {
          stick: 'ash-10/1',
          source: 'offer',
          ref: 'ash-10',
          length: 3048,
          run: 1,
          cut: [rail(1, 'right', 12.7), rail(1, 'left', 579.631), rail(1, 'bottom', 1611.893)],
          lost: [rail(1, 'top', 1146.562)],
          rails: [
            {
              rail: 'A-101/2/top',
              frame: 'A-101/2',
              side: 'top',
              start: 2077.224,
              length: 460.375,
              angle: 45,
              flipped: false,
              tag: 'A2T',
              replaces: false,
              was: 'ash-10/1',
            },
            {
              rail: 'A-101/2/bottom',
              frame: 'A-101/2',
              side: 'bottom',
              start: 2542.555,
              length: 460.375,
              angle: 45,
              flipped: false,
              tag: 'A2B',
              replaces: false,
              was: 'ash-10/1',
            },
          ],
          left: [{ from: 3006.298, to: 3035.3, use: 'waste' }],
        },
        {
          stick: 'r17/1',
          source: 'rack',
          ref: 'r17',
          length: 1555.75,
          run: 1,
          cut: [rail(2, 'right', 12.7), rail(2, 'left', 579.631)],
          lost: [],
          rails: [],
          left: [
            {
              from: 1144.974,
              to: 1543.05,
              use: 'offcut',
              piece: { length: 410.776, ends: ['mitred', 'raw'] },
            },
          ],
        },
        {
          stick: 'ash-10/2',
          source: 'offer',
          ref: 'ash-10',
          length: 3048,
          run: 1,
          cut: [],
          lost: [],
          rails: [
            {
              rail: 'A-101/1/top',
              frame: 'A-101/1',
              side: 'top',
              start: 12.7,
              length: 460.375,
              angle: 45,
              flipped: false,
              tag: 'A1T',
              replaces: true,
              was: 'ash-10/1',
            },
          ],
          left: [
            {
              from: 476.443,
              to: 3035.3,
              use: 'offcut',
              piece: { length: 2571.557, ends: ['mitred', 'raw'] },
            },
          ],
        },
      ],
      stops: [
        {
          run: 1,
          setting: 460.375,
          second: null,
          gauge: null,
          finish: false,
          setBy: 'A-101/1/bottom',
          pairs: [
            { frame: 'A-101/2', rails: ['A-101/2/top', 'A-101/2/bottom'] },
            { frame: 'A-101/1', rails: ['A-101/1/top'] },
          ],
        },
      ],
      runs: [{ run: 1, sticks: 2, settings: 1, begunMost: 1, seconds: 241 }],
      seconds: 241,
    },
  ],
  bought: [{ moulding: 'ash-cap', offer: 'ash-10', count: 1 }],
  buy: [{ moulding: 'ash-cap', offer: 'ash-10', count: 1, cost: 23.4 }],
  totals: { lost: 1, replaced: 1, moved: 0, cut: 5, toCut: 3, stopSettings: 1, cost: 23.4, seconds: 241 },
  shortfall: [],
  notices: [],
};
