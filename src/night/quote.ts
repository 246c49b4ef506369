/**
 * What one more order adds: the difference of two plans, with it and without. Each plan has a proven bound, so what it
 * really adds lies between the plan with it less the other's bound, and the bound with it less the other plan. More
 * frames never cost less, which narrows both. Only mouldings the order asks for are planned: it changes no others.
 */
import { lineOfFrame } from '../documents/ids.js';
import type { MouldingPlan, Plan } from '../documents/plan/types.js';
import type { QuoteAgainst } from '../documents/quote/against.js';
import type { Quote, QuoteRange } from '../documents/quote/schema.js';
import { umFromMm } from '../lengths/units.js';
import { timeOfRail } from '../plan/sawing/hours.js';
import type { Batch } from '../terms.js';

/** The two batches to be planned. */
export interface QuoteSides {
  readonly with: Batch;
  /** Null: there is nothing yet. */
  readonly without: Batch | null;
  /** Ids of the order's lines in `with`. */
  readonly lines: ReadonlySet<string>;
}

/** `pooled` is the order alone, or what it makes with the pool; `own` are ids of its lines there. */
export function quoteSides(pooled: Batch, own: readonly string[], timeLimit: number): QuoteSides {
  const lines = new Set(own);
  const touched = new Set(pooled.frames.filter(({ id }) => lines.has(id)).map(({ moulding }) => moulding));
  const of = <T extends { readonly moulding: string }>(all: readonly T[]): readonly T[] =>
    all.filter(({ moulding }) => touched.has(moulding));
  const common: Batch = {
    ...pooled,
    batches: [],
    rack: null,
    // Nobody cuts these plans: dividing them into runs for the bench takes longer than all else, and changes no wood.
    saw: { ...pooled.saw, bench: null, order: 'longest' },
    mouldings: pooled.mouldings.filter(({ id }) => touched.has(id)),
    sticks: of(pooled.sticks),
    offers: of(pooled.offers),
    options: { ...pooled.options, timeLimit, pool: false, skipImpossible: true },
  };
  const frames = of(pooled.frames);
  const others = frames.filter(({ id }) => !lines.has(id));
  const left = new Set(others.map(({ moulding }) => moulding));
  const mouldings = common.mouldings.filter(({ id }) => left.has(id));
  return {
    with: { ...common, frames },
    without: others.length === 0 ? null : { ...common, mouldings, frames: others },
    lines,
  };
}

const CENTS = 100;

function cents(money: number): number {
  return Math.round(money * CENTS);
}

function rangeOf(withOrder: MouldingPlan, without: MouldingPlan | undefined): QuoteRange {
  const proofOf = (part: MouldingPlan | undefined) =>
    part?.proof.measure === 'cost'
      ? { value: cents(part.proof.value), bound: Math.ceil(cents(part.proof.bound)) }
      : { value: 0, bound: 0 };
  const [all, before] = [proofOf(withOrder), proofOf(without)];
  // The plan with the order is one without it too, and what no plan without it costs less than, none with it does.
  const base = Math.min(before.value, all.value);
  const bound = Math.max(all.bound, before.bound);
  const range = { value: all.value - base, least: Math.max(0, bound - base), most: all.value - before.bound };
  return { value: range.value / CENTS, least: range.least / CENTS, most: range.most / CENTS };
}

function sum(ranges: readonly QuoteRange[]): QuoteRange {
  const of = (key: keyof QuoteRange): number =>
    ranges.reduce((total, range) => total + cents(range[key]), 0) / CENTS;
  return { value: of('value'), least: of('least'), most: of('most') };
}

function round(value: number): number {
  return Math.round(value * 1000) / 1000;
}

export interface QuoteContext {
  readonly order: string;
  readonly against: QuoteAgainst;
  readonly beside: Quote['beside'];
}

/** Seconds that the order's own rails take at the saw in whatever plan. */
function railSeconds({ with: { labour, mouldings }, lines }: QuoteSides, plan: Plan): number {
  const took = plan.mouldings.reduce((total, { moulding: id, sticks }) => {
    const own = sticks.flatMap(({ rails }) => rails).filter(({ frame }) => lines.has(lineOfFrame(frame)));
    return total + own.length * timeOfRail(labour, mouldings.find((one) => one.id === id)!);
  }, 0);
  return round(took / 1000);
}

/** Pieces of the rack that rails of the order are cut from. */
export function piecesFor({ lines }: QuoteSides, plan: Plan): readonly string[] {
  return plan.mouldings.flatMap(({ sticks }) =>
    sticks.flatMap(({ source, ref, rails }) =>
      source === 'rack' && rails.some(({ frame }) => lines.has(lineOfFrame(frame))) ? [ref] : [],
    ),
  );
}

export function quoteOf(
  sides: QuoteSides,
  withOrder: Plan,
  without: Plan | null,
  context: QuoteContext,
): Quote {
  const own = sides.with.frames.filter(({ id }) => sides.lines.has(id));
  const rails = withOrder.mouldings.flatMap(({ sticks }) => sticks.flatMap((stick) => stick.rails));
  const missing = withOrder.shortfall.flatMap(({ frames }) =>
    frames.filter((frame) => sides.lines.has(lineOfFrame(frame))),
  );
  const mouldings = withOrder.mouldings.map((part) => ({
    moulding: part.moulding,
    money: rangeOf(
      part,
      without?.mouldings.find(({ moulding }) => moulding === part.moulding),
    ),
  }));
  const money = sum(mouldings.map((part) => part.money));
  const differs = (of: (plan: Plan) => number): number =>
    round(of(withOrder) - (without === null ? 0 : of(without)));
  const fromRack = (plan: Plan): number =>
    plan.mouldings.reduce(
      (all, { sticks }) =>
        all + sticks.reduce((length, stick) => length + (stick.source === 'rack' ? stick.length : 0), 0),
      0,
    );
  const rail = rails.reduce(
    (all, { frame, length }) => all + (sides.lines.has(lineOfFrame(frame)) ? umFromMm(length) : 0),
    0,
  );
  return {
    schema: 'pairstop/quote@1',
    batch: context.order,
    against: context.against,
    status: missing.length === 0 ? 'complete' : 'short',
    frames: own.reduce((all, { quantity }) => all + quantity, 0),
    missing,
    railLength: rail / 1000,
    money,
    sure: money.least === money.most ? 'proven' : 'within',
    sticks: differs(({ totals }) => totals.sticks),
    stockLength: differs(({ totals }) => totals.stockLength),
    rackLength: differs(fromRack),
    seconds: differs(({ totals }) => totals.seconds ?? 0),
    railSeconds: railSeconds(sides, withOrder),
    ...(withOrder.totals.labour !== undefined && { labour: differs(({ totals }) => totals.labour ?? 0) }),
    mouldings,
    beside: context.beside,
    held: null,
  };
}
