/** The engine's problem of replacing lost rails: with nothing else moved, or with some sticks opened again. */
import { copyOf } from '../documents/ids.js';
import type { Engine } from '../solve/engine.js';
import type { Problem, Stock } from '../solve/problem.js';
import { groupedBy } from '../stock/grouped.js';
import { byCuttingOrder } from '../stock/items.js';
import { clearSpans, lanesOf } from '../stock/lanes.js';
import { lengthAsCents } from '../stock/piles.js';
import { purchaseOf, supplyOf } from '../stock/purchase.js';
import { kindsOf, spare } from '../stock/spacing.js';
import type { CutItem, Source } from '../stock/task.js';
import { type Batch, type Offer, RAW_ENDS, type RackEntry } from '../terms.js';
import { handOut, type PieceStock, type PlacedTogether, type PlacedUnit, type Slot } from './hand-out.js';
import type { ShopRail } from './room.js';
import { capacityBehind, endOf, onLane } from './room.js';
import type { ShopState } from './state.js';
import { itemOf, keyOf, type RailUnit, type SortedUnits } from './units.js';

/** Money to be spent, worth of pieces begun on which no rail was planned, whole sticks of the plan used, offcuts used. */
const GOALS = 4;

/** Equal rails of a frame that are placed as one, by twos: those that stand so far in the list of all, longest first. */
export interface Paired {
  readonly from: number;
  readonly to: number;
}

export interface RecutTask {
  readonly batch: Batch;
  readonly standing: ShopState;
  readonly sorted: SortedUnits;
  /** By index of stick: may its kept units move? */
  readonly isOpen: (stick: number) => boolean;
  /** Groups to be replaced. */
  readonly groups: readonly RailUnit[];
  /** Sticks behind whose rails nothing is put. */
  readonly full: ReadonlySet<number>;
  /** Unlimited offers and nothing else: to find what would have to be bought. */
  readonly onlyOffers: boolean;
  /** Null: every rail is placed by itself, unless it is matched. */
  readonly paired: Paired | null;
}

export interface Replacement {
  readonly placed: readonly PlacedUnit[];
  /** Cost for each goal. */
  readonly costs: readonly number[];
  /** No way within these limits costs less money. */
  readonly bound: number;
}

export interface RecutClock {
  /** Given money and worth of a plan found, and the bound on money: is the plan good enough? */
  readonly enough?: (money: number, worth: number, bound: number) => boolean;
  /** Called when a search ended without a plan and without a proof that there is none. */
  readonly onUnproven?: () => void;
  readonly now: () => number;
  readonly deadline: number;
  readonly seed: number;
}

/** Rails that stand, or will stand, at the head of a lane. */
function headOf({ sorted, standing }: RecutTask, stick: number, lane: number): readonly ShopRail[] {
  return [...standing.sticks[stick]!.lanes[lane]!.gone, ...(sorted.pinned[stick]?.[lane] ?? [])];
}

function sourceOf(setting: RecutTask, entry: RackEntry | Offer): Source {
  const { task } = setting.standing;
  const clear = clearSpans(entry, task.moulding, task.spacing.recut);
  const source = 'flaws' in entry ? 'rack' : 'offer';
  const lanes = lanesOf(clear, task.spacing);
  const { ends, flaws } = 'flaws' in entry ? entry : { ends: RAW_ENDS, flaws: [] };
  return { source, ref: entry.id, length: entry.length, ends, flaws, clear, lanes, copies: null };
}

function segmentsOf(setting: RecutTask, source: Source): readonly number[] {
  const extra = spare(setting.standing.task.spacing);
  return source.lanes.map((lane) => Math.max(0, lane.to - lane.from + extra));
}

