/** The rules between the fields of rack sticks and offers. */
import { compare, toNumber } from '../../lengths/exact.js';
import { formatLength } from '../../lengths/format.js';
import { byId, idsOnce, knownMouldings } from '../../read/ids.js';
import { RACK_PIECES } from '../../read/limits.js';
import type { InputProblems, Path } from '../../read/problems.js';
import type { Sound } from '../../read/walk.js';
import type { Units } from '../../terms.js';
import { defaultPrice, moneyText } from '../money.js';
import type { ReadBatch, SoundBatch } from './schema.js';

type SoundStick = Sound<ReadBatch['sticks'][number]>;
type SoundOffer = Sound<ReadBatch['offers'][number]>;

function flawsInside(stick: SoundStick, units: Units, path: Path, problems: InputProblems): void {
  const { flaws, length } = stick;
  if (flaws === undefined) return;
  for (const [j, flaw] of flaws.entries()) {
    if (flaw === undefined) continue;
    const [from, to] = flaw;
    const where = [...path, 'flaws', j];
    if (compare(from, to) >= 0) problems.add(where, '[from, to] with from below to');
    if (length !== undefined && compare(to, length) > 0) {
      const longest = formatLength(toNumber(length), units);
      problems.add([...where, 1], `inside the stick, up to its length ${longest}`);
    }
  }
}

/** Breaks may be written in any order. For more pieces, the price a piece never rises. */
function breaksFall(offer: SoundOffer, units: Units, path: Path, problems: InputProblems): void {
  const { breaks, price, length } = offer;
  if (breaks === undefined) return;
  const first = price ?? (length === undefined ? undefined : defaultPrice(length, units));
  const steps = [...breaks.entries()]
    .flatMap(([j, step]) =>
      step?.from === undefined || step.price === undefined ? [] : [{ j, from: step.from, price: step.price }],
    )
    .sort((a, b) => a.from - b.from || a.j - b.j);
  let before = { from: 1, price: first ?? Number.POSITIVE_INFINITY };
  for (const step of steps) {
    const where = [...path, 'breaks', step.j];
    if (step.from === before.from) problems.add([...where, 'from'], 'each number of pieces once');
    else if (step.price > before.price) {
      problems.add(
        [...where, 'price'],
        `at most ${moneyText(before.price)}, the price from ${before.from} on; more pieces never cost more each`,
      );
    }
    before = step;
  }
}

function packsAvailable(offer: SoundOffer, path: Path, problems: InputProblems): void {
  const { available, pack } = offer;
  if (available === undefined || pack === undefined || available === 0 || available >= pack) return;
  problems.add([...path, 'available'], `0, or at least one pack of ${pack}`);
}

/** Every offer's supplier is one of `suppliers`. */
function suppliersKnown({ offers, suppliers }: SoundBatch, problems: InputProblems): void {
  idsOnce({ suppliers }, problems);
  if (suppliers === undefined) return;
  const known = byId(suppliers);
  const some = [...known.keys()].slice(0, 5).map((id) => JSON.stringify(id));
  const allowed =
    known.size === 0
      ? 'none: the batch lists no suppliers'
      : `the id of one of the suppliers: ${some.join(', ')}`;
  for (const [i, offer] of (offers ?? []).entries()) {
    if (offer?.supplier !== undefined && !known.has(offer.supplier))
      problems.add(['offers', i, 'supplier'], allowed);
  }
}

export function stockRules(batch: SoundBatch, units: Units, problems: InputProblems): void {
  // A stick of a plan is named `ref/copy`, so the rack and the offers share one set of ids.
  idsOnce({ sticks: batch.sticks, offers: batch.offers }, problems);
  idsOnce({ gauges: batch.gauges }, problems);
  if (batch.mouldings !== undefined) {
    const mouldings = byId(batch.mouldings);
    knownMouldings('sticks', batch.sticks, mouldings, problems);
    knownMouldings('offers', batch.offers, mouldings, problems);
  }
  suppliersKnown(batch, problems);
  let pieces = 0;
  for (const [i, stick] of (batch.sticks ?? []).entries()) {
    if (stick === undefined) continue;
    pieces += stick.quantity ?? 0;
    flawsInside(stick, units, ['sticks', i], problems);
  }
  if (pieces > RACK_PIECES) problems.add(['sticks'], `at most ${RACK_PIECES} rack pieces`, String(pieces));
  for (const [i, offer] of (batch.offers ?? []).entries()) {
    if (offer === undefined) continue;
    breaksFall(offer, units, ['offers', i], problems);
    packsAvailable(offer, ['offers', i], problems);
  }
}
