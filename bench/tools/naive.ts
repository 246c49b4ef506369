/**
 * How an order is cut without a plan: frame after frame, each rail from the first stick that still holds it: rack pieces
 * in the order they lie, then one more of the first stick for sale. The stop is set anew for each frame.
 * Within a frame opposing rails follow each other, and matches are kept. Common practice, no source.
 */

import { moneyFromCents } from '../../src/documents/money.js';
import type { Plan } from '../../src/documents/plan/types.js';
import type { LaidRail, LaidStick } from '../../src/layout/layout.js';
import { leftOf } from '../../src/layout/left.js';
import { mmFromUm } from '../../src/lengths/units.js';
import { assemblePlan } from '../../src/plan/assemble.js';
import { emptyPart } from '../../src/plan/build.js';
import { handlingOf } from '../../src/plan/handling.js';
import { plannedStick, plannedStop, stickCuts, totalsOf } from '../../src/plan/measure.js';
import type { MouldingPart } from '../../src/plan/part.js';
import { runsOf } from '../../src/plan/sawing/hours.js';
import { clearSpans, lanesOf } from '../../src/stock/lanes.js';
import { taskOf } from '../../src/stock/problem.js';
import { purchase, supplyOf } from '../../src/stock/purchase.js';
import { ResolvedBatch } from '../../src/stock/resolved.js';
import { standings } from '../../src/stock/spacing.js';
import type { CutItem, MouldingTask, Source, UnitType } from '../../src/stock/task.js';
import { gaugesByLength, type Stop } from '../../src/stops/stops.js';
import { type Batch, type Offer, RAW_ENDS, type RackEntry } from '../../src/terms.js';

interface OpenStick {
  readonly source: Source;
  readonly copy: number;
  readonly lanes: LaidRail[][];
}

type MutableStop = Stop & { readonly units: Stop['units'][number][]; readonly kinds: number[] };

class Bench {
  readonly sticks: OpenStick[] = [];
  readonly stops: MutableStop[] = [];
  readonly bought = new Map<Offer, number>();
  readonly #task: MouldingTask;
  readonly #gauges: ReadonlyMap<number, string>;

  constructor(batch: Batch, task: MouldingTask) {
    this.#task = task;
    this.#gauges = gaugesByLength(batch.gauges);
    for (const entry of task.rack) {
      for (let copy = 1; copy <= entry.quantity; copy++) this.#take(entry, entry.flaws, copy);
    }
  }

  #take(entry: RackEntry | Offer, flaws: RackEntry['flaws'], copy: number): OpenStick {
    const clear = clearSpans({ ...entry, flaws }, this.#task.moulding, this.#task.spacing.recut);
    const lanes = lanesOf(clear, this.#task.spacing);
    const kind = 'flaws' in entry ? 'rack' : 'offer';
    const ends = 'ends' in entry ? entry.ends : RAW_ENDS;
    const { id: ref, length } = entry;
    const source: Source = { source: kind, ref, length, ends, flaws, clear, lanes, copies: null };
    const stick = { source, copy, lanes: lanes.map((): LaidRail[] => []) };
    this.sticks.push(stick);
    return stick;
  }

  /** Puts rails side by side on the first lane of the stick with room. */
  #put(stick: OpenStick, rails: readonly Omit<LaidRail, 'start' | 'flipped'>[]): boolean {
    return stick.lanes.some((lane, l) => {
      const { from, to } = stick.source.lanes[l]!;
      const begun = lane.length;
      const all = [...lane, ...rails];
      const places = standings(this.#task.spacing, from, all);
      const last = all.length - 1;
      if (places[last]!.start + all[last]!.length > to) return false;
      for (const [i, rail] of rails.entries()) lane.push({ ...rail, ...places[begun + i]! });
      return true;
    });
  }

  #buy(): readonly OpenStick[] {
    return this.#task.offers.flatMap((offer) => {
      const count = (this.bought.get(offer) ?? 0) + 1;
      const supply = supplyOf(offer);
      if (supply !== null && count > supply) return [];
      const stick = this.#take(offer, [], count);
      this.sticks.pop();
      return [stick];
    });
  }

  /** False when no stick, on the rack or for sale, holds the rails. */
  #place(rails: readonly Omit<LaidRail, 'start' | 'flipped'>[]): boolean {
    if (this.sticks.some((stick) => this.#put(stick, rails))) return true;
    const stick = this.#buy().find((one) => this.#put(one, rails));
    if (stick === undefined) return false;
    const offer = this.#task.offers.find(({ id }) => id === stick.source.ref)!;
    this.bought.set(offer, stick.copy);
    this.sticks.push(stick);
    return true;
  }

  #stopFor({ setting, second, kind }: CutItem): MutableStop {
    const last = this.stops.at(-1);
    if (last?.setting === setting && last.second === second) {
      if (!last.kinds.includes(kind)) last.kinds.push(kind);
      return last;
    }
    const gauge = this.#gauges.get(setting) ?? null;
    const stop: MutableStop = { run: 0, setting, second, gauge, kinds: [kind], units: [] };
    this.stops.push(stop);
    return stop;
  }

  cut(type: UnitType, copy: number): boolean {
    const item = this.#task.items[type.item]!;
    const unit = { type, copy, sides: type.sides };
    const rails = type.sides.map((side, i) => ({
      unit,
      side,
      kind: item.kind,
      length: item.settings[i] ?? item.settings[0]!,
    }));
    const placed = type.whole ? this.#place(rails) : rails.every((rail) => this.#place([rail]));
    this.#stopFor(item).units.push(unit);
    return placed;
  }
}

