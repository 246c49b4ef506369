/** Breaches in the document, the frames, and the rails on their sticks. */
import { arrange, part, rails, rename, type Spoil, shift, swap, whole } from './spoil-kit.js';

const documents: readonly Spoil[] = [
  whole('CHECK_DOCUMENT', 'rings', 'another batch', 'batch', (plan) => {
    plan.batch = 'ring';
  }),
  whole('CHECK_DOCUMENT', 'rings', 'other units', 'units', (plan) => {
    plan.units = 'in';
  }),
  whole('CHECK_DOCUMENT', 'rings', 'another schema', 'schema', (plan) => {
    Object.assign(plan, { schema: 'pairstop/plan@2' });
  }),
  part('CHECK_NUMBER', 'rings', 'a start that is no number', 'sticks[0].rails[3].start', (piece) => {
    rails(piece)[3]!.start = Number.NaN;
  }),
  part('CHECK_NUMBER', 'rings', 'a negative start', 'sticks[0].rails[0].start', (piece) => {
    rails(piece)[0]!.start = -0.001;
  }),
  part('CHECK_NUMBER', 'rings', 'a rail of no length', 'sticks[0].rails[3].length', (piece) => {
    rails(piece)[3]!.length = 0;
  }),
  part('CHECK_NUMBER', 'rings', 'a fourth decimal', 'sticks[0].left[0].from', (piece) => {
    piece.sticks[0]!.left[0]!.from = 5867.8885;
  }),
  part('CHECK_NUMBER', 'rings', 'an infinite setting', 'stops[0].setting', (piece) => {
    piece.stops[0]!.setting = Number.POSITIVE_INFINITY;
  }),
  whole('CHECK_NUMBER', 'packs', 'half a stick', 'buy[0].count', (plan) => {
    plan.buy[0]!.count = 12.5;
  }),
  whole('CHECK_NUMBER', 'packs', 'a tenth of a cent', 'buy[0].cost', (plan) => {
    plan.buy[0]!.cost = 84.001;
  }),
  whole('CHECK_NUMBER', 'shortage', 'a need that is no number', 'shortfall[0].needs', (plan) => {
    plan.shortfall[0]!.needs = Number.NaN;
  }),
  whole('CHECK_NUMBER', 'shortage', 'a cost where nothing is for sale', 'shortfall[0].cost', (plan) => {
    plan.shortfall[0]!.cost = 20;
  }),
  whole('CHECK_MOULDING', 'rings', 'a moulding nobody knows', 'mouldings[0].moulding', (plan) => {
    plan.mouldings[0]!.moulding = 'oak';
  }),
  whole('CHECK_MOULDING', 'rings', 'a moulding twice', 'mouldings[1].moulding', (plan) => {
    plan.mouldings.push(structuredClone(plan.mouldings[0]!));
  }),
  whole('CHECK_MOULDING', 'rings', 'a moulding left out', 'mouldings', (plan) => {
    plan.mouldings = [];
  }),
  whole('CHECK_STATUS', 'shortage', 'called complete', 'status', (plan) => {
    plan.status = 'complete';
  }),
  part('CHECK_STATUS', 'rings', 'called short', 'status', (piece) => {
    piece.status = 'short';
  }),
];

