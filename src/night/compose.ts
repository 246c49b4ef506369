/**
 * Batches become one that is planned as one. What two of them ask of one moulding is put together where they describe it
 * alike; a moulding that another batch describes otherwise gets an id of its own, `ash-cap~2`, and is planned apart. The
 * settings of a plan (units, saw, times, rack) hold for all of it, so batches that differ in them go to another plan.
 */
import type { BatchDocument } from '../documents/batch/schema.js';
import { railsIn } from '../rails/rails.js';
import { ID_LENGTH, LINES, RAILS, TIME_LIMIT } from '../read/limits.js';
import type { Batch } from '../terms.js';
import { definitionOf, differenceOf, type MouldingDefinition, orders, settingsOf } from './definitions.js';
import { dueMoment } from './due.js';

/** A batch that waits in the pool: the document as written, and what it means. */
export interface PoolMember {
  readonly document: BatchDocument;
  readonly batch: Batch;
}

type Written<K extends 'mouldings' | 'frames' | 'sticks' | 'offers' | 'gauges' | 'suppliers'> = NonNullable<
  BatchDocument[K]
>[number];
type WrittenPooled = NonNullable<BatchDocument['batches']>[number];
type WrittenApart = NonNullable<WrittenPooled['apart']>[number];

/** Seconds: what all together are given, where it is more than any asks for. */
const TIME_MOST = 600;

/** Ids in use, and those of the members here. */
class Ids {
  readonly #taken = new Set<string>();

  take(wanted: string): string {
    let id = wanted;
    for (let n = 2; this.#taken.has(id); n++) {
      const mark = `~${n}`;
      id = wanted.slice(0, ID_LENGTH - mark.length).trimEnd() + mark;
    }
    this.#taken.add(id);
    return id;
  }
}

interface Variant {
  readonly id: string;
  definition: MouldingDefinition;
}

function both(a: MouldingDefinition, b: MouldingDefinition): MouldingDefinition {
  return {
    ...a,
    sticks: new Map([...a.sticks, ...b.sticks]),
    offers: new Map([...a.offers, ...b.offers]),
  };
}

class Composition {
  readonly #variants = new Map<string, Variant[]>();
  readonly #mouldingIds = new Ids();
  readonly #frameIds = new Ids();
  readonly #stockIds = new Ids();
  readonly #gaugeIds = new Ids();
  /** `moulding here, id there` of sticks and offers that are listed. */
  readonly #listed = new Set<string>();
  readonly #gauges = new Map<string, string>();
  readonly #mouldings: Written<'mouldings'>[] = [];
  readonly #frames: Written<'frames'>[] = [];
  readonly #sticks: Written<'sticks'>[] = [];
  readonly #offers: Written<'offers'>[] = [];
  readonly #gaugeList: Written<'gauges'>[] = [];
  readonly #suppliers = new Map<string, Written<'suppliers'>>();
  readonly #batches: WrittenPooled[] = [];
  readonly #ranks: readonly string[];

  readonly #zone: string;

  constructor(members: readonly PoolMember[], zone: string) {
    this.#zone = zone;
    const keys = new Map<string, readonly [number, number]>();
    for (const { batch } of members) {
      for (const { priority } of batch.frames) {
        const key = rankKey(batch, priority, zone);
        keys.set(key, [dueMoment(batch.due, zone), priority ?? Number.POSITIVE_INFINITY]);
      }
    }
    const sorted = [...keys].sort(([, a], [, b]) => before(a[0], b[0]) || before(a[1], b[1]));
    this.#ranks = sorted.map(([key]) => key);
  }

