/**
 * Verifies a plan against its batch from the definition of the trade. Nothing here knows how plans are made: of the
 * stages that make them it shares only the reading of lengths, the glossary and the shape of the plan document, so a
 * fault there does not hide itself here. Time is in proportion to rails, with sorting only where a list is unsorted.
 *
 * Where the definition leaves a choice, this is the one checked:
 *
 * | of | checked |
 * | --- | --- |
 * | rounding to the stop step | the least n·step that is no shorter than the need, compared before or after rounding up to whole µm |
 * | merged stops | the ordinary setting, or any setting on the step or of a gauge stick, from the need at `play` to the need at `playMax`; only frames measured by glass have that freedom |
 * | both ways | the settings with and without merging are counted again, and so is the least number where no ring needs two stops; where one does, only that the number is not too large. The cost without merging cannot be checked without planning again |
 * | priority | only between frames that ask for equal rails and the same match |
 * | visits | a stick is taken up anew at each setting, and whenever the next rail of the pairs is on another |
 * | layouts | sticks of one length whose rails agree in place, length, angle and way up |
 * | rails of a regular frame | all equal; opposing rails are side i and i + n/2 where n is even; where n is odd, `pair` asks no more than `stop` |
 * | frame match | left to right exactly top, right, bottom, left (side1 … sideN) in one segment, all in one stops entry |
 * | edges | a rail may end exactly where a trim or flaw begins |
 * | neighbours | the rules for wood, blade and recut hold across a flaw too: a flaw narrower than the blade gives it no room |
 * | first and last cut | need no blade's width towards a trim or flaw |
 * | unlike angles on reversible stock | as not nested: k' of the larger angle and the recut between long points |
 * | one shared cut | unlike ways up, equal angles, and parallel cuts no further apart than the blade and 2 µm of rounding |
 * | railLength | L − F·tan θ for a rail that shares a cut with a neighbour, L otherwise; each rounded either way |
 * | stops | in a run settings never rise (any order where the batch asks for fewest begun); the same setting again only with another second stop; one setting serves every angle |
 * | stopSettings | one for each different setting, and one more for its second stop; stopsSet counts them in every run |
 * | begun | from the first stop, or turn of one angle at it, that cuts a stick to the last; what one turn cuts whole counts as one stick |
 * | tied | sticks that share a pair, a regular frame or a matched frame, directly or through others; they alone may overfill the bench |
 * | gauge | the longer stop names it; any gauge stick of exactly that length |
 * | pairs | opposing rails; all rails of a frame-matched frame may stand as one; a regular frame's rails in any groups |
 * | remainders | at full width: from one k' past the long point, or the trim or flaw, to the next such place; waste need not be listed |
 * | needs of a shortfall | a length above 0; its cost null without offers. Neither can be checked without planning again |
| purchases | no dearer than the cheapest way to buy what is used |
 * | money | whole cents, except bounds |
 */
import type { Plan } from '../documents/plan/types.js';
import type { Batch } from '../terms.js';
import { type Context, type InMoulding, mitresFor, NOTHING, nothingVerified, type Sums } from './context.js';
import { checkBoughtUsed, checkPurchases } from './figures/buy.js';
import { checkHandling } from './figures/handling.js';
import { checkMerging } from './figures/merging.js';
import { checkProof } from './figures/proof.js';
import { checkTotals } from './figures/totals.js';
import { type CheckedPart, checkFrames, checkShortfall } from './frames.js';
import { checkPool } from './pool.js';
import { checkPriority } from './priority.js';
import { type CheckReport, Findings } from './report.js';
import { Roster } from './roster.js';
import { checkRuns } from './runs.js';
import { Settings } from './settings.js';
import { checkStops, gaugesOf } from './stops.js';
import { checkTags } from './tags.js';
import { withShopRack } from './wood/shop-rack.js';
import { checkSticks, Supply } from './wood/sticks.js';

