/** Breaches in the sticks, the stops, what is left, what is bought, and the sums. */
import { part, rails, type Spoil, whole } from './spoil-kit.js';

const sticks: readonly Spoil[] = [
  part('CHECK_STICK', 'profiled', 'a piece nobody has', 'sticks[0]', (piece) => {
    Object.assign(piece.sticks[0]!, { stick: 'q/1', ref: 'q' });
  }),
  part('CHECK_STICK', 'profiled', 'an offer called a rack piece', 'sticks[1]', (piece) => {
    piece.sticks[1]!.source = 'rack';
  }),
  part('CHECK_STICK', 'profiled', 'a stick without a number', 'sticks[0]', (piece) => {
    piece.sticks[0]!.stick = 'r';
  }),
  part('CHECK_STICK', 'profiled', 'a stick numbered 0', 'sticks[0]', (piece) => {
    piece.sticks[0]!.stick = 'r/0';
  }),
  part('CHECK_STICK_TWICE', 'profiled', 'one piece used twice', 'sticks[2]', (piece) => {
    piece.sticks[2]!.stick = 'o/1';
  }),
  part('CHECK_STICK_LENGTH', 'profiled', 'a stick said to be longer', 'sticks[0].length', (piece) => {
    piece.sticks[0]!.length = 1500.001;
  }),
  part('CHECK_STICK_IDLE', 'rings', 'a stick nothing is cut from', 'sticks[1]', (piece) => {
    piece.sticks.push({ ...structuredClone(piece.sticks[0]!), stick: 'r/2', rails: [] });
  }),
  part('CHECK_SUPPLY', 'profiled', 'a second copy of a single rack piece', 'sticks[0]', (piece) => {
    piece.sticks[0]!.stick = 'r/2';
  }),
  part('CHECK_SUPPLY', 'profiled', 'a third piece where two are bought', 'sticks[2]', (piece) => {
    piece.sticks[2]!.stick = 'o/3';
  }),
];

const stops: readonly Spoil[] = [
  part('CHECK_STOP_ORDER', 'profiled', 'a short setting before a long one', 'stops[1].setting', (piece) => {
    piece.stops.reverse();
  }),
  part('CHECK_STOP_ORDER', 'rings', 'one setting in two entries', 'stops[1].setting', (piece) => {
    const first = piece.stops[0]!;
    piece.stops.splice(1, 0, { ...first, pairs: first.pairs.splice(1) });
  }),
  part('CHECK_STOP_IDLE', 'rings', 'a setting nothing is cut at', 'stops[3]', (piece) => {
    piece.stops.push({ setting: 200, second: null, gauge: null, pairs: [] });
  }),
  part('CHECK_STOP_RAIL', 'rings', 'a rail that is cut at no stop', 'stops', (piece) => {
    piece.stops[0]!.pairs.pop();
  }),
  part('CHECK_STOP_RAIL', 'shortage', 'a stop for rails that are not cut', 'stops[0]', (piece) => {
    piece.stops[0]!.pairs.push({ frame: 'T/2', rails: ['T/2/top', 'T/2/bottom'] });
  }),
  part('CHECK_STOP_RAIL', 'rings', 'a frame nobody ordered', 'stops[0].pairs[0].frame', (piece) => {
    piece.stops[0]!.pairs[0]!.frame = 'S/2';
  }),
  part('CHECK_STOP_RAIL', 'rings', "another frame's rail", 'stops[0].pairs[0].rails[1]', (piece) => {
    piece.stops[0]!.pairs[0]!.rails[1] = 'F/1/bottom';
  }),
  part('CHECK_STOP_TWICE', 'rings', 'a pair twice', 'stops[0].pairs[2].rails[0]', (piece) => {
    piece.stops[0]!.pairs.push(structuredClone(piece.stops[0]!.pairs[0]!));
  }),
  part('CHECK_STOP_SETTING', 'rings', 'a setting unlike its rails', 'stops[2]', (piece) => {
    piece.stops[2]!.setting = 350.5;
  }),
  part('CHECK_STOP_SETTING', 'rings', 'a second stop unlike its rails', 'stops[1]', (piece) => {
    piece.stops[1]!.second = 299.5;
  }),
  part('CHECK_SECOND', 'rings', 'a second stop that is longer', 'stops[1].second', (piece) => {
    piece.stops[1]!.second = 400;
  }),
  part('CHECK_SECOND', 'shortage', 'a second stop without a frame match', 'stops[0].pairs[0]', (piece) => {
    piece.stops[0]!.second = 400;
  }),
  part('CHECK_SECOND', 'rings', 'a second stop that nothing is cut at', 'stops[2].second', (piece) => {
    piece.stops[2]!.second = 300;
  }),
  part('CHECK_SECOND', 'rings', 'a ring cut in two runs', 'sticks[0].rails[5]', (piece) => {
    const pairs = piece.stops[1]!.pairs.filter((pair) => pair.rails[0]!.endsWith('right'));
    piece.stops[1]!.pairs = piece.stops[1]!.pairs.filter((pair) => !pairs.includes(pair));
    piece.stops.splice(2, 0, { setting: 400, second: 299.5, gauge: null, pairs });
  }),
  part('CHECK_GAUGE', 'profiled', 'a gauge stick not named', 'stops[0].gauge', (piece) => {
    piece.stops[0]!.gauge = null;
  }),
  part('CHECK_GAUGE', 'profiled', 'a gauge stick of another length', 'stops[1].gauge', (piece) => {
    piece.stops[1]!.gauge = 'G451';
  }),
  part('CHECK_GAUGE', 'rings', 'a gauge stick the shop does not own', 'stops[0].gauge', (piece) => {
    piece.stops[0]!.gauge = 'G400';
  }),
  part('CHECK_PAIR', 'rings', 'rails that do not face each other', 'stops[0].pairs[0]', (piece) => {
    const [first, second] = piece.stops[0]!.pairs;
    [first!.rails[1], second!.rails[1]] = [second!.rails[1]!, first!.rails[1]!];
  }),
  part('CHECK_PAIR', 'rings', 'a rail by itself', 'stops[0].pairs[1]', (piece) => {
    piece.stops[0]!.pairs[1]!.rails.pop();
  }),
  part('CHECK_PAIR', 'rings', 'a pair of nothing', 'stops[0].pairs[2]', (piece) => {
    piece.stops[0]!.pairs.push({ frame: 'S/1', rails: [] });
  }),
  part('CHECK_PAIR', 'rings', 'four rails where pairs are asked for', 'stops[0].pairs[0]', (piece) => {
    const [first, second] = piece.stops[0]!.pairs;
    first!.rails.push(...second!.rails);
    piece.stops[0]!.pairs.pop();
  }),
];

