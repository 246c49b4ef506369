/** Ids and other texts from outside, short enough for a line. */

const SHOWN_MOST = 200;

export function shown(text: string): string {
  return text.length <= SHOWN_MOST ? text : `${text.slice(0, SHOWN_MOST)}… (${text.length} characters)`;
}