function checkDocument(on: Context): void {
  const { plan, batch, findings } = on;
  const same = (path: 'schema' | 'batch' | 'units', holds: string) => {
    if (plan[path] !== holds) findings.add('CHECK_DOCUMENT', path, `"${plan[path]}"`, `"${holds}"`);
  };
  same('schema', 'pairstop/plan@1');
  same('batch', batch.id);
  same('units', batch.units);
  if (plan.lengths !== undefined && plan.lengths !== 'mm')
    findings.add('CHECK_DOCUMENT', 'lengths', `"${plan.lengths as string}"`, '"mm"');
}

/** A night's plan held against one of its batches: everything else would be wrong only because of that. */
function isOfNight({ plan, batch, findings }: Context): boolean {
  const members = plan.batches ?? [];
  if (plan.batch === batch.id || !members.some((one) => one.batch === batch.id)) return false;
  const [own, night] = [`"${batch.id}"`, `"${plan.batch}"`];
  findings.add(
    'CHECK_DOCUMENT',
    'batch',
    night,
    `${own}; or checked against the batch ${night}, in which ${own} is one of ${members.length} planned as one`,
  );
  return true;
}

function checkStatus(on: Context, path: string, status: 'complete' | 'short', short: boolean): void {
  const due = short ? 'short' : 'complete';
  if (status !== due) on.findings.add('CHECK_STATUS', path, `"${status}"`, `"${due}", by the shortfall`);
}

/** Every breach of the definition in `plan`; lengths to the micrometre, money to the cent. Never throws. */
export function checkPlan(given: Batch, plan: Plan): CheckReport {
  const batch = withShopRack(given, plan);
  const findings = new Findings();
  const verified = nothingVerified();
  const roster = new Roster(batch);
  const on: Context = { batch, plan, roster, settings: new Settings(batch), findings, verified };
  if (isOfNight(on)) return findings.report(verified);
  checkDocument(on);
  const short = checkShortfall(on, plan.shortfall);
  checkStatus(on, 'status', plan.status, short.size > 0);
  const bought = checkPurchases(on, plan.buy);
  const supply = new Supply(batch, bought.pieces);
  const sums: Sums = { ...NOTHING };
  const entries = new Map<string, CheckedPart>();
  const mouldings = new Map(batch.mouldings.map((moulding) => [moulding.id, moulding]));
  const priced = new Set(batch.offers.map((offer) => offer.moulding));
  const gauges = gaugesOf(batch);
  plan.mouldings.forEach((part, m) => {
    const path = `mouldings[${m}]`;
    verified.mouldings += 1;
    const moulding = mouldings.get(part.moulding);
    if (moulding === undefined || entries.has(part.moulding)) {
      findings.add(
        'CHECK_MOULDING',
        `${path}.moulding`,
        `"${part.moulding}"`,
        'a moulding of the batch, once',
      );
      return;
    }
    const within: InMoulding = { ...on, moulding, path, sums, mitreOf: mitresFor(batch, moulding) };
    checkStatus(on, `${path}.status`, part.status, short.has(moulding.id));
    if (part.unplanned !== undefined && part.sticks.length > 0) {
      findings.add('CHECK_STATUS', `${path}.unplanned`, `${part.sticks.length} sticks`, 'none cut');
    }
    const before = sums.stock;
    const settings = checkStops(within, part.stops, gauges);
    const counts = checkSticks(within, part.sticks, supply);
    const cost = bought.costs.get(moulding.id) ?? 0;
    const stock = sums.stock - before;
    entries.set(moulding.id, { path, part, moulding, settings, counts, stock, cost });
    checkProof(within, part.proof, cost, stock, priced.has(moulding.id));
  });
  const ordered = new Set(batch.frames.map((line) => line.moulding));
  for (const id of ordered) {
    if (!entries.has(id))
      findings.add('CHECK_MOULDING', 'mouldings', `none for "${id}"`, 'one entry, as it has orders');
  }
  checkFrames(on, entries);
  checkTags(on);
  checkPriority(on);
  checkHandling(on, entries);
  checkRuns(on, entries);
  checkMerging(on, entries);
  checkPool(on, entries);
  checkBoughtUsed(on, plan.buy, bought, supply.used);
  checkTotals(on, sums, bought.total);
  return findings.report(verified);
}