function stickRows(setting: RecutTask): readonly PieceStock[] {
  const { standing, sorted } = setting;
  const { spacing, moulding } = standing.task;
  const kept = new Map<number, RailUnit[]>();
  for (const unit of sorted.kept) kept.set(unit.home, [...(kept.get(unit.home) ?? []), unit]);
  return standing.sticks.map((stick, s) => {
    const open = setting.isOpen(s);
    const segments = stick.lanes.map((lane, l) => {
      if (!open && setting.full.has(s)) return 0;
      const head = headOf(setting, s, l);
      const own = new Set(lane.open);
      const stays = open ? [] : (kept.get(s) ?? []).filter((unit) => own.has(unit.rails[0]!));
      const items = stays.map((unit) => itemOf(spacing, unit)).sort(byCuttingOrder);
      return capacityBehind(spacing, lane, endOf(spacing, lane, head, items.flatMap(onLane)));
    });
    const keep = segments.reduce((sum, length) => sum + (length >= moulding.keepOver ? length : 0), 0);
    const costs = [0, 0, !open && stick.whole ? 1 : 0, keep];
    return { piece: { kind: 'stick', stick: s }, stock: { segments, costs, supply: 1, purchase: null } };
  });
}

function copiesUsed(standing: ShopState): ReadonlyMap<string, ReadonlySet<number>> {
  const used = new Map<string, Set<number>>();
  for (const { source, name } of standing.sticks) {
    const key = `${source.source} ${source.ref}`;
    const copies = used.get(key) ?? new Set();
    used.set(key, copies.add(copyOf(name)));
  }
  return used;
}

function freeNumbers(used: ReadonlySet<number> | undefined, count: number): readonly number[] {
  return Array.from({ length: count }, (_, i) => i + 1).filter((copy) => used?.has(copy) !== true);
}

function spareRows(setting: RecutTask): readonly PieceStock[] {
  const { batch, standing } = setting;
  const { rack, offers } = standing.task;
  const used = copiesUsed(standing);
  const rows: PieceStock[] = [];
  const add = (entry: RackEntry | Offer, count: number, worth: number): void => {
    const source = sourceOf(setting, entry);
    const copies = freeNumbers(used.get(`${source.source} ${entry.id}`), count);
    if (copies.length === 0) return;
    const stock: Stock = {
      segments: segmentsOf(setting, source),
      costs: [0, worth, 0, 0],
      supply: copies.length,
      purchase: null,
    };
    rows.push({ piece: { kind: 'spare', source, copies, offer: null }, stock });
  };
  for (const entry of rack) {
    add(entry, entry.quantity, entry.value ?? lengthAsCents(entry.length, batch.units));
  }
  for (const offer of offers) {
    add(offer, standing.bought.get(offer.id) ?? 0, lengthAsCents(offer.length, batch.units));
  }
  return rows;
}

function offerRows(setting: RecutTask): readonly PieceStock[] {
  const { standing, onlyOffers } = setting;
  return standing.task.offers.flatMap((offer): readonly PieceStock[] => {
    const limit = supplyOf(offer);
    const rest = limit === null ? null : limit - (standing.bought.get(offer.id) ?? 0);
    const supply = onlyOffers || rest === null ? null : Math.floor(rest / offer.pack) * offer.pack;
    if (supply !== null && supply <= 0) return [];
    const source = sourceOf(setting, offer);
    const plain = offer.pack === 1 && offer.breaks.length === 0;
    const stock: Stock = {
      segments: segmentsOf(setting, source),
      costs: [offer.price, 0, 0, 0],
      supply,
      purchase: plain ? null : purchaseOf(offer),
    };
    return [{ piece: { kind: 'offer', source, copies: null, offer }, stock }];
  });
}

function homeOf(units: readonly RailUnit[]): number {
  const count = new Map<number, number>();
  for (const { home } of units) count.set(home, (count.get(home) ?? 0) + 1);
  return [...count].reduce((best, one) => (one[1] > best[1] ? one : best))[0];
}

