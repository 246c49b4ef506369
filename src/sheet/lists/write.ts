/** Lists as CSV and as JSON. */
import { csvText } from '../../csv/write.js';
import { moneyText } from '../../documents/money.js';
import { UM_PER_INCH } from '../../lengths/units.js';
import type { Units } from '../../terms.js';
import type { List, ListCell, ListColumn, ListKind } from './lists.js';

const UM_PER_MM = 1000;
const CENTS = 100;
/** The finest mark of a scale in inches, and how far a whole micrometre may stand from it. */
const MARKS = 128;
const OFF = 1.5 / Number(UM_PER_INCH);
/** Of an inch, where no mark is meant. */
const INCH_DECIMALS = 4;

function inUnits(um: number, units: Units): number {
  if (units === 'mm') return um / UM_PER_MM;
  const inches = um / Number(UM_PER_INCH);
  const mark = Math.round(inches * MARKS) / MARKS;
  return Math.abs(mark - inches) <= OFF ? mark : Number(inches.toFixed(INCH_DECIMALS));
}

function csvCell(cell: ListCell, { of }: ListColumn, units: Units): ListCell {
  if (typeof cell !== 'number') return cell;
  if (of === 'length') return inUnits(cell, units);
  return of === 'money' ? moneyText(cell) : cell;
}

/** Lengths as numbers in the batch's units, which the header names. */
export function listCsv(list: List, units: Units): string {
  const header = list.columns.map(({ name, of }) => (of === 'length' ? `${name} (${units})` : name));
  const rows = list.rows.map((row) => row.map((cell, c) => csvCell(cell, list.columns[c]!, units)));
  return csvText(header, rows);
}

function key(name: string): string {
  return name.replaceAll(/ (\w)/g, (_, letter: string) => letter.toUpperCase());
}

/** `pairstop/lists@1`: each list as objects; lengths are millimetres, money is units of 100 cents. */
export function listsJson(batch: string, units: Units, lists: Readonly<Record<ListKind, List>>): string {
  const entries = Object.values(lists).map(({ kind, columns, rows }) => [
    kind,
    rows.map((row) =>
      Object.fromEntries(
        row.map((cell, c) => {
          const { name, of } = columns[c]!;
          const scale = of === 'length' ? UM_PER_MM : of === 'money' ? CENTS : 1;
          return [key(name), typeof cell === 'number' ? cell / scale : cell];
        }),
      ),
    ),
  ]);
  const document = { schema: 'pairstop/lists@1', batch, units, ...Object.fromEntries(entries) };
  return `${JSON.stringify(document, null, 1)}\n`;
}