  add(member: PoolMember, apart: readonly WrittenApart[]): void {
    const { document, batch } = member;
    const told: WrittenApart[] = [...apart];
    const names = new Map<string, string>();
    for (const [i, moulding] of batch.mouldings.entries()) {
      if (!orders(batch.frames, moulding.id)) continue;
      const here = this.#variantOf(batch, i, document.mouldings[i]!, told);
      names.set(moulding.id, here);
      this.#addStock(document, moulding.id, here);
    }
    this.#addGauges(document);
    for (const supplier of document.suppliers ?? []) {
      if (!this.#suppliers.has(supplier.id)) this.#suppliers.set(supplier.id, supplier);
    }
    const lines = document.frames.map((frame, i) => {
      const id = this.#frameId(batch.id, frame.id, i);
      const { priority: _, ...rest } = frame;
      // Where nobody says what comes first, nothing does.
      const rank = this.#ranks.length > 1 ? { priority: this.#rank(batch, i) } : {};
      this.#frames.push({ ...rest, id, moulding: names.get(frame.moulding) ?? frame.moulding, ...rank });
      return { frame: id, line: frame.id };
    });
    const due = batch.due === null ? {} : { due: batch.due };
    this.#batches.push({ id: batch.id, ...due, lines, ...(told.length > 0 && { apart: told }) });
  }

  document(id: string, members: readonly PoolMember[]): BatchDocument {
    const [first] = members;
    if (first === undefined) throw new RangeError('a plan of no batches');
    const { units, saw, labour, rack } = first.document;
    const limits = members.map(({ batch }) => batch.options.timeLimit);
    const sum = limits.reduce((all, one) => all + one, 0);
    const timeLimit = Math.min(TIME_LIMIT, Math.max(Math.min(sum, TIME_MOST), ...limits));
    const { mergeStops, skipImpossible, seed } = first.batch.options;
    const now = members.some(({ batch }) => batch.options.urgency === 'now');
    return {
      schema: 'pairstop/batch@1',
      id,
      units,
      ...(saw && { saw }),
      ...(labour && { labour }),
      ...(rack && { rack }),
      mouldings: this.#mouldings,
      frames: this.#frames,
      sticks: this.#sticks,
      offers: this.#offers,
      gauges: this.#gaugeList,
      suppliers: [...this.#suppliers.values()],
      batches: this.#batches,
      options: { timeLimit, mergeStops, skipImpossible, seed, urgency: now ? 'now' : 'tonight' },
    };
  }

  #variantOf(batch: Batch, at: number, written: Written<'mouldings'>, told: WrittenApart[]): string {
    const moulding = batch.mouldings[at]!;
    const definition = definitionOf(batch, moulding);
    const variants = this.#variants.get(moulding.id) ?? [];
    this.#variants.set(moulding.id, variants);
    let why: string | null = null;
    for (const variant of variants) {
      const difference = differenceOf(variant.definition, definition);
      if (difference === null) {
        variant.definition = both(variant.definition, definition);
        if (variant !== variants[0] && why !== null)
          told.push({ why, moulding: variant.id, from: moulding.id });
        return variant.id;
      }
      why ??= difference;
    }
    const id = this.#mouldingIds.take(moulding.id);
    variants.push({ id, definition });
    if (why !== null || id !== moulding.id) {
      told.push({ why: why ?? 'its id is taken', moulding: id, from: moulding.id });
    }
    this.#mouldings.push({ ...written, id });
    return id;
  }

  #addStock(document: BatchDocument, moulding: string, here: string): void {
    const add = <T extends { readonly id: string; readonly moulding: string }>(
      from: readonly T[] | undefined,
      to: T[],
    ): void => {
      for (const one of from ?? []) {
        if (one.moulding !== moulding) continue;
        const key = JSON.stringify([here, one.id]);
        if (this.#listed.has(key)) continue;
        this.#listed.add(key);
        to.push({ ...one, id: this.#stockIds.take(one.id), moulding: here });
      }
    };
    add(document.sticks, this.#sticks);
    add(document.offers, this.#offers);
  }

  #addGauges(document: BatchDocument): void {
    for (const gauge of document.gauges ?? []) {
      const key = JSON.stringify([gauge.id, gauge.length]);
      if (this.#gauges.has(key)) continue;
      const id = this.#gaugeIds.take(gauge.id);
      this.#gauges.set(key, id);
      this.#gaugeList.push({ ...gauge, id });
    }
  }

  /** `batch/frame`; where that is too long, the batch's number and the line's. */
  #frameId(batch: string, frame: string, line: number): string {
    const name = `${batch}/${frame}`;
    return this.#frameIds.take(name.length <= ID_LENGTH ? name : `${this.#batches.length + 1}/${line + 1}`);
  }

  #rank(batch: Batch, line: number): number {
    return this.#ranks.indexOf(rankKey(batch, batch.frames[line]!.priority, this.#zone)) + 1;
  }
}

function before(a: number, b: number): number {
  return a === b ? 0 : a < b ? -1 : 1;
}

function rankKey(batch: Batch, priority: number | null, zone: string): string {
  return `${dueMoment(batch.due, zone)} ${priority ?? ''}`;
}

export interface Composed {
  readonly document: BatchDocument;
  /** Ids of its batches, in the order of arrival. */
  readonly members: readonly string[];
}

/** What one plan holds at most. */
export interface PlanRoom {
  readonly rails: number;
  /** Entries of any list of the document: order lines, sticks, offers. */
  readonly lines: number;
}

const AMPLE: PlanRoom = { rails: RAILS, lines: LINES };
const NO_ROOM = "planned apart from the night's first: together they are more than one plan holds";

interface PlannedTogether {
  readonly settings: Readonly<Record<string, string>>;
  readonly members: PoolMember[];
  rails: number;
  frames: number;
  sticks: number;
  offers: number;
}

/** Whether the group takes it: one that is too much for any plan goes by itself. */
function joins(group: PlannedTogether, { document, batch }: PoolMember, room: PlanRoom): boolean {
  const rails = group.rails + railsIn(batch);
  const frames = group.frames + document.frames.length;
  const sticks = group.sticks + (document.sticks?.length ?? 0);
  const offers = group.offers + (document.offers?.length ?? 0);
  const fits = rails <= room.rails && Math.max(frames, sticks, offers) <= room.lines;
  if (!fits && group.members.length > 0) return false;
  Object.assign(group, { rails, frames, sticks, offers });
  return true;
}

/** What the settings of two batches differ in. */
function unlike(a: Readonly<Record<string, string>>, b: Readonly<Record<string, string>>): string {
  return Object.keys(a)
    .filter((name) => a[name] !== b[name])
    .join(', ');
}

/**
 * One batch to plan for each kind of settings: all that are alike together, in the order of arrival, as long as one plan
 * has `room` for them. `ids` names them, the first, the second and so on; `zone` is the shop's, where a day that something
 * is due on ends.
 */
export function compose(
  members: readonly PoolMember[],
  ids: (index: number) => string,
  zone = 'UTC',
  room: PlanRoom = AMPLE,
): readonly Composed[] {
  const groups: PlannedTogether[] = [];
  for (const member of members) {
    const settings = settingsOf(member.batch);
    const alike = groups.filter((one) => unlike(one.settings, settings) === '');
    let group = alike.find((one) => joins(one, member, room));
    if (group === undefined) {
      group = { settings, members: [], rails: 0, frames: 0, sticks: 0, offers: 0 };
      joins(group, member, room);
      groups.push(group);
    }
    group.members.push(member);
  }
  return groups.map((group, index) => {
    const differs = index === 0 ? '' : unlike(groups[0]!.settings, group.settings);
    const why = differs === '' ? NO_ROOM : `planned apart from the night's first: unlike ${differs}`;
    const apart = index === 0 ? [] : [{ why }];
    const composition = new Composition(group.members, zone);
    for (const member of group.members) composition.add(member, apart);
    return {
      document: composition.document(ids(index), group.members),
      members: group.members.map(({ batch }) => batch.id),
    };
  });
}
