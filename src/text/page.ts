/** Plain text in columns: fixed width, no colour, nothing beyond the page's edge. */

import { visible } from './visible.js';

/** Characters on a line: what a terminal and a portrait page hold. */
export const PAGE = 100;

/** A space at which no line is broken: `12 1/8"` stays together. */
export const STUCK = '\u00a0';

/** Lines as they are printed: whatever an id or a message holds, only text reaches the terminal. */
export function printed(lines: readonly string[]): string {
  return lines.map((line) => `${visible(line.replaceAll(STUCK, ' ').trimEnd())}\n`).join('');
}

/** Words onto lines of at most `width`; a word longer than that is broken. */
export function wrap(text: string, width: number): readonly string[] {
  const lines: string[] = [];
  let line = '';
  for (let word of text.split(' ')) {
    if (line !== '' && line.length + 1 + word.length > width) {
      lines.push(line);
      line = '';
    }
    while (word.length > width) {
      lines.push(word.slice(0, width));
      word = word.slice(width);
    }
    line = line === '' ? word : `${line} ${word}`;
  }
  lines.push(line);
  return lines;
}

export interface TableColumn {
  /** Widest it may get; the last column takes what is left of the page. */
  readonly most: number;
  readonly align?: 'left' | 'right';
}

const GAP = 2;

/** Rows of cells; cells wrap within their column. */
export function table(
  rows: readonly (readonly string[])[],
  columns: readonly TableColumn[],
  indent: number,
): readonly string[] {
  const widths = columns.map(({ most }, c) =>
    Math.min(
      most,
      rows.reduce((width, row) => Math.max(width, row[c]?.length ?? 0), 1),
    ),
  );
  const before = widths.slice(0, -1).reduce((sum, width) => sum + width + GAP, indent);
  widths[widths.length - 1] = Math.min(widths.at(-1) ?? PAGE, PAGE - before);
  return rows.flatMap((row) => {
    const cells = row.map((cell, c) => wrap(cell, widths[c]!));
    const height = Math.max(...cells.map((cell) => cell.length));
    return Array.from({ length: height }, (_, line) => {
      const texts = cells.map((cell, c) => {
        const text = cell[line] ?? '';
        return columns[c]?.align === 'right' ? text.padStart(widths[c]!) : text.padEnd(widths[c]!);
      });
      return (' '.repeat(indent) + texts.join(' '.repeat(GAP))).trimEnd();
    });
  });
}

/** A paragraph with a hanging indent. */
export function paragraph(text: string, indent: number, hang = indent): readonly string[] {
  const [first = '', ...rest] = wrap(text, PAGE - Math.max(indent, hang));
  return [' '.repeat(indent) + first, ...rest.map((line) => ' '.repeat(hang) + line)];
}

/** `left` and `right` at the two edges of the page, on two lines where one is too short. */
export function edges(left: string, right: string): readonly string[] {
  if (left.length + right.length + GAP > PAGE) return [...paragraph(left, 0), ...paragraph(right, 0)];
  return [left + right.padStart(PAGE - left.length)];
}

export function plural(count: number, one: string, many = `${one}s`): string {
  return `${count} ${count === 1 ? one : many}`;
}

/** `a, b and c`; `none` stands for an empty list. */
export function named(ids: readonly string[], none = 'the rack'): string {
  if (ids.length < 2) return ids[0] ?? none;
  return `${ids.slice(0, -1).join(', ')} and ${ids.at(-1)}`;
}

export function money(amount: number): string {
  return amount.toFixed(2);
}

export function percent(share: number, decimals = 1): string {
  return `${(share * 100).toFixed(decimals)} %`;
}
