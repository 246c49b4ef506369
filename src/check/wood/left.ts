/**
 * What is left of a stick. At a rail's two cuts the blade reaches k' = k / cos θ beyond the long points, on whichever
 * edge they are. So from start − k' to end + k' the stick no longer has its full width; everywhere else it has.
 */
import type { PlannedStick } from '../../documents/plan/types.js';
import { umFromMm } from '../../lengths/units.js';
import type { PieceEnd, PieceEnds, RackEntry, Um } from '../../terms.js';
import type { InMoulding } from '../context.js';
import { lengthAt, mm } from '../numbers.js';
import { GUARD } from './geometry.js';
import type { StandingRail, Trims } from './rails.js';

interface WoodSpan {
  readonly from: number;
  readonly to: number;
}

/** Blocked spans sorted by `from`. */
export function blockedBy(rails: readonly StandingRail[]): WoodSpan[] {
  const blocked = rails.map((rail) => ({
    from: rail.start - Math.ceil(rail.mitre.blade - GUARD),
    to: rail.end + Math.ceil(rail.mitre.blade - GUARD),
  }));
  return blocked.sort((a, b) => a.from - b.from);
}

/** What is free from `from` to `to`, outside the sorted spans. */
export function freeOf(from: Um, to: Um, blocked: readonly WoodSpan[]): WoodSpan[] {
  const free: WoodSpan[] = [];
  let at = from;
  for (const span of blocked) {
    if (span.from >= to) break;
    if (span.from > at) free.push({ from: at, to: span.from });
    at = Math.max(at, span.to);
  }
  if (at < to) free.push({ from: at, to });
  return free;
}

/** Whether `span` meets any of the spans, sorted and, unless found wrong elsewhere, disjoint or nearly so. */
function overlaps(span: WoodSpan, blocked: readonly WoodSpan[]): boolean {
  let [low, high] = [0, blocked.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (blocked[middle]!.to <= span.from) low = middle + 1;
    else high = middle;
  }
  return low < blocked.length && blocked[low]!.from < span.to;
}

interface Listed extends WoodSpan {
  readonly offcut: boolean;
  readonly at: number;
}

function listedOf(
  on: InMoulding,
  stick: Pick<PlannedStick, 'left'>,
  length: Um,
  stickPath: string,
): Listed[] {
  const { findings, moulding, verified, sums } = on;
  const list = `${stickPath}.left`;
  const listed: Listed[] = [];
  stick.left.forEach((remainder, at) => {
    verified.remainders += 1;
    const from = lengthAt(remainder.from, findings, list, at, 'from');
    const to = lengthAt(remainder.to, findings, list, at, 'to');
    const offcut = remainder.use === 'offcut';
    if (Number.isNaN(from) || Number.isNaN(to)) return;
    if (!(from < to && to <= length)) {
      const span = `${mm(from)} to ${mm(to)}`;
      findings.add('CHECK_LEFT', `${list}[${at}]`, span, `from below to, within ${mm(length)}`);
      return;
    }
    if (offcut !== to - from >= moulding.keepOver) {
      const found = `${mm(to - from)} as ${remainder.use}`;
      findings.add('CHECK_LEFT_USE', `${list}[${at}]`, found, `offcut from ${mm(moulding.keepOver)}`);
    }
    if (offcut) sums.offcut += to - from;
    listed.push({ from, to, offcut, at });
  });
  return listed.sort((a, b) => a.from - b.from);
}

/**
 * The piece an offcut becomes. Where a rail was cut beside it, it ends mitred there, at a flaw it is sawn off, and where
 * nothing is beside it, it goes on through the trim to the end of the stick, as that is.
 */
function checkPieces(
  on: InMoulding,
  stick: Pick<PlannedStick, 'left'>,
  beside: readonly (WoodSpan & { readonly as: PieceEnd })[],
  length: Um,
  ends: PieceEnds,
  stickPath: string,
): void {
  stick.left.forEach(({ from, to, use, piece }, at) => {
    if (piece === undefined) return;
    const path = `${stickPath}.left[${at}].piece`;
    if (use !== 'offcut') {
      on.findings.add('CHECK_LEFT_PIECE', path, use, 'none of what is not kept');
      return;
    }
    const [start, end] = [umFromMm(from), umFromMm(to)];
    let [left, right] = [
      { at: 0, as: ends[0] },
      { at: length, as: ends[1] },
    ];
    for (const one of beside) {
      if (one.to <= start && one.to > left.at) left = { at: one.to, as: one.as };
      if (one.from >= end && one.from < right.at) right = { at: one.from, as: one.as };
    }
    // A cut ends on whole micrometres; what is left begins where the plan says.
    const [first, last] = [left.at > 0 ? start : 0, right.at < length ? end : length];
    const found = `${mm(umFromMm(piece.length))}, ${piece.ends.join(', ')}`;
    const wanted = `${mm(last - first)}, ${left.as}, ${right.as}`;
    if (found !== wanted) on.findings.add('CHECK_LEFT_PIECE', path, found, wanted);
  });
}

/** `flaws` sorted and disjoint, `rails` from left to right. */
export function checkLeft(
  on: InMoulding,
  stick: Pick<PlannedStick, 'left'>,
  rails: readonly StandingRail[],
  length: Um,
  { flaws, ends }: { readonly flaws: RackEntry['flaws']; readonly ends: PieceEnds },
  trims: Trims,
  stickPath: string,
): void {
  const { findings, moulding } = on;
  const listed = listedOf(on, stick, length, stickPath);
  const cut = blockedBy(rails);
  const spoiled = flaws.map(([from, to]) => ({ from, to }));
  const [first, last] = [trims[0], length - trims[1]];
  const beside = [
    ...rails.map(({ start, end }) => ({ from: start, to: end, as: 'mitred' as const })),
    ...spoiled.map((flaw) => ({ ...flaw, as: 'sawn' as const })),
  ];
  checkPieces(on, stick, beside, length, ends, stickPath);
  listed.forEach((span, i) => {
    const add = (holds: string) =>
      findings.add(
        'CHECK_LEFT',
        `${stickPath}.left[${span.at}]`,
        `${mm(span.from)} to ${mm(span.to)}`,
        holds,
      );
    const before = listed[i - 1];
    if (before !== undefined && before.to > span.from) add(`apart from left[${before.at}]`);
    if (overlaps(span, cut)) add('clear of every rail and one blade beside it');
    if (!span.offcut) return;
    if (span.from < first || span.to > last) add(`between the trims, ${mm(first)} to ${mm(last)}`);
    if (overlaps(span, spoiled)) add('clear of flaws');
  });
  const offcuts = listed.filter((span) => span.offcut);
  const blocked = spoiled.length === 0 ? cut : [...cut, ...spoiled].sort((a, b) => a.from - b.from);
  let next = 0;
  for (const free of freeOf(first, last, blocked)) {
    if (free.to - free.from < moulding.keepOver) continue;
    while (next < offcuts.length && offcuts[next]!.to <= free.from) next += 1;
    const offcut = offcuts[next];
    if (offcut !== undefined && offcut.from <= free.from && offcut.to >= free.to) continue;
    const found = `${mm(free.from)} to ${mm(free.to)} free`;
    findings.add('CHECK_LEFT_MISSING', `${stickPath}.left`, found, 'listed whole as an offcut');
  }
}