const left: readonly Spoil[] = [
  part('CHECK_LEFT', 'profiled', 'a micrometre of blade in an offcut', 'sticks[2].left[0]', (piece) => {
    piece.sticks[2]!.left[0]!.from = 1589.214;
  }),
  part('CHECK_LEFT', 'profiled', 'the trim in an offcut', 'sticks[2].left[0]', (piece) => {
    piece.sticks[2]!.left[0]!.to = 1990.001;
  }),
  part('CHECK_LEFT', 'profiled', 'waste that is wood of a rail', 'sticks[1].left[1]', (piece) => {
    piece.sticks[1]!.left.push({ from: 100, to: 200, use: 'waste' });
  }),
  part('CHECK_LEFT', 'profiled', 'a flaw in an offcut', 'sticks[0].left[0]', (piece) => {
    // Both rails of B away: the flaw is then between two free spans.
    piece.sticks[0]!.rails.splice(1);
    piece.sticks[0]!.left = [{ from: 465.243, to: 1490, use: 'offcut' }];
  }),
  part('CHECK_LEFT', 'rings', 'one remainder in another', 'sticks[0].left[1]', (piece) => {
    piece.sticks[0]!.left.push({ from: 5900, to: 5950, use: 'waste' });
  }),
  part('CHECK_LEFT', 'rings', 'past the end of the stick', 'sticks[0].left[0]', (piece) => {
    piece.sticks[0]!.left[0]!.to = 6000.001;
  }),
  part('CHECK_LEFT', 'rings', 'from and to the wrong way round', 'sticks[0].left[0]', (piece) => {
    const only = piece.sticks[0]!.left[0]!;
    [only.from, only.to] = [only.to, only.from];
  }),
  part('CHECK_LEFT_USE', 'profiled', 'an offcut called waste', 'sticks[2].left[0]', (piece) => {
    piece.sticks[2]!.left[0]!.use = 'waste';
  }),
  part('CHECK_LEFT_USE', 'profiled', 'waste called an offcut', 'sticks[1].left[0]', (piece) => {
    piece.sticks[1]!.left[0]!.use = 'offcut';
  }),
  part(
    'CHECK_LEFT_PIECE',
    'profiled',
    'an offcut as long as between the trims',
    'sticks[2].left[0].piece',
    (piece) => {
      const { from, to } = piece.sticks[2]!.left[0]!;
      piece.sticks[2]!.left[0]!.piece = { length: to - from, ends: ['raw', 'raw'] };
    },
  ),
  part('CHECK_LEFT_MISSING', 'profiled', 'an offcut left out', 'sticks[2].left', (piece) => {
    piece.sticks[2]!.left = [];
  }),
  part('CHECK_LEFT_MISSING', 'profiled', 'an offcut a micrometre short', 'sticks[2].left', (piece) => {
    piece.sticks[2]!.left[0]!.from = 1589.216;
  }),
];

