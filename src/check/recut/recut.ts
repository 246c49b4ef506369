/**
 * Verifies a recut against its batch from the definition of the trade, as `../check.ts` does a plan, and where it is
 * given the plan or recut it was made of, against that too.
 *
 * | of | checked |
 * | --- | --- |
 * | wood | good rails, lost ones and those to be cut share the stick: blade and recut between all of them |
 * | flaws | neither a good rail nor one to be cut has a flaw in it; a lost one may |
 * | matches | between rails that are all still to be cut; where part of a match is cut or lost nothing can be asked |
 * | saw cuts | of what is to be cut alone: a stick that was begun gets a fresh first mitre |
 * | frames | a frame of which nothing is cut, to be cut or short is one the plan left out; with the plan, none may be missing |
 * | `was` | a stick of the moulding; with the earlier document, the one the rail was on |
 * | bound | no higher than the value. It cannot be proved again without solving |
 * | needs | of what it buys; without offers a length above 0 |
 * | notices | not checked |
 */

import { copyOf } from '../../documents/ids.js';
import type { Plan } from '../../documents/plan/types.js';
import type { Recut } from '../../documents/recut/types.js';
import type { Batch, Offer } from '../../terms.js';
import { type InMoulding, mitresFor, NOTHING, nothingVerified } from '../context.js';
import { checkBoughtUsed, checkPurchases } from '../figures/buy.js';
import { type CheckReport, Findings } from '../report.js';
import { Roster } from '../roster.js';
import { Settings } from '../settings.js';
import { gaugesOf } from '../stops.js';
import { entryOf, withShopRack } from '../wood/shop-rack.js';
import { Supply } from '../wood/sticks.js';
import { checkBefore } from './before.js';
import type { CheckedRecutPart, OnRecut } from './context.js';
import { checkBoughtBefore, checkLost, checkRecutFigures, checkReused, checkWholeFrames } from './figures.js';
import { checkRecutRuns } from './runs.js';
import { checkRecutSticks } from './sticks.js';
import { checkRecutStops, checkStopLengths } from './stops.js';

function withReused(batch: Batch, { reused = [] }: Recut): Batch {
  return { ...batch, sticks: [...batch.sticks, ...reused.map(entryOf)] };
}

/** The offers with what may still be bought of them. */
function remaining(offers: readonly Offer[], before: ReadonlyMap<string, number>): readonly Offer[] {
  return offers.map((offer) => {
    const { available } = offer;
    return available === null ? offer : { ...offer, available: available - (before.get(offer.id) ?? 0) };
  });
}

function goodRails({ roster }: OnRecut, { mouldings }: Recut): ReadonlySet<number> {
  const cut = mouldings.flatMap(({ sticks }) => sticks.flatMap((stick) => stick.cut));
  return new Set(
    cut.map(({ frame: name, side }) => {
      const frame = roster.frameAt(name);
      return frame < 0 ? -1 : roster.railAt(frame, side);
    }),
  );
}

function checkRecutDocument({ batch, recut, findings }: OnRecut): void {
  const same = (path: 'schema' | 'batch' | 'units', holds: string): void => {
    if (recut[path] !== holds) findings.add('CHECK_DOCUMENT', path, `"${recut[path]}"`, `"${holds}"`);
  };
  same('schema', 'pairstop/recut@1');
  same('batch', batch.id);
  same('units', batch.units);
}

/** Every breach of the definition in `recut`. Never throws. `earlier`: what it was made of. */
export function checkRecut(given: Batch, recut: Recut, earlier?: Plan | Recut): CheckReport {
  const ordered = withShopRack(given, recut);
  const findings = new Findings();
  const verified = nothingVerified();
  const roster = new Roster(ordered);
  const on: OnRecut = {
    batch: withReused(ordered, recut),
    recut,
    roster,
    settings: new Settings(ordered),
    findings,
    verified,
  };
  checkRecutDocument(on);
  const before = checkBoughtBefore(on);
  const selling = { ...on, batch: { ...on.batch, offers: remaining(on.batch.offers, before) } };
  const bought = checkPurchases(selling, recut.buy);
  const pieces = new Map(before);
  for (const [offer, count] of bought.pieces) pieces.set(offer, (pieces.get(offer) ?? 0) + count);
  const supply = new Supply(on.batch, pieces);
  const cut = goodRails(on, recut);
  const gauges = gaugesOf(ordered);
  const mouldings = new Map(ordered.mouldings.map((moulding) => [moulding.id, moulding]));
  const parts: CheckedRecutPart[] = [];
  const fresh = new Map<string, number>();
  recut.mouldings.forEach((part, m) => {
    const path = `mouldings[${m}]`;
    const moulding = mouldings.get(part.moulding);
    verified.mouldings += 1;
    if (moulding === undefined || parts.some((one) => one.part.moulding === part.moulding)) {
      findings.add(
        'CHECK_MOULDING',
        `${path}.moulding`,
        `"${part.moulding}"`,
        'a moulding of the batch, once',
      );
      return;
    }
    const within: InMoulding = {
      ...on,
      moulding,
      path,
      sums: { ...NOTHING },
      mitreOf: mitresFor(ordered, moulding),
    };
    checkRecutStops(within, part, gauges);
    const cuts = checkRecutSticks(within, part, supply, cut);
    checkStopLengths(within, part);
    for (const { source, stick, ref } of part.sticks) {
      if (source === 'offer' && copyOf(stick) > (before.get(ref) ?? 0))
        fresh.set(ref, (fresh.get(ref) ?? 0) + 1);
    }
    parts.push({ path, part, moulding, cuts, cost: bought.costs.get(moulding.id) ?? 0 });
  });
  for (const part of parts) checkRecutRuns(on, part);
  checkBoughtUsed(selling, recut.buy, bought, fresh);
  checkLost(on);
  checkWholeFrames(on);
  checkReused({ ...on, batch: ordered });
  checkRecutFigures(on, parts, bought.total);
  if (earlier !== undefined) checkBefore(on, earlier);
  return findings.report(verified);
}
