/** What stands on each label: sticks as they are first taken up, then each rail as it is cut, offcuts when their stick is done. */
import type { OffcutPiece } from '../../documents/plan/types.js';
import { umFromMm } from '../../lengths/units.js';
import { offcutId, pieceCode } from '../../rack/names.js';
import type { Words } from '../../words/words.js';
import type { SheetJob, SheetMoulding, SheetStick } from '../job.js';
import { settingText } from '../setting-text.js';

export interface SheetLabel {
  readonly kind: 'stick' | 'rail' | 'offcut';
  /** The largest text. */
  readonly mark: string;
  /** What stands beside it, most wanted first. */
  readonly lines: readonly string[];
  /** What the code on it says; null: none. */
  readonly code: string | null;
}

function endsOf(piece: OffcutPiece | undefined): readonly string[] {
  return piece === undefined ? [] : [`ends ${piece.ends.join(', ')}`];
}

/** Offcuts to keep by their stick, numbered through the whole plan as the rack numbers them. */
function offcutLabels({ batch, made }: SheetJob, words: Words): ReadonlyMap<string, readonly SheetLabel[]> {
  let nth = 0;
  const labels = new Map<string, SheetLabel[]>();
  for (const { moulding, sticks } of made.mouldings) {
    for (const { stick, left } of sticks) {
      for (const { from, to, use, piece } of left) {
        if (use !== 'offcut') continue;
        nth += 1;
        const id = offcutId(batch.id, nth, made.schema === 'pairstop/recut@1');
        const own = labels.get(stick) ?? [];
        labels.set(stick, own);
        own.push({
          kind: 'offcut',
          mark: words.tape(umFromMm(piece?.length ?? to - from)),
          lines: [moulding, 'offcut to keep', id, `from ${stick}`, ...endsOf(piece)],
          code: pieceCode(id),
        });
      }
    }
  }
  return labels;
}

function stickLabel(words: Words, { moulding }: SheetMoulding, stick: SheetStick): SheetLabel {
  return {
    kind: 'stick',
    mark: stick.name,
    lines: [moulding.id, `stick, ${stick.rack ? 'rack' : 'new'} ${words.stock(stick.length)}`],
    code: stick.rack ? pieceCode(stick.ref) : null,
  };
}

/** In the order of the work. */
export function labelsOf(job: SheetJob, words: Words): readonly SheetLabel[] {
  const offcuts = offcutLabels(job, words);
  return job.mouldings.flatMap((part) => {
    const labels: SheetLabel[] = [];
    const begun = new Set<SheetStick>();
    const open = new Map(part.sticks.map((stick) => [stick, stick.rails.length]));
    for (const setting of part.runs.flatMap(({ settings }) => settings)) {
      for (const { stick, rails } of setting.visits) {
        if (!begun.has(stick)) labels.push(stickLabel(words, part, stick));
        begun.add(stick);
        for (const { tag, frame, side, length } of rails) {
          labels.push({
            kind: 'rail',
            mark: tag,
            lines: [
              words.length(length),
              `${frame} ${side}`,
              `${part.moulding.id}, ${stick.name}`,
              `stop ${settingText(words, setting)}`,
            ],
            code: null,
          });
        }
        const rest = (open.get(stick) ?? 0) - rails.length;
        open.set(stick, rest);
        if (rest === 0) labels.push(...(offcuts.get(stick.name) ?? []));
      }
    }
    return labels;
  });
}
