/** The lists others need beside the cuts: what to buy, glass, mat and backing, sizes, rails, joining, and the cuts themselves. */
import { copyOf, lineOfFrame } from '../../documents/ids.js';
import type { Plan } from '../../documents/plan/types.js';
import type { Recut } from '../../documents/recut/types.js';
import { mitreAngle } from '../../rails/mitre.js';
import { orderedSides, sidesOf } from '../../rails/rails.js';
import { tagsOf } from '../../rails/tags.js';
import type { Batch, FrameLine, Um } from '../../terms.js';
import { type SheetJob, sheetJob } from '../job.js';
import { type FrameSizes, frameSizes } from './sizes.js';

export const LIST_KINDS = ['buy', 'glass', 'sizes', 'rails', 'joining', 'cutting'] as const;
export type ListKind = (typeof LIST_KINDS)[number];

/** Lengths are micrometres, money is cents, until they are written. */
export interface ListColumn {
  readonly name: string;
  readonly of: 'text' | 'count' | 'length' | 'money' | 'angle';
}

export type ListCell = string | number | null;

export interface List {
  readonly kind: ListKind;
  readonly title: string;
  readonly columns: readonly ListColumn[];
  readonly rows: readonly (readonly ListCell[])[];
}

function column(name: string, of: ListColumn['of'] = 'text'): ListColumn {
  return { name, of };
}

const CENTS = 100;

/** Supplier by supplier; those that are not said come last. Offers without a price of their own have no money. */
function buyList(batch: Batch, { buy }: Plan | Recut): List {
  const offers = new Map(batch.offers.map((offer) => [offer.id, offer]));
  const order = new Map(batch.suppliers.map(({ id }, i) => [id, i]));
  const rank = (id: string): number => {
    const supplier = offers.get(id)?.supplier ?? null;
    return supplier === null ? order.size : (order.get(supplier) ?? order.size);
  };
  return {
    kind: 'buy',
    title: 'To buy',
    columns: [
      column('supplier'),
      column('moulding'),
      column('offer'),
      column('length', 'length'),
      column('count', 'count'),
      column('cost', 'money'),
      column('total length', 'length'),
    ],
    rows: buy
      .toSorted((a, b) => rank(a.offer) - rank(b.offer))
      .map(({ moulding, offer, count, cost }) => {
        const found = offers.get(offer);
        const length = found?.length ?? 0;
        const money = found?.priced === false ? null : Math.round(cost * CENTS);
        return [found?.supplier ?? null, moulding, offer, length, count, money, length * count];
      }),
  };
}

interface LineMade {
  readonly line: FrameLine;
  readonly sizes: readonly FrameSizes[];
  readonly made: number;
}

/** Order lines with what of them is made, all of their rails cut or to be cut. */
function linesMade({ batch, mouldings, made }: SheetJob): readonly LineMade[] {
  const short = new Map<string, number>();
  for (const frame of made.shortfall.flatMap(({ frames }) => frames)) {
    const line = lineOfFrame(frame);
    short.set(line, (short.get(line) ?? 0) + 1);
  }
  const cut = new Map<string, Map<string, Um>>();
  for (const rail of mouldings.flatMap(({ sticks }) => sticks.flatMap(({ rails }) => rails))) {
    const sides = cut.get(rail.line) ?? new Map<string, Um>();
    cut.set(rail.line, sides.set(rail.side, rail.length));
  }
  const byId = new Map(batch.mouldings.map((moulding) => [moulding.id, moulding]));
  return batch.frames.flatMap((line) => {
    const moulding = byId.get(line.moulding);
    if (moulding === undefined) return [];
    const sizes = frameSizes(batch, line, moulding, cut.get(line.id) ?? new Map());
    return [{ line, sizes, made: line.quantity - (short.get(line.id) ?? 0) }];
  });
}

function shapeOf(line: FrameLine): string {
  return line.shape.kind === 'rectangle' ? 'rectangle' : `${line.shape.sides} sides`;
}

/** Width and height; of a regular frame its one side, and nothing. */
function both(sizes: readonly FrameSizes[], of: (one: FrameSizes) => Um | null): readonly ListCell[] {
  const [first, second] = sizes;
  return [first === undefined ? null : of(first), second === undefined ? null : of(second)];
}

function glassList(lines: readonly LineMade[]): List {
  return {
    kind: 'glass',
    title: 'Glass, mat and backing',
    columns: [
      column('frame'),
      column('quantity', 'count'),
      column('shape'),
      column('width or side', 'length'),
      column('height', 'length'),
    ],
    rows: lines
      .filter(({ made, sizes }) => made > 0 && sizes[0]?.glass != null)
      .map(({ line, sizes, made }) => [line.id, made, shapeOf(line), ...both(sizes, ({ glass }) => glass)]),
  };
}