const frames: readonly Spoil[] = [
  part('CHECK_RAIL_ID', 'rings', 'a copy beyond the quantity', 'sticks[0].rails[4]', (piece) => {
    rename(rails(piece)[4]!, 'F/3', 'top');
  }),
  part('CHECK_RAIL_ID', 'rings', 'a copy written with a leading zero', 'sticks[0].rails[4]', (piece) => {
    rename(rails(piece)[4]!, 'F/01', 'top');
  }),
  part('CHECK_RAIL_ID', 'rings', 'a side a rectangle lacks', 'sticks[0].rails[4]', (piece) => {
    rename(rails(piece)[4]!, 'F/1', 'side1');
  }),
  part('CHECK_RAIL_ID', 'polygons', 'a seventh side', 'sticks[0].rails[0]', (piece) => {
    rename(rails(piece)[0]!, 'H/1', 'side7');
  }),
  part('CHECK_RAIL_ID', 'rings', 'a rail named unlike its frame', 'sticks[0].rails[0]', (piece) => {
    rails(piece)[0]!.rail = 'S/1/left';
  }),
  part('CHECK_RAIL_TWICE', 'rings', 'the same rail twice', 'sticks[0].rails[1]', (piece) => {
    rename(rails(piece)[1]!, 'S/1', 'top');
  }),
  part('CHECK_RAIL_MISSING', 'profiled', 'a rail left out', '', (piece) => {
    rails(piece, 1).pop();
  }),
  part('CHECK_RAIL_MISSING', 'rings', 'a whole frame left out', '', (piece) => {
    rails(piece).splice(12);
    piece.stops.pop();
  }),
  part('CHECK_SHORTFALL', 'shortage', 'a frame that is cut called not made', '', (_piece, plan) => {
    plan.shortfall[0]!.frames.push('T/1');
  }),
  whole('CHECK_SHORTFALL', 'shortage', 'a frame nobody ordered', 'shortfall[0].frames[2]', (plan) => {
    plan.shortfall[0]!.frames.push('T/4');
  }),
  whole('CHECK_SHORTFALL', 'shortage', 'a frame twice', 'shortfall[0].frames[2]', (plan) => {
    plan.shortfall[0]!.frames.push('T/3');
  }),
  whole('CHECK_SHORTFALL', 'shortage', 'a moulding nobody knows', 'shortfall[0].moulding', (plan) => {
    plan.shortfall[0]!.moulding = 'oak';
  }),
  whole('CHECK_SHORTFALL', 'rings', 'a shortfall of nothing', 'shortfall[0].frames', (plan) => {
    plan.shortfall.push({ moulding: 'elm', frames: [], needs: 1, cost: null });
  }),
  part('CHECK_RAIL_MISSING', 'shortage', 'a frame neither cut nor in the shortfall', '', (_piece, plan) => {
    plan.shortfall[0]!.frames.pop();
  }),
];

const tagged: readonly Spoil[] = [
  part('CHECK_TAG', 'rings', 'one tag on two rails', 'sticks[0].rails[3].tag', (piece) => {
    for (const stick of piece.sticks) for (const rail of stick.rails) rail.tag = rail.rail;
    rails(piece)[3]!.tag = rails(piece)[0]!.rail;
  }),
  part('CHECK_TAG', 'rings', 'a rail without one', 'sticks[0].rails[2].tag', (piece) => {
    for (const stick of piece.sticks) for (const rail of stick.rails) rail.tag = rail.rail;
    delete rails(piece)[2]!.tag;
  }),
];

const lengths: readonly Spoil[] = [
  part('CHECK_LENGTH', 'profiled', 'a step too short', 'sticks[0].rails[1].length', (piece) => {
    rails(piece)[1]!.length = 199.5;
  }),
  part('CHECK_LENGTH', 'profiled', 'rounded down to the step', 'sticks[2].rails[3].length', (piece) => {
    rails(piece, 2)[3]!.length = 250;
  }),
  part('CHECK_LENGTH', 'profiled', 'a step too long', 'sticks[1].rails[0].length', (piece) => {
    rails(piece, 1)[0]!.length = 451.5;
  }),
  part('CHECK_LENGTH', 'profiled', 'off the step', 'sticks[1].rails[0].length', (piece) => {
    rails(piece, 1)[0]!.length = 451.001;
  }),
  part('CHECK_LENGTH', 'polygons', 'a step too short for a hexagon', 'sticks[0].rails[0].length', (piece) => {
    rails(piece)[0]!.length = 265.113;
  }),
  part('CHECK_LENGTH', 'merged', 'beyond the largest play', 'sticks[0].rails[0].length', (piece) => {
    rails(piece)[0]!.length = 434.5;
  }),
  part('CHECK_LENGTH', 'merged', 'below the least play', 'sticks[0].rails[2].length', (piece) => {
    rails(piece)[2]!.length = 432.5;
  }),
  part(
    'CHECK_LENGTH',
    'merged',
    'off the step without a gauge stick',
    'sticks[0].rails[4].length',
    (piece) => {
      rails(piece)[4]!.length = 333.3;
    },
  ),
  part('CHECK_OPPOSING', 'merged', 'a step between opposing rails', '', (piece) => {
    rails(piece)[7]!.length = 334;
  }),
  part('CHECK_OPPOSING', 'polygons', 'one side of a hexagon longer', '', (piece) => {
    rails(piece)[5]!.length = 266.7;
  }),
  part('CHECK_ANGLE', 'polygons', 'a hexagon cut at 45°', 'sticks[0].rails[2].angle', (piece) => {
    rails(piece)[2]!.angle = 45;
  }),
  part('CHECK_ANGLE', 'rings', 'an angle that is no number', 'sticks[0].rails[2].angle', (piece) => {
    rails(piece)[2]!.angle = Number.NaN;
  }),
  part('CHECK_FLIPPED', 'rings', 'profiled moulding flipped', 'sticks[0].rails[2]', (piece) => {
    rails(piece)[2]!.flipped = true;
  }),
];

