/** One moulding of the document, from how its sticks and stops were laid out. */

import { centsFromMoney, moneyFromCents } from '../documents/money.js';
import type { PlacedRail, PlanProof } from '../documents/plan/types.js';
import type {
  RecutMoulding,
  RecutPurchase,
  RecutShortfall,
  RecutStick,
  RecutStop,
} from '../documents/recut/types.js';
import { leftOf } from '../layout/left.js';
import { mmFromUm } from '../lengths/units.js';
import { remainder } from '../plan/measure.js';
import { runsOf, seconds } from '../plan/sawing/hours.js';
import { type Tags, tagsOf } from '../rails/tags.js';
import { type Bought, purchase } from '../stock/purchase.js';
import { cutsOf, type ItemRow, oneStickLength } from '../stock/spacing.js';
import { gaugesByLength } from '../stops/stops.js';
import type { Batch, Offer } from '../terms.js';
import type { RecutChoice } from './choose.js';
import type { PlacedUnit } from './hand-out.js';
import type { Relaid, RelaidStick, RelaidStop } from './lay.js';
import type { ShopRail } from './room.js';
import { homesOf, type ShopState } from './state.js';
import { facing, itemOf, type RailUnit } from './units.js';

function placed(standing: ShopState, rail: ShopRail, tags: Tags): PlacedRail {
  return {
    rail: rail.id,
    frame: rail.frame,
    side: rail.side,
    start: mmFromUm(rail.start),
    length: mmFromUm(rail.length),
    angle: standing.task.spacing.mitres[rail.kind]!.angle,
    flipped: rail.flipped,
    tag: tags.rail(rail.frame, rail.side),
  };
}

function stickOf(
  standing: ShopState,
  homes: ReadonlyMap<string, string>,
  stick: RelaidStick,
  tags: Tags,
): RecutStick {
  const { source, lanes, aside, toCut, name, found } = stick;
  const fromLeft = (rails: readonly ShopRail[]): readonly ShopRail[] =>
    rails.toSorted((a, b) => a.start - b.start);
  const gone = fromLeft([...lanes.flatMap((lane) => lane.gone), ...aside]);
  const all = fromLeft([...gone, ...toCut.flat()]);
  return {
    stick: name,
    source: source.source,
    ref: source.ref,
    length: mmFromUm(source.length),
    run: stick.run,
    ...(found.length > 0 && { flaws: found }),
    cut: gone.filter(({ dead }) => !dead).map((rail) => placed(standing, rail, tags)),
    lost: gone.filter(({ dead }) => dead).map((rail) => placed(standing, rail, tags)),
    rails: toCut.flat().map((rail) => ({
      ...placed(standing, rail, tags),
      replaces: standing.lost.has(rail.id),
      was: homes.get(rail.id) ?? name,
    })),
    left: leftOf(standing.task, source, [all]).map((left) => remainder(source, all, left)),
  };
}

/** A good rail as long as a lost one: the one that faces it, or any other of its frame. */
function setBy(
  standing: ShopState,
  goods: ReadonlyMap<string, readonly ShopRail[]>,
  stop: RelaidStop,
): string | null {
  for (const rail of stop.units.flat()) {
    if (!standing.lost.has(rail.id) || rail.length !== stop.setting) continue;
    const like = (goods.get(rail.frame) ?? []).filter((good) => good.length === rail.length);
    const opposite = facing(rail.line, rail.side);
    const found = like.find((good) => good.side === opposite) ?? like[0];
    if (found !== undefined) return found.id;
  }
  return null;
}

function stopsOf(batch: Batch, standing: ShopState, stops: readonly RelaidStop[]): readonly RecutStop[] {
  const gauges = gaugesByLength(batch.gauges);
  const goods = new Map<string, ShopRail[]>();
  for (const rail of standing.sticks.flatMap(({ lanes }) => lanes.flatMap((lane) => lane.gone))) {
    if (!rail.dead) goods.set(rail.frame, [...(goods.get(rail.frame) ?? []), rail]);
  }
  return stops.map((stop) => ({
    ...(stop.run !== null && { run: stop.run }),
    setting: mmFromUm(stop.setting),
    second: stop.second === null ? null : mmFromUm(stop.second),
    gauge: gauges.get(stop.setting) ?? null,
    finish: stop.finish,
    setBy: setBy(standing, goods, stop),
    pairs: stop.units.map((rails) => ({ frame: rails[0]!.frame, rails: rails.map((rail) => rail.id) })),
  }));
}

