/**
 * From where to where something lies, as people write it: `20 to 23 1/2`, `20-23 1/2`, `20-3/8 - 23-1/2`, `400–430 mm`.
 * A dash may also stand within a length; the one way to part the text into two lengths counts, the first below the second.
 * A unit behind the second serves both.
 */
import { compare, needUm, supplyUm } from './exact.js';
import { tryParseLength } from './parse.js';
import type { Units } from './units.js';

const WORDED = /\s*(?:\bto\b|\.\.)\s*/i;
const DASH = /[-‐‑–]/g;
const UNIT = /(?<=^[\d./ -]+)(?:mm|cm|m|in\.?|inch|inches|ft\.?|feet|foot|["'′″’”])$/i;
const BARE = /^[\d./ -]+$/;

function waysToPart(text: string): readonly (readonly string[])[] {
  if (WORDED.test(text)) return [text.split(WORDED)];
  return [...text.matchAll(DASH)].map(({ index }) => [text.slice(0, index), text.slice(index + 1)]);
}

/** The two lengths as texts that `parseLength` reads; null where there is no way to part it, or more than one. */
export function spanTexts(text: string, units: Units): readonly [from: string, to: string] | null {
  const found = waysToPart(text).flatMap(([first = '', second = '', ...more]) => {
    const [bare, to] = [first.trim(), second.trim()];
    const unit = UNIT.exec(to)?.[0] ?? '';
    const from = BARE.test(bare) ? `${bare} ${unit}`.trim() : bare;
    const [start, end] = [tryParseLength(from, units), tryParseLength(to, units)];
    const isSpan = start !== null && end !== null && more.length === 0 && compare(start, end) < 0;
    return isSpan ? [[from, to] as const] : [];
  });
  return found.length === 1 ? found[0]! : null;
}

/** In whole micrometres, no narrower than it is written. */
export function tryParseSpan(text: string, units: Units): readonly [from: number, to: number] | null {
  const texts = spanTexts(text, units);
  if (texts === null) return null;
  const [from, to] = texts.map((one) => tryParseLength(one, units)!);
  return [supplyUm(from!), needUm(to!)];
}
