/** A pooled plan with what each of its batches has of it and pays, and what pooling saved. */

import { lineOfFrame } from '../documents/ids.js';
import { moneyFromCents } from '../documents/money.js';
import type {
  PlannedBatch,
  PlanPooling,
  PooledMoulding,
  PoolSaving,
  ShareOfMoulding,
  WoodAlone,
} from '../documents/plan/pooled.js';
import type { Plan } from '../documents/plan/types.js';
import { mmFromUm, umFromMm } from '../lengths/units.js';
import type { Notice } from '../notices.js';
import type { MouldingPart, PartAlone } from '../plan/part.js';
import type { Batch, Cents, Um } from '../terms.js';
import { membersOf } from './alone.js';
import { type CostGame, type GameShares, isInCore, shareOut } from './game.js';
import { apartNotices, lateBy, lateNotice } from './notices.js';

/** What one batch has of one moulding. */
interface Portion {
  readonly at: number;
  readonly frames: number;
  readonly made: number;
  readonly rails: Um;
  readonly share: Cents;
  readonly limit: Cents | null;
  readonly alone: PartAlone | null;
}

interface SharedMoulding {
  readonly portions: readonly Portion[];
  readonly figures: PooledMoulding;
}

function saving(cost: Cents, alone: { readonly cost: Cents; readonly bound: Cents }): PoolSaving {
  return { value: moneyFromCents(alone.cost - cost), least: moneyFromCents(alone.bound - cost) };
}

function woodAlone(all: readonly PartAlone[]): WoodAlone {
  const sum = (of: (one: PartAlone) => number): number => all.reduce((total, one) => total + of(one), 0);
  return {
    cost: moneyFromCents(sum(({ cost }) => cost)),
    bound: moneyFromCents(sum(({ bound }) => bound)),
    sticks: sum(({ sticks }) => sticks),
    stockLength: mmFromUm(sum(({ length }) => length)),
  };
}

/** Rails of each order line, in micrometres, and the copies that are missing. */
class OwnLines {
  readonly #rails = new Map<string, Um>();
  readonly #missing = new Map<string, string[]>();
  readonly #owner = new Map<string, number>();

  constructor({ batches }: Batch, plan: Plan) {
    batches.forEach(({ lines }, at) => {
      for (const { frame } of lines) this.#owner.set(frame, at);
    });
    for (const { sticks } of plan.mouldings) {
      for (const { frame, length } of sticks.flatMap(({ rails }) => rails)) {
        const line = lineOfFrame(frame);
        this.#rails.set(line, (this.#rails.get(line) ?? 0) + umFromMm(length));
      }
    }
    for (const frame of plan.shortfall.flatMap(({ frames }) => frames)) {
      const line = lineOfFrame(frame);
      this.#missing.set(line, [...(this.#missing.get(line) ?? []), frame]);
    }
  }

  owner(line: string): number | undefined {
    return this.#owner.get(line);
  }

  rails(line: string): Um {
    return this.#rails.get(line) ?? 0;
  }

  missing(line: string): readonly string[] {
    return this.#missing.get(line) ?? [];
  }
}

/** By proven bounds where the cost can be shared so, else by the plans as they were found. */
function shared(
  base: Omit<CostGame, 'limits' | 'groups'>,
  limits: readonly CostGame[],
): [GameShares, CostGame] {
  let found: [GameShares, CostGame] | null = null;
  for (const { limits: each, groups } of limits) {
    const game = { ...base, limits: each, groups };
    const shares = shareOut(game);
    found = [shares, game];
    if (shares.core === 'within') break;
  }
  if (found === null) throw new RangeError('no limits to share by');
  return found;
}

function shareMoulding(batch: Batch, part: MouldingPart, lines: OwnLines): SharedMoulding {
  const { moulding, totals, pooling = { alone: [], coalitions: [], checked: 'none' as const } } = part;
  const members = membersOf(batch, moulding);
  const own = new Map(members.map((at) => [at, { frames: 0, made: 0, rails: 0 }]));
  for (const { id, moulding: of, quantity } of batch.frames) {
    const mine = of === moulding ? own.get(lines.owner(id) ?? -1) : undefined;
    if (mine === undefined) continue;
    mine.frames += quantity;
    mine.made += quantity - lines.missing(id).length;
    mine.rails += lines.rails(id);
  }
  const alone = new Map(pooling.alone.map((one) => [one.at, one]));
  const wholeAlone = (at: number): PartAlone | null => {
    const found = alone.get(at);
    return found !== undefined && found.made === found.ordered ? found : null;
  };
  const place = new Map(members.map((at, i) => [at, i]));
  const gameBy = (of: (one: { readonly cost: Cents; readonly bound: Cents }) => Cents): CostGame => ({
    total: totals.cost,
    weights: [],
    limits: members.map((at) => {
      const found = wholeAlone(at);
      return found === null ? null : of(found);
    }),
    groups: pooling.coalitions.map((one) => ({
      members: one.members.map((at) => place.get(at)!),
      limit: of(one),
    })),
  });
  const weights = members.map((at) => own.get(at)!.rails);
  const by = [gameBy(({ bound }) => bound), gameBy(({ cost }) => cost)];
  const [{ shares, rule, core }, game] = shared({ total: totals.cost, weights }, by);
  const whole = members.every((at) => wholeAlone(at) !== null && own.get(at)!.made === own.get(at)!.frames);
  const portions = members.map(
    (at, i): Portion => ({
      at,
      ...own.get(at)!,
      share: shares[i]!,
      limit: game.limits[i]!,
      alone: alone.get(at) ?? null,
    }),
  );
  const sum = whole ? pooling.alone : null;
  const cents = (all: readonly PartAlone[]) => ({
    cost: all.reduce((total, one) => total + one.cost, 0),
    bound: all.reduce((total, one) => total + one.bound, 0),
  });
  return {
    portions,
    figures: {
      moulding,
      cost: moneyFromCents(totals.cost),
      rule,
      // Two batches have no group but themselves; with more, only what was planned is known.
      core: core === 'within' && !(whole && isInCore(game, shares)) ? 'unknown' : core,
      checked: pooling.checked,
      coalitions: pooling.coalitions.map(({ members: group, cost, bound }) => ({
        batches: group.map((at) => batch.batches[at]!.id),
        cost: moneyFromCents(cost),
        bound: moneyFromCents(bound),
        pays: moneyFromCents(group.reduce((total, at) => total + shares[place.get(at)!]!, 0)),
      })),
      alone: sum === null ? null : woodAlone(sum),
      saved: sum === null ? null : saving(totals.cost, cents(sum)),
    },
  };
}

