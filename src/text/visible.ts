/**
 * Makes text from anywhere safe to print: characters that could move a cursor, change a colour, reverse letters or hide
 * them become visible escapes. In JSON strings the escape means the same character.
 */

/** Control, format and lone surrogate characters, line and paragraph separators. */
const UNSEEN = /[\p{Cc}\p{Cf}\p{Cs}\p{Zl}\p{Zp}]/gu;

function escaped(character: string): string {
  return Array.from({ length: character.length }, (_, i) => {
    return `\\u${character.charCodeAt(i).toString(16).padStart(4, '0')}`;
  }).join('');
}

/** One line: line ends are escaped too. */
export function visible(text: string): string {
  return text.replace(UNSEEN, escaped);
}

/** Whole pages: line ends, also those of CSV, tabs, and the byte order mark at the very beginning stay. */
export function visibleLines(text: string): string {
  return text.replace(UNSEEN, (character, at: number) => {
    const mark = character === '\uFEFF' && at === 0;
    const stays =
      mark || character === '\n' || character === '\t' || (character === '\r' && text[at + 1] === '\n');
    return stays ? character : escaped(character);
  });
}
