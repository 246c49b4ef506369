/** Frames that nothing can hold, where the batch has them skipped: the parts are made without, the plan names them. */
import { frameId } from '../../documents/ids.js';
import type { Shortfall } from '../../documents/plan/types.js';
import { mmFromUm } from '../../lengths/units.js';
import type { Notice } from '../../notices.js';
import { type ImpossibleFrame, impossibleText } from '../../stock/impossible.js';
import type { ResolvedBatch } from '../../stock/resolved.js';
import type { Batch } from '../../terms.js';
import { skippedNotice } from '../notices.js';
import type { MouldingPart } from '../part.js';

function framesOf(batch: Batch, lines: ReadonlySet<number>): readonly string[] {
  return [...lines].flatMap((line) => {
    const { id, quantity } = batch.frames[line]!;
    return Array.from({ length: quantity }, (_, copy) => frameId(id, copy + 1));
  });
}

function shortfallOf(batch: Batch, part: MouldingPart, found: readonly ImpossibleFrame[]): Shortfall {
  const impossible = framesOf(batch, new Set(found.map(({ line }) => line)));
  const { shortfall } = part;
  if (shortfall !== null) return { ...shortfall, frames: [...shortfall.frames, ...impossible], impossible };
  const needs = mmFromUm(Math.max(...found.map(({ need }) => need)));
  return { moulding: part.moulding, frames: impossible, needs, cost: null, impossible };
}

/** One notice a line, though both of its sizes be too long. */
export function skippedNotices(batch: Batch, found: readonly ImpossibleFrame[]): readonly Notice[] {
  const longest = new Map<number, ImpossibleFrame>();
  for (const one of found) {
    const known = longest.get(one.line);
    if (known === undefined || one.need > known.need) longest.set(one.line, one);
  }
  return [...longest.values()].map((one) => {
    const { id, quantity } = batch.frames[one.line]!;
    return skippedNotice(`frames[${one.line}].${one.field}`, id, quantity, impossibleText(batch, one));
  });
}

/** The part with the moulding's skipped frames in its shortfall. */
export function withSkipped(resolved: ResolvedBatch, part: MouldingPart): MouldingPart {
  const { batch } = resolved;
  if (!batch.options.skipImpossible) return part;
  const found = resolved.impossible.filter(({ line }) => batch.frames[line]!.moulding === part.moulding);
  if (found.length === 0) return part;
  return {
    ...part,
    plan: { ...part.plan, status: 'short' },
    shortfall: shortfallOf(batch, part, found),
    notices: [...part.notices, ...skippedNotices(batch, found)],
  };
}