function shareText({ rails, share, limit, alone, frames, made }: Portion, moulding: string): ShareOfMoulding {
  return {
    moulding,
    frames,
    made,
    railLength: mmFromUm(rails),
    share: moneyFromCents(share),
    limit: limit === null ? null : moneyFromCents(limit),
    alone: alone === null ? null : { ...woodAlone([alone]), made: alone.made },
  };
}

function batchPart(
  batch: Batch,
  at: number,
  shared: readonly SharedMoulding[],
  lines: OwnLines,
): PlannedBatch {
  const { id, due, lines: own } = batch.batches[at]!;
  const mine = shared.flatMap(({ portions, figures }) =>
    portions.filter((portion) => portion.at === at).map((portion) => ({ portion, figures })),
  );
  const sum = (of: (portion: Portion) => number): number =>
    mine.reduce((total, { portion }) => total + of(portion), 0);
  const missing = own.flatMap(({ frame }) => lines.missing(frame));
  const share = sum((portion) => portion.share);
  const whole =
    missing.length === 0 && mine.every(({ portion: { alone } }) => alone?.made === alone?.ordered);
  const known = whole && mine.every(({ portion: { alone } }) => alone !== null);
  const cost = sum(({ alone }) => alone?.cost ?? 0);
  const bound = sum(({ alone }) => alone?.bound ?? 0);
  return {
    batch: id,
    ...(due !== null && { due }),
    lines: own,
    frames: sum((portion) => portion.frames),
    made: sum((portion) => portion.made),
    missing,
    late: due !== null && missing.length > 0,
    railLength: mmFromUm(sum((portion) => portion.rails)),
    share: moneyFromCents(share),
    alone: known ? { cost: moneyFromCents(cost), bound: moneyFromCents(bound) } : null,
    saved: known ? saving(share, { cost, bound }) : null,
    mouldings: mine.map(({ portion, figures }) => shareText(portion, figures.moulding)),
  };
}

function poolingOf(plan: Plan, mouldings: readonly PooledMoulding[]): PlanPooling {
  const known = mouldings.flatMap(({ alone }) => (alone === null ? [] : [alone]));
  const whole = known.length === mouldings.length;
  const sum = (of: (one: WoodAlone) => number, scale: number): number =>
    known.reduce((total, one) => total + Math.round(of(one) * scale), 0) / scale;
  const alone: WoodAlone = {
    cost: sum(({ cost }) => cost, 100),
    bound: sum(({ bound }) => bound, 100),
    sticks: sum(({ sticks }) => sticks, 1),
    stockLength: sum(({ stockLength }) => stockLength, 1000),
  };
  const cents = (money: number): Cents => Math.round(money * 100);
  const { cost } = plan.totals;
  return {
    cost,
    alone: whole ? alone : null,
    saved: whole ? saving(cents(cost), { cost: cents(alone.cost), bound: cents(alone.bound) }) : null,
    mouldings,
  };
}

/** The plan of a batch by itself: only what will be late is told. */
function withLate({ id, due, frames }: Batch, plan: Plan): Plan {
  const missing = plan.shortfall.flatMap((short) => short.frames);
  if (due === null || missing.length === 0) return plan;
  const ordered = frames.reduce((sum, { quantity }) => sum + quantity, 0);
  return { ...plan, notices: [...plan.notices, lateBy('due', id, due, missing.length, ordered)] };
}

/** The plan as it is where the batch is not pooled. `parts` are those the plan was made from. */
export function withShares(batch: Batch, plan: Plan, parts: readonly MouldingPart[]): Plan {
  if (batch.batches.length === 0) return withLate(batch, plan);
  const lines = new OwnLines(batch, plan);
  const shared = parts
    .filter(({ moulding }) => membersOf(batch, moulding).length > 0)
    .map((part) => shareMoulding(batch, part, lines));
  const batches = batch.batches.map((_, at) => batchPart(batch, at, shared, lines));
  const told: Notice[] = [...apartNotices(batch), ...batches.flatMap(lateNotice)];
  return {
    ...plan,
    notices: [...plan.notices, ...told],
    batches,
    pooling: poolingOf(
      plan,
      shared.map(({ figures }) => figures),
    ),
  };
}
