/** After a mishap: which rails stay, what replaces the lost ones, what else has to move. Pure. */

import { checkPlan } from '../check/check.js';
import { checkRecut } from '../check/recut/recut.js';
import { findingText } from '../check/report.js';
import { centsFromMoney, moneyFromCents } from '../documents/money.js';
import type { Plan } from '../documents/plan/types.js';
import type { Recut, RecutMoulding, RecutPurchase, RecutShortfall } from '../documents/recut/types.js';
import { type WorkInHand, workOfPlan, workOfRecut } from '../documents/recut/work.js';
import { PairstopError } from '../errors.js';
import { type Notice, notice } from '../notices.js';
import type { Engine } from '../solve/engine.js';
import { ResolvedBatch } from '../stock/resolved.js';
import type { Batch, SettingOrder } from '../terms.js';
import { buyingOf, mouldingOf, shortfallOf } from './build.js';
import { better, choose, type RecutChoice } from './choose.js';
import { reusedEntries } from './flaws.js';
import { lay, type Relaid } from './lay.js';
import { alongNotices, brokenNotices, endedNotice, fullNotice, shortNotice } from './notices.js';
import type { Paired, RecutClock } from './problem.js';
import { type ShopState, standingOf } from './state.js';
import { soFarOf } from './told.js';
import type { Told } from './told-lines.js';
import { displacedRails, type SortedUnits, sortOut } from './units.js';

export interface RecutRequest {
  readonly batch: Batch;
  /** The plan that was being cut, or the recut of it when this is not the first mishap. */
  readonly plan: Plan | Recut;
  /** Ids of the lost rails. */
  readonly lost: readonly string[];
  /** What has been cut; null: everything up to the last lost rail in the plan's order. */
  readonly told: readonly Told[] | null;
  /** Flaws found at the saw, each as `flawsTold` reads it. */
  readonly flaws?: readonly Told[];
  /** Lost rails whose sound wood is used again, each as `piecesTold` reads it. */
  readonly reuse?: readonly Told[];
}

const FINDINGS_TOLD = 5;

interface RecutPart {
  readonly part: RecutMoulding;
  readonly buy: readonly RecutPurchase[];
  readonly shortfall: RecutShortfall | null;
  readonly notices: readonly Notice[];
}

function refuseUnsound(batch: Batch, plan: Plan | Recut): void {
  if (plan.schema === 'pairstop/recut@1') {
    if (plan.status === 'short') {
      throw new PairstopError(
        'PS_RECUT',
        'the earlier recut is short: go on from the plan it was made of, with all lost rails',
      );
    }
  }
  const recut = plan.schema === 'pairstop/recut@1';
  const report = recut ? checkRecut(batch, plan) : checkPlan(batch, plan);
  if (report.ok) return;
  const told = report.findings.slice(0, FINDINGS_TOLD).map(findingText).join('\n');
  throw new PairstopError(
    'PS_RECUT',
    `the ${recut ? 'earlier recut' : 'plan'} does not hold against this batch: ${report.total} found wrong\n${told}`,
  );
}

/** Where the bench does not hold what a recut leaves: which pairs are placed as one, each tried. */
const PAIRED: readonly Paired[] = [
  { from: 0, to: 1 },
  { from: 0.5, to: 1 },
  { from: 0, to: 0.5 },
  { from: 0.75, to: 1 },
  { from: 0.5, to: 0.75 },
  { from: 0.25, to: 0.5 },
  { from: 0, to: 0.25 },
];

/** Sticks begun at once beyond what the bench holds, over all runs. */
function overfull({ saw: { bench } }: Batch, { runs = [] }: RecutMoulding): number {
  if (bench === null) return 0;
  return runs.reduce((sum, { begunMost }) => sum + Math.max(0, begunMost - bench), 0);
}

/** How the lost rails are replaced, and how that is cut. */
function placedOn(
  batch: Batch,
  standing: ShopState,
  sorted: SortedUnits,
  paired: Paired | null,
  engine: Engine,
  clock: RecutClock,
): { readonly choice: RecutChoice; readonly part: RecutMoulding } {
  const { bench, order } = batch.saw;
  const full = new Set<number>();
  for (;;) {
    const choice = choose(batch, standing, sorted, { full, paired }, engine, clock);
    const laidIn = (wanted: SettingOrder): Relaid =>
      lay(standing, choice.sorted, choice, { bench: bench ?? Number.POSITIVE_INFINITY, order: wanted });
    let laid = laidIn(order);
    // The engine counts on rails of unlike angle standing longest first.
    if (laid.crowded !== null && order !== 'longest') laid = laidIn('longest');
    if (laid.crowded !== null) {
      if (full.has(laid.crowded) || laid.crowded >= standing.sticks.length) {
        throw new PairstopError(
          'PS_INTERNAL',
          `${standing.task.moulding.id}: rails of unlike angle do not fit as counted`,
        );
      }
      full.add(laid.crowded);
      continue;
    }
    const { purchases } = buyingOf(standing, choice.placed, true);
    const cost = purchases.reduce((sum, one) => sum + centsFromMoney(one.cost), 0);
    const short = shortfallOf(standing, choice) !== null;
    return { choice, part: mouldingOf(batch, standing, laid, { short, cost, bound: choice.bound }) };
  }
}