function sizesList(lines: readonly LineMade[]): List {
  const pair = (name: string): readonly ListColumn[] => [
    column(`${name} width or side`, 'length'),
    column(`${name} height`, 'length'),
  ];
  return {
    kind: 'sizes',
    title: 'Sizes as cut',
    columns: [
      column('frame'),
      column('quantity', 'count'),
      column('moulding'),
      column('shape'),
      ...pair('outside'),
      ...pair('sight'),
      ...pair('rabbet'),
    ],
    rows: lines
      .filter(({ made }) => made > 0)
      .map(({ line, sizes, made }) => [
        line.id,
        made,
        line.moulding,
        shapeOf(line),
        ...both(sizes, ({ outside }) => outside),
        ...both(sizes, ({ sight }) => sight),
        ...both(sizes, ({ rabbet }) => rabbet),
      ]),
  };
}

/** Frame by frame in the order of the batch, every rail with its length and the stick it is cut from. */
function railsList({ batch, mouldings }: SheetJob): List {
  const order = new Map(batch.frames.map(({ id }, i) => [id, i]));
  const rails = mouldings.flatMap(({ moulding, runs }) =>
    runs.flatMap(({ sticks }) =>
      sticks.flatMap((stick) => stick.rails.map((rail) => ({ moulding, stick, rail }))),
    ),
  );
  const place = (line: string): number => order.get(line) ?? order.size;
  return {
    kind: 'rails',
    title: 'Rails, frame by frame',
    columns: [
      column('rail'),
      column('frame'),
      column('side'),
      column('tag'),
      column('moulding'),
      column('length', 'length'),
      column('mitre', 'angle'),
      column('stick'),
    ],
    rows: rails
      .toSorted(
        (a, b) => place(a.rail.line) - place(b.rail.line) || copyOf(a.rail.frame) - copyOf(b.rail.frame),
      )
      .map(({ moulding, stick, rail }) => [
        rail.id,
        rail.frame,
        rail.side,
        rail.tag,
        moulding.id,
        rail.length,
        rail.angle,
        stick.name,
      ]),
  };
}

/** Frame by frame the tags that make it, around the ring. */
function joiningList({ batch, made }: SheetJob): List {
  const tags = tagsOf(batch);
  const short = new Set(made.shortfall.flatMap(({ frames }) => frames));
  return {
    kind: 'joining',
    title: 'Joining: the rails of each frame, around it',
    columns: [column('frame'), column('mark'), column('mitre', 'angle'), column('rails')],
    rows: batch.frames.flatMap((line) => {
      const sides =
        line.shape.kind === 'rectangle'
          ? ['top', 'right', 'bottom', 'left']
          : orderedSides(line).flatMap((one) => one.sides);
      return Array.from({ length: line.quantity }, (_, i) => `${line.id}/${i + 1}`)
        .filter((frame) => !short.has(frame))
        .map((frame) => [
          frame,
          tags.frame(frame),
          mitreAngle(sidesOf(line)),
          sides.map((side) => tags.rail(frame, side)).join(' '),
        ]);
    }),
  };
}

function cuttingList({ mouldings }: SheetJob): List {
  return {
    kind: 'cutting',
    title: 'Cuts, in order',
    columns: [
      column('moulding'),
      column('run', 'count'),
      column('setting', 'length'),
      column('second stop', 'length'),
      column('mitre', 'angle'),
      column('gauge'),
      column('stick'),
      column('tag'),
      column('rail'),
      column('length', 'length'),
    ],
    rows: mouldings.flatMap(({ moulding, runs }) =>
      runs.flatMap(({ run, settings }) =>
        settings.flatMap(({ setting, second, gauge, visits }) =>
          visits.flatMap(({ stick, rails }) =>
            rails.map(({ angle, tag, id, length }) => [
              moulding.id,
              run,
              setting,
              second,
              angle,
              gauge,
              stick.name,
              tag,
              id,
              length,
            ]),
          ),
        ),
      ),
    ),
  };
}

/** All lists of a job. */
export function listsOfJob(job: SheetJob): Readonly<Record<ListKind, List>> {
  const lines = linesMade(job);
  return {
    buy: buyList(job.batch, job.made),
    glass: glassList(lines),
    sizes: sizesList(lines),
    rails: railsList(job),
    joining: joiningList(job),
    cutting: cuttingList(job),
  };
}

export function listsOf(batch: Batch, made: Plan | Recut): Readonly<Record<ListKind, List>> {
  return listsOfJob(sheetJob(batch, made));
}