const places: readonly Spoil[] = [
  part('CHECK_TRIM', 'profiled', 'into the left trim', 'sticks[1].rails[0]', (piece) => {
    rails(piece, 1)[0]!.start = 9.999;
  }),
  part('CHECK_TRIM', 'packs', 'past the end of the stick', 'sticks[0].rails[0]', (piece) => {
    rails(piece)[0]!.start = 100.001;
  }),
  part(
    'CHECK_FLAW',
    'profiled',
    'a micrometre into the flaw from the right',
    'sticks[0].rails[1]',
    (piece) => {
      rails(piece)[1]!.start = 719.999;
    },
  ),
  part(
    'CHECK_FLAW',
    'profiled',
    'a micrometre into the flaw from the left',
    'sticks[0].rails[0]',
    (piece) => {
      rails(piece)[0]!.start = 249.001;
    },
  ),
  part('CHECK_WOOD', 'rings', 'one rail in the next', 'sticks[0].rails[5]', (piece) => {
    shift(piece, 0, 5, -4.244);
  }),
  part('CHECK_WOOD', 'nested', 'nested too deep', 'sticks[0].rails[1]', (piece) => {
    shift(piece, 0, 1, -4.244);
  }),
  part('CHECK_WOOD', 'nested', 'spans that overlap without a flip', 'sticks[0].rails[1]', (piece) => {
    rails(piece)[1]!.flipped = false;
  }),
  part('CHECK_KERF', 'rings', 'a micrometre short of the blade', 'sticks[0].rails[5]', (piece) => {
    shift(piece, 0, 5, -0.001);
  }),
  part('CHECK_KERF', 'nested', 'a micrometre short of the shared cut', 'sticks[0].rails[3]', (piece) => {
    shift(piece, 0, 3, -0.001);
  }),
  part('CHECK_KERF', 'nested', 'two micrometres short at a hexagon', 'sticks[0].rails[6]', (piece) => {
    shift(piece, 0, 6, -0.002);
  }),
  part('CHECK_RECUT', 'profiled', 'a micrometre of the recut gone', 'sticks[1].rails[2]', (piece) => {
    shift(piece, 1, 2, -0.001);
  }),
  part('CHECK_RECUT', 'polygons', 'the smaller blade where angles meet', 'sticks[0].rails[6]', (piece) => {
    shift(piece, 0, 6, 3.667 - 3.925);
  }),
  part('CHECK_NEST', 'nested', 'a hexagon nested in a rectangle', 'sticks[0].rails[4]', (piece) => {
    // The rectangle's last rail is flipped, so this one, unflipped, leaves wood and blade clear.
    shift(piece, 0, 4, -20);
  }),
];

const order: readonly Spoil[] = [
  part('CHECK_ORDER', 'profiled', 'a short rail before long ones', 'sticks[2].rails[1]', (piece) => {
    arrange(piece, 2, [4, 0, 1, 2, 3], 5.243);
  }),
  part('CHECK_MATCH', 'profiled', 'a rail between a pair', 'sticks[2].rails[2]', (piece) => {
    arrange(piece, 2, [0, 1, 3, 2, 4], 5.243);
  }),
  part('CHECK_MATCH', 'profiled', 'a flaw between a pair', 'sticks[0].rails[2]', (piece) => {
    rails(piece)[1]!.start = 466.243;
  }),
  part('CHECK_MATCH', 'nested', 'two pairs mixed', 'sticks[0].rails[0]', (piece) => {
    swap(rails(piece)[1]!, rails(piece)[2]!);
  }),
  part('CHECK_MATCH', 'rings', 'bottom before right', 'sticks[0].rails[13]', (piece) => {
    swap(rails(piece)[13]!, rails(piece)[14]!);
  }),
  part('CHECK_MATCH', 'rings', 'two rings mixed', 'sticks[0].rails[9]', (piece) => {
    swap(rails(piece)[5]!, rails(piece)[9]!);
  }),
];

export const railSpoils: readonly Spoil[] = [
  ...documents,
  ...frames,
  ...tagged,
  ...lengths,
  ...places,
  ...order,
];
