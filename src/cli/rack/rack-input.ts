/** What the commands of the rack are given: lengths, flaws, files. */
import type { CountedRow, RackTable } from '../../documents/rack/csv.js';
import { joined } from '../../documents/rack/flaws.js';
import { PairstopError } from '../../errors.js';
import { supplyUm } from '../../lengths/exact.js';
import { parseLength, unitsIn } from '../../lengths/parse.js';
import { tryParseSpan } from '../../lengths/span.js';
import { pieceIdOf } from '../../rack/names.js';
import { parseJson } from '../../read/json.js';
import { BATCH_BYTES, BATCH_VALUES, LONGEST, SHORTEST } from '../../read/limits.js';
import type { PieceEnd, PieceEnds, Um, Units } from '../../terms.js';
import { readInput } from '../files.js';

export interface RackArguments {
  readonly units?: Units;
  readonly by?: string;
  readonly why?: string;
  readonly json?: boolean;
}

/** Refused before anything is asked or written. */
export function unitsGiven(text: string): Units {
  if (text === 'in' || text === 'mm') return text;
  throw new PairstopError('PS_USAGE', `--units: given ${JSON.stringify(text)}; allowed: in, mm`);
}

/** What a bare number means. */
export function unitsOf({ units = 'in' }: RackArguments): Units {
  return units;
}

export function signedOf({ by, why }: RackArguments): { readonly who?: string; readonly why?: string } {
  return { ...(by !== undefined && { who: by }), ...(why !== undefined && { why }) };
}

export function lengthOf(text: string, units: Units): Um {
  const length = supplyUm(parseLength(text, units));
  if (length >= SHORTEST && length <= LONGEST) return length;
  throw new PairstopError(
    'PS_LENGTH',
    `${JSON.stringify(text)} is no length of a piece; allowed: above 0, up to 100 m`,
  );
}

export function flawsOf(texts: readonly string[], units: Units): readonly (readonly [Um, Um])[] {
  const flaws = texts.map((text) => {
    const span = tryParseSpan(text, units);
    if (span !== null) return span;
    throw new PairstopError(
      'PS_USAGE',
      `--flaw: given ${JSON.stringify(text)}; allowed: from and to, as in "20 to 23 1/2"`,
    );
  });
  return joined(flaws, LONGEST);
}

export function endsOf(text: string | undefined): PieceEnds | undefined {
  if (text === undefined) return undefined;
  const ends = text.split(',').map((one) => one.trim());
  const known = (end: string | undefined): end is PieceEnd =>
    end === 'raw' || end === 'sawn' || end === 'mitred';
  const [left, right] = ends;
  if (ends.length === 2 && known(left) && known(right)) return [left, right];
  throw new PairstopError(
    'PS_USAGE',
    `--ends: given ${JSON.stringify(text)}; allowed: left and right, each raw, sawn or mitred, as in "mitred,raw"`,
  );
}

export function countOf(text: string | undefined): number | undefined {
  if (text === undefined) return undefined;
  const count = Number(text);
  if (Number.isSafeInteger(count) && count >= 0 && text.trim() !== '') return count;
  throw new PairstopError('PS_USAGE', `given ${JSON.stringify(text)}; allowed: a whole number from 0`);
}

export function moneyOf(text: string | undefined): number | undefined {
  if (text === undefined) return undefined;
  if (/^\d{1,8}(\.\d{1,2})?$/.test(text)) return Math.round(Number(text) * 100);
  throw new PairstopError('PS_USAGE', `--value: given ${JSON.stringify(text)}; allowed: money, as in 4.50`);
}

/** JSON begins with a brace; anything else is a table. */
function isJson(bytes: Uint8Array): boolean {
  const start = new TextDecoder()
    .decode(bytes.subarray(0, 64))
    .replace(/^\uFEFF/, '')
    .trimStart();
  return start.startsWith('{');
}

/** The units a length was given in: those it is written with, or else those said to hold for bare numbers. */
export function givenIn(text: string, given: RackArguments): Units {
  return unitsIn(text) ?? unitsOf(given);
}

/** Pieces from `pairstop/rack@1` or CSV. */
export async function readRack(path: string, units: Units): Promise<RackTable> {
  const { readRackCsv } = await import('../../documents/rack/csv.js');
  const { checkRackDocument } = await import('../../documents/rack/schema.js');
  const bytes = await readInput(path, BATCH_BYTES);
  if (!isJson(bytes)) return readRackCsv(path, bytes, units);
  const document = parseJson(bytes, { bytes: BATCH_BYTES, values: BATCH_VALUES });
  const rows = checkRackDocument(document);
  return { rows, units: Reflect.get(document as object, 'units') === 'in' ? 'in' : 'mm' };
}

/** What was counted: a rack document, a table, or an id (or a label's code) a line. */
export async function readCount(path: string, units: Units): Promise<readonly CountedRow[]> {
  const { readCountCsv } = await import('../../documents/rack/csv.js');
  const { checkRackDocument } = await import('../../documents/rack/schema.js');
  const bytes = await readInput(path, BATCH_BYTES);
  if (isJson(bytes)) {
    const rows = checkRackDocument(parseJson(bytes, { bytes: BATCH_BYTES, values: BATCH_VALUES }));
    return rows.map(({ id, moulding, length, place }) => ({
      id,
      moulding,
      length,
      ...(place !== null && { place }),
    }));
  }
  const text = new TextDecoder().decode(bytes).replace(/^\uFEFF/, '');
  const lines = text.split(/\r?\n/).map((line) => line.replace(/(^|\s)#.*$/, '').trim());
  const first = lines.find((line) => line !== '') ?? '';
  if (/(^|[,;\t])\s*id\s*([,;\t]|$)/i.test(first)) return readCountCsv(path, bytes, units);
  return lines.filter((line) => line !== '').map((line) => ({ id: pieceIdOf(line) }));
}
