/** What the headers of tables say, read alike in orders, racks and counts. */
import type { InputProblem } from '../errors.js';
import { show } from '../read/problems.js';
import type { Units } from '../terms.js';
import type { CsvFile, CsvRow } from './read.js';

/** What a bare number of a column counts in, as its header says. */
export type HeaderUnit = 'mm' | 'cm' | 'm' | 'in' | 'ft';

const UNIT =
  /^(.*?)[\s,]*(?:[\s([,]\s*(mm|cm|m|in|inch|inches|ft|feet)\s*\.?\s*[)\]]?|[\s([]*("|'|″|′)\s*[)\]]?)$/i;

function unitNamed(word: string): HeaderUnit {
  const small = word.toLowerCase();
  if (small === 'mm' || small === 'cm' || small === 'm') return small;
  return small === 'ft' || small === 'feet' || small === "'" || small === '′' ? 'ft' : 'in';
}

/** A header cell as its word and the unit behind it: `width (in)`, `length mm`, `face "`. */
export function headerParts(
  text: string,
  known: (word: string) => boolean,
): { readonly word: string; readonly unit: HeaderUnit | null } {
  if (known(text)) return { word: text, unit: null };
  const parts = UNIT.exec(text);
  const unit = parts?.[2] ?? parts?.[3];
  if (parts === null || unit === undefined) return { word: text, unit: null };
  return { word: parts[1]!, unit: unitNamed(unit) };
}

/** Which of the two a shop counts in that writes this unit. */
export function unitsOfHeader(unit: HeaderUnit): Units {
  return unit === 'in' || unit === 'ft' ? 'in' : 'mm';
}

/** What is wrong with a row that has a cell without a header, as a text with the separator in it makes one; null: nothing. */
export function cellBeyond(
  file: string,
  separator: CsvFile['separator'],
  header: CsvRow,
  row: CsvRow,
): InputProblem | null {
  const beyond = row.cells.findIndex((cell, at) => cell !== '' && (header.cells[at] ?? '') === '');
  if (beyond < 0) return null;
  const allowed = `nothing in cell ${beyond + 1}, which has no header; a text with ${JSON.stringify(separator)} in it stands between quotation marks`;
  return { path: '', given: show(row.cells[beyond]), allowed, file, line: row.line };
}