const money: readonly Spoil[] = [
  whole('CHECK_BUY', 'profiled', 'an offer nobody makes', 'buy[0]', (plan) => {
    plan.buy[0]!.offer = 'p';
  }),
  whole('CHECK_BUY', 'profiled', 'an offer for another moulding', 'buy[0]', (plan) => {
    plan.buy[0]!.moulding = 'ash';
  }),
  whole('CHECK_BUY', 'profiled', 'one offer in two entries', 'buy[1]', (plan) => {
    plan.buy.push({ ...plan.buy[0]! });
  }),
  whole('CHECK_BUY', 'profiled', 'nothing bought', 'buy', (plan) => {
    plan.buy = [];
  }),
  whole('CHECK_BUY', 'packs', 'fewer bought than used', 'buy[0].count', (plan) => {
    Object.assign(plan.buy[0]!, { count: 6, cost: 60 });
  }),
  whole('CHECK_BUY', 'profiled', 'bought and never cut', 'buy[0]', (plan) => {
    plan.mouldings[0]!.sticks.splice(1);
  }),
  whole('CHECK_PACK', 'packs', 'part of a pack', 'buy[0].count', (plan) => {
    Object.assign(plan.buy[0]!, { count: 13, cost: 91 });
  }),
  whole('CHECK_AVAILABLE', 'packs', 'more than there is for sale', 'buy[0].count', (plan) => {
    Object.assign(plan.buy[0]!, { count: 15, cost: 105 });
  }),
  whole('CHECK_COST', 'packs', 'the price for fewer', 'buy[0].cost', (plan) => {
    plan.buy[0]!.cost = 120;
  }),
  whole('CHECK_COST', 'packs', 'nine, where twelve are cheaper', 'buy[0]', (plan) => {
    Object.assign(plan.buy[0]!, { count: 9, cost: 90 });
  }),
  part('CHECK_PROOF', 'packs', 'a value that is not what it costs', 'proof.value', (piece) => {
    piece.proof.value = 83.99;
  }),
  part('CHECK_PROOF', 'rings', 'a value that is not the length used', 'proof.value', (piece) => {
    Object.assign(piece.proof, { value: 5999, bound: 5999 });
  }),
  part('CHECK_PROOF', 'packs', 'a bound above the value', 'proof.bound', (piece) => {
    piece.proof.bound = 84.01;
  }),
  part('CHECK_PROOF', 'packs', 'a bound that is no number', 'proof.bound', (piece) => {
    piece.proof.bound = Number.NaN;
  }),
  part('CHECK_PROOF', 'packs', 'called optimal with a gap', 'proof.status', (piece) => {
    piece.proof.status = 'optimal';
  }),
  part('CHECK_PROOF', 'rings', 'called within without a gap', 'proof.status', (piece) => {
    piece.proof.status = 'within';
  }),
  part('CHECK_PROOF', 'packs', 'length where there are prices', 'proof.measure', (piece) => {
    piece.proof.measure = 'length';
  }),
  part('CHECK_PROOF', 'rings', 'cost where there are none', 'proof.measure', (piece) => {
    piece.proof.measure = 'cost';
  }),
];

const totals = (
  [
    ['sticks', 4],
    ['stockLength', 5500.001],
    ['railLength', 4109.001],
    ['offcutLength', 761.3],
    ['wasteLength', 629.7],
    ['yield', 0.7472],
    ['cost', 24.99],
    ['stopSettings', 5],
    ['cuts', 23],
  ] as const
).map(([name, value]) =>
  whole('CHECK_TOTALS', 'profiled', `${name} of ${value}`, `totals.${name}`, (plan) => {
    plan.totals[name] = value;
  }),
);

const nestedTotals: readonly Spoil[] = [
  whole('CHECK_TOTALS', 'nested', 'rails counted long point to long point', 'totals.railLength', (plan) => {
    const { totals } = plan;
    totals.railLength = 2800;
    totals.wasteLength = Math.round((totals.wasteLength - 298.564) * 1000) / 1000;
    totals.yield = 2800 / 3000;
  }),
  whole('CHECK_TOTALS', 'nested', 'two cuts a rail', 'totals.cuts', (plan) => {
    plan.totals.cuts = 20;
  }),
  whole('CHECK_TOTALS', 'nested', 'a yield that is no number', 'totals.yield', (plan) => {
    plan.totals.yield = Number.NaN;
  }),
  whole('CHECK_TOTALS', 'rings', 'a second stop that is not counted', 'totals.stopSettings', (plan) => {
    plan.totals.stopSettings = 3;
  }),
  whole('CHECK_TOTALS', 'rings', 'a rail that is wider on paper', 'totals.railLength', (plan) => {
    rails(plan.mouldings[0]!)[0]!.length = 400.5;
  }),
];

export const stockSpoils: readonly Spoil[] = [
  ...sticks,
  ...stops,
  ...left,
  ...money,
  ...totals,
  ...nestedTotals,
];
