/** Each stick as a line: what is cut from it, left to right, and what is left. Equal sticks share a line. */

import type { MouldingPlan, PlacedRail, PlannedStick } from '../documents/plan/types.js';
import { umFromMm } from '../lengths/units.js';
import { paragraph, plural, STUCK, table } from '../text/page.js';
import { ranges } from '../words/ranges.js';
import type { Words } from '../words/words.js';

interface Token {
  readonly text: string;
  readonly count: number;
}

/** The rails of one clear span: equal neighbours counted, the ring of a matched frame in brackets. */
function tokensOf(words: Words, rails: readonly PlacedRail[]): readonly Token[] {
  const texts: string[] = [];
  for (let i = 0; i < rails.length; ) {
    const { frame } = rails[i]!;
    let end = i + 1;
    if (words.wholeFrame(frame)) while (rails[end]?.frame === frame) end += 1;
    const lengths = rails.slice(i, end).map((rail) => words.rail(rail));
    texts.push(end - i > 1 ? `(${lengths.join(' ')})` : lengths.join(''));
    i = end;
  }
  const tokens: Token[] = [];
  for (const text of texts) {
    const last = tokens.at(-1);
    if (last?.text === text) tokens[tokens.length - 1] = { text, count: last.count + 1 };
    else tokens.push({ text, count: 1 });
  }
  return tokens;
}

function railsText(words: Words, stick: PlannedStick): string {
  const parts: string[] = [];
  let rest = stick.rails;
  for (const [from, to] of words.flawsOn(stick)) {
    const before = rest.filter((rail) => umFromMm(rail.start) < from);
    rest = rest.slice(before.length);
    parts.push(spanText(words, before));
    parts.push(`[flaw ${words.length(from)} to ${words.length(to)}]`);
  }
  parts.push(spanText(words, rest));
  return parts.filter((part) => part !== '').join(' ');
}

function spanText(words: Words, rails: readonly PlacedRail[]): string {
  return tokensOf(words, rails)
    .map(({ text, count }) => (count === 1 ? text : `${count}${STUCK}x${STUCK}${text}`))
    .join(', ');
}

function leftText(words: Words, stick: PlannedStick): string {
  const kept = stick.left.filter((left) => left.use === 'offcut');
  const spans = kept.length > 0 ? kept : stick.left;
  const texts = spans
    .map((left) => words.tape(umFromMm(left.piece?.length ?? left.to - left.from)))
    .filter((text) => Number.parseFloat(text) > 0);
  if (texts.length === 0) return 'nothing left';
  return `${kept.length > 0 ? 'keep' : 'waste'} ${texts.join(', ')}`;
}

/** How offcuts to keep are measured, and what their ends are: both are told to the rack. */
function endsLines({ sticks }: MouldingPlan): readonly string[] {
  const byEnds = new Map<string, string[]>();
  for (const { stick, left } of sticks) {
    for (const { piece } of left) {
      if (piece === undefined) continue;
      const ends = piece.ends.join(', ');
      byEnds.set(ends, [...(byEnds.get(ends) ?? []), stick]);
    }
  }
  if (byEnds.size === 0) return [];
  const ends = [...byEnds].map(([text, names]) =>
    byEnds.size === 1 ? text : `${text} of ${ranges([...new Set(names)])}`,
  );
  const text = `Keep: what a tape measures along the outside edge, end trim included. Enter it in the rack with its ends (left, right): ${ends.join('; ')}.`;
  return paragraph(text, 2, 4);
}

/** Lines for all sticks of a moulding. */
export function stickLines(words: Words, moulding: MouldingPlan): readonly string[] {
  const rows: { names: string[]; cells: string[] }[] = [];
  for (const stick of moulding.sticks) {
    const cells = [
      words.stock(umFromMm(stick.length)),
      stick.source === 'rack' ? 'rack' : 'new',
      railsText(words, stick),
      leftText(words, stick),
    ];
    const last = rows.at(-1);
    if (last !== undefined && last.cells.join('\n') === cells.join('\n')) last.names.push(stick.stick);
    else rows.push({ names: [stick.stick], cells });
  }
  const lines = rows.map(({ names, cells }) => {
    const [length = '', source = '', rails = '', left = ''] = cells;
    return [plural(names.length, 'stick'), ranges(names), `${source} ${length}`, left, rails];
  });
  return [...stickTable(lines), ...endsLines(moulding)];
}

function stickTable(lines: readonly (readonly string[])[]): readonly string[] {
  return table(
    lines,
    [{ most: 10, align: 'right' }, { most: 24 }, { most: 16 }, { most: 18 }, { most: 100 }],
    2,
  );
}