function partOf(
  resolved: ResolvedBatch,
  work: WorkInHand,
  moulding: string,
  cut: ReadonlySet<string>,
  lost: ReadonlySet<string>,
  engine: Engine,
  clock: RecutClock,
): RecutPart | null {
  const { batch } = resolved;
  const standing = standingOf(resolved, work, moulding, cut, lost);
  if (standing === null) return null;
  const sorted = sortOut(standing);
  const found = placedOn(batch, standing, sorted, null, engine, clock);
  let { choice, part } = found;
  // Rails of one frame on several sticks tie these together, more than the bench holds: whole pairs do not.
  for (const paired of PAIRED) {
    if (overfull(batch, part) === 0 || clock.now() >= clock.deadline) break;
    const other = placedOn(batch, standing, sorted, paired, engine, clock);
    const dearer =
      better(choice.spent, other.choice.spent) || other.choice.missing.length > choice.missing.length;
    const [before, after] = [overfull(batch, part), overfull(batch, other.part)];
    const eases = after === 0 || (after < before && other.part.moved <= part.moved);
    if (!dearer && eases) ({ choice, part } = other);
  }
  const { purchases, spare } = buyingOf(standing, choice.placed, true);
  return {
    part,
    buy: purchases,
    shortfall: shortfallOf(standing, choice),
    notices: [
      ...brokenNotices(batch, sorted),
      ...alongNotices(sorted.groups, new Set([...lost, ...displacedRails(standing)])),
      ...(choice.unproven ? [endedNotice(moulding)] : []),
      ...fullNotice(batch, part),
      ...spare.map(({ offer, bought, used }) => {
        const path = `offers[${batch.offers.indexOf(offer)}]`;
        const message = `${offer.id}: ${bought.count} bought for the pack or the price, ${bought.count - used} of them not cut`;
        return notice('PS_SPARE_PIECES', path, message);
      }),
    ],
  };
}

/** Throws PS_RECUT for lost rails, cuts or a plan that do not belong to this batch or to each other. */
export function recut(request: RecutRequest, engine: Engine, clock: RecutClock): Recut {
  const { batch: ordered, plan, told } = request;
  const before = plan.schema === 'pairstop/recut@1' ? workOfRecut(plan) : workOfPlan(plan);
  const { cut, lost, work } = soFarOf(ordered, before, request);
  refuseUnsound(ordered, plan);
  const batch = { ...ordered, sticks: [...ordered.sticks, ...reusedEntries(work.reused)] };
  const resolved = new ResolvedBatch(batch);
  const parts = batch.mouldings.flatMap(
    ({ id }) => partOf(resolved, work, id, cut, lost, engine, clock) ?? [],
  );
  const shortfall = parts.flatMap((one) => one.shortfall ?? []);
  const buy = parts.flatMap((one) => one.buy);
  const rails = parts.flatMap(({ part }) => part.sticks.flatMap((stick) => stick.rails));
  const stops = parts.flatMap(({ part }) => part.stops);
  return {
    schema: 'pairstop/recut@1',
    batch: batch.id,
    units: batch.units,
    status: shortfall.length === 0 ? 'complete' : 'short',
    lost: [...lost],
    cutSoFar: told === null ? 'order' : 'told',
    mouldings: parts.map(({ part }) => part),
    bought: work.bought,
    buy,
    totals: {
      lost: lost.size,
      replaced: rails.filter((rail) => rail.replaces).length,
      moved: parts.reduce((sum, { part }) => sum + part.moved, 0),
      cut: parts.reduce((sum, { part }) => sum + part.sticks.flatMap((stick) => stick.cut).length, 0),
      toCut: rails.length,
      stopSettings: stops.reduce((sum, stop) => sum + (stop.second === null ? 1 : 2), 0),
      cost: moneyFromCents(buy.reduce((sum, { cost }) => sum + centsFromMoney(cost), 0)),
      seconds: parts.reduce((sum, { part }) => sum + (part.seconds ?? 0), 0),
    },
    shortfall,
    notices: [...parts.flatMap((one) => one.notices), ...shortNotice(work)],
    ...(work.reused.length > 0 && { reused: work.reused }),
    ...(plan.rack !== undefined && { rack: plan.rack }),
  };
}