function partOf(batch: Batch, task: MouldingTask): MouldingPart | null {
  const bench = new Bench(batch, task);
  for (const line of task.lines) {
    const types = task.units.filter((unit) => unit.line === line);
    for (let copy = 1; copy <= batch.frames[line]!.quantity; copy++) {
      if (!types.every((type) => bench.cut(type, copy))) return null;
    }
  }
  const used = bench.sticks.filter(({ lanes }) => lanes.some((lane) => lane.length > 0));
  const laid = used.map(
    ({ source, copy, lanes }): LaidStick => ({
      run: 0,
      source,
      copy,
      lanes,
      left: leftOf(task, source, lanes),
    }),
  );
  const bought = [...bench.bought].map(([offer, count]) => ({ offer, ...purchase(offer, count) }));
  const cost = bought.reduce((sum, one) => sum + one.cost, 0);
  const sticks = laid.map((stick) => plannedStick(batch, task, stick));
  const stops = bench.stops.map((stop) => plannedStop(batch, task, stop));
  const handling = handlingOf(sticks, stops);
  const totals = totalsOf(task, { sticks: laid, groups: [] }, bench.stops, cost);
  const cuts = laid.map((stick) => stickCuts(task, stick));
  const { moulding } = task;
  const { runs, time } = runsOf({ moulding, labour: batch.labour, sticks, stops, cuts });
  const stopsSet = { value: runs.reduce((sum, { settings }) => sum + settings, 0), bound: 0 };
  const { id } = task.moulding;
  const measure = task.goals[task.proofGoal] === 'cost' ? 'cost' : 'length';
  const value = measure === 'cost' ? moneyFromCents(cost) : mmFromUm(totals.stockLength);
  const proof = { status: value === 0 ? 'optimal' : 'unproven', measure, value, bound: 0 } as const;
  return {
    moulding: id,
    plan: { moulding: id, status: 'complete', proof, sticks, stops, runs, handling },
    buy: bought.map(({ offer, count, cost: paid }) => ({
      moulding: id,
      offer: offer.id,
      count,
      cost: moneyFromCents(paid),
    })),
    totals: { ...totals, stopsSet, time, handling, unmerged: null },
    shortfall: null,
    shortfallProven: true,
    notices: [],
    copies: [],
    patterns: [],
    merged: null,
  };
}

/** The order cut without a plan; null when stock runs out. Options of the batch are ignored. */
export function naivePlan(batch: Batch): Plan | null {
  const plain = { ...batch, options: { ...batch.options, mergeStops: false } };
  const parts: MouldingPart[] = [];
  for (const order of new ResolvedBatch(plain).orders.values()) {
    const task = taskOf(plain, order);
    const part = task === null ? emptyPart(plain, order) : partOf(plain, task);
    if (part === null) return null;
    parts.push(part);
  }
  return assemblePlan(new ResolvedBatch(plain), parts);
}