export interface Buying {
  readonly purchases: readonly RecutPurchase[];
  /** Pieces bought but not cut. */
  readonly spare: readonly { readonly offer: Offer; readonly bought: Bought; readonly used: number }[];
}

export function buyingOf(standing: ShopState, units: readonly PlacedUnit[], limited: boolean): Buying {
  const used = new Map<Offer, Set<number>>();
  for (const { piece, number } of units) {
    if (piece.kind !== 'offer' || piece.offer === null) continue;
    used.set(piece.offer, (used.get(piece.offer) ?? new Set()).add(number));
  }
  const found = [...used].map(([offer, numbers]) => {
    const rest = offer.available === null ? null : offer.available - (standing.bought.get(offer.id) ?? 0);
    return { offer, used: numbers.size, bought: purchase(offer, numbers.size, limited ? rest : null) };
  });
  return {
    purchases: found.map(({ offer, bought }) => ({
      moulding: standing.task.moulding.id,
      offer: offer.id,
      count: bought.count,
      cost: moneyFromCents(bought.cost),
    })),
    spare: found.filter((one) => one.bought.count > one.used),
  };
}

/** The units as they would lie in one run: like angles together. */
function rowsOf({ task }: ShopState, units: readonly RailUnit[]): readonly ItemRow[] {
  return units
    .toSorted((a, b) => a.rails[0]!.kind - b.rails[0]!.kind)
    .map((unit) => ({ item: itemOf(task.spacing, unit), count: 1 }));
}

export function shortfallOf(standing: ShopState, choice: RecutChoice): RecutShortfall | null {
  const { missing, wanted } = choice;
  if (missing.length === 0) return null;
  const rails = missing.flatMap((unit) => unit.rails);
  const { purchases: buy } = buyingOf(standing, wanted ?? [], false);
  const lengths = new Map(standing.task.offers.map((offer) => [offer.id, offer.length]));
  const offered = buy.reduce((sum, { offer, count }) => sum + count * (lengths.get(offer) ?? 0), 0);
  return {
    moulding: standing.task.moulding.id,
    frames: [...new Set(rails.map((rail) => rail.frame))],
    rails: rails.map((rail) => rail.id),
    needs: mmFromUm(buy.length > 0 ? offered : oneStickLength(standing.task, rowsOf(standing, missing))),
    buy,
    cost:
      buy.length > 0 ? moneyFromCents(buy.reduce((sum, { cost }) => sum + centsFromMoney(cost), 0)) : null,
  };
}

function proofOf(cost: number, bound: number): PlanProof {
  const status = bound >= cost ? 'optimal' : bound > 0 ? 'within' : 'unproven';
  return {
    status,
    measure: 'cost',
    value: moneyFromCents(cost),
    bound: moneyFromCents(Math.min(bound, cost)),
  };
}

export function mouldingOf(
  batch: Batch,
  standing: ShopState,
  laid: Relaid,
  { short, cost, bound }: { readonly short: boolean; readonly cost: number; readonly bound: number },
): RecutMoulding {
  const homes = new Map([...homesOf(standing)].map(([id, { stick }]) => [id, standing.sticks[stick]!.name]));
  const tags = tagsOf(batch);
  const sticks = laid.sticks.map((stick) => stickOf(standing, homes, stick, tags));
  const stops = stopsOf(batch, standing, laid.stops);
  const { moulding, spacing } = standing.task;
  const cuts = laid.sticks.map(({ toCut }) =>
    toCut.reduce(
      (sum, lane) =>
        sum +
        cutsOf(
          spacing,
          lane.map(({ kind }) => kind),
        ),
      0,
    ),
  );
  const open = sticks.flatMap(({ rails }, s) => (rails.length > 0 ? [s] : []));
  const { runs, time } = runsOf({
    moulding,
    labour: batch.labour,
    sticks: open.map((s) => sticks[s]!),
    stops,
    cuts: open.map((s) => cuts[s]!),
    begun: new Set(open.flatMap((s, at) => (laid.sticks[s]!.whole ? [] : [at]))),
  });
  const moved = sticks.flatMap(({ stick, rails }) =>
    rails.filter((rail) => !rail.replaces && rail.was !== stick),
  );
  return {
    moulding: standing.task.moulding.id,
    status: short ? 'short' : 'complete',
    proof: proofOf(cost, bound),
    moved: moved.length,
    sticks,
    stops,
    runs,
    seconds: seconds(time),
  };
}