/** Units to be placed, and the items they are. */
function demandOf(setting: RecutTask, longest: number) {
  const { standing, sorted, groups, isOpen, onlyOffers, paired } = setting;
  const { spacing } = standing.task;
  const moving = onlyOffers ? [] : sorted.kept.filter((unit) => isOpen(unit.home));
  const alike = groupedBy([...groups, ...moving], (unit) => {
    const [rail] = unit.rails;
    return unit.rails.length > 1 ? rail!.id : `${rail!.frame}/ ${keyOf(itemOf(spacing, unit))}`;
  });
  const items = new Map<string, { readonly item: CutItem; readonly units: PlacedTogether[] }>();
  const weightOf = (all: readonly RailUnit[]): number => itemOf(spacing, all[0]!).weight;
  const longestFirst = [...alike.values()].sort((a, b) => weightOf(b) - weightOf(a));
  for (const [k, all] of longestFirst.entries()) {
    const place = k / longestFirst.length;
    const two = paired !== null && place >= paired.from && place < paired.to && 2 * weightOf(all) <= longest;
    const size = two ? 2 : 1;
    for (let at = 0; at < all.length; at += size) {
      const parts = all.slice(at, at + size);
      const rails = parts.flatMap((unit) => unit.rails);
      const home = homeOf(parts);
      const item = itemOf(spacing, { rails, home });
      const known = items.get(keyOf(item)) ?? { item, units: [] };
      items.set(keyOf(item), known);
      known.units.push({ parts, item, frame: rails[0]!.frame, home });
    }
  }
  return [...items.values()].sort((a, b) => byCuttingOrder(a.item, b.item));
}

/** The best plan within the setting; null when none was found. */
export function solve(setting: RecutTask, engine: Engine, clock: RecutClock): Replacement | null {
  const rows = [
    ...(setting.onlyOffers ? [] : [...stickRows(setting), ...spareRows(setting)]),
    ...offerRows(setting),
  ];
  const longest = Math.max(0, ...rows.flatMap(({ stock }) => stock.segments));
  const demand = demandOf(setting, longest);
  if (demand.length === 0) return { placed: [], costs: new Array<number>(GOALS).fill(0), bound: 0 };
  const starts = kindsOf(setting.standing.task.spacing)?.start;
  const least = Math.min(...demand.map(({ item }) => item.weight + (starts?.[item.kind] ?? 0)));
  const useful = rows
    .filter(({ stock }) => stock.segments.some((length) => length >= least))
    .map((row, at) => ({ ...row, at }));
  if (useful.length === 0) return null;
  const problem: Problem = {
    items: demand.map(({ item, units }) => ({ weight: item.weight, demand: units.length, kind: item.kind })),
    stocks: useful.map(({ stock }) => stock),
    kinds: kindsOf(setting.standing.task.spacing),
    goals: GOALS,
  };
  const { now, deadline, seed, enough } = clock;
  let done = false;
  const outcome = engine.solve(problem, {
    now,
    deadline,
    seed,
    onImproved: ({ proofs: [money, worth] }) => {
      done ||= enough?.(money?.value ?? 0, worth?.value ?? 0, money?.bound ?? 0) === true;
    },
    stopped: () => done,
  });
  if (outcome.kind === 'none') {
    if (!outcome.proven) clock.onUnproven?.();
    return null;
  }
  const numbers = useful.map(() => 0);
  const slots = demand.map((): Slot[] => []);
  for (const pattern of outcome.patterns) {
    const row = useful[pattern.stock]!;
    for (let copy = 0; copy < pattern.count; copy++) {
      const number = numbers[pattern.stock]!++;
      pattern.segments.forEach((entries, lane) => {
        for (const { item, count } of entries) {
          for (let i = 0; i < count; i++) slots[item]!.push({ row, number, lane });
        }
      });
    }
  }
  return {
    placed: demand.flatMap(({ units }, i) => handOut(slots[i]!, units)),
    costs: outcome.proofs.map((proof) => proof.value),
    bound: outcome.proofs[0]?.bound ?? 0,
  };
}
