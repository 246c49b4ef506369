/** The saw, the options and what else is said once a batch: two columns, `setting` and `value`, or one row under a header. */
import { headerParts } from '../csv/header.js';
import type { CsvTable } from '../csv/read.js';
import { show } from '../read/problems.js';
import { COLUMNS, headerWord, nearest, plainWord } from './columns.js';
import { type Gathering, type RowReader, readHeader } from './table.js';

type SettingValues = Record<string, unknown>;

function put(settings: SettingValues, path: readonly string[], value: unknown): void {
  const [first, second] = path;
  if (second === undefined) settings[first!] = value;
  else settings[first!] = { ...(settings[first!] as SettingValues | undefined), [second]: value };
}

function isPairs({ header }: CsvTable): boolean {
  const [name, value] = header.cells.map(plainWord);
  return (name === 'setting' || name === 'settings') && value === 'value';
}

function pairs(
  file: string,
  { rows }: CsvTable,
  reader: RowReader,
  settings: SettingValues,
  gathering: Gathering,
): void {
  const { words, usual } = COLUMNS.settings;
  const seen = new Map<string, number>();
  for (const row of rows) {
    const [name = '', text = ''] = row.cells;
    const { word, unit } = headerParts(name, (one) => words.has(plainWord(one)));
    const column = words.get(plainWord(word));
    if (column === undefined) {
      const near = nearest(name, words.keys());
      const meant = near === null ? '' : `; the nearest is "${headerWord(words.get(near)!.path.at(-1)!)}"`;
      gathering.problems.push({
        path: '',
        given: `setting ${show(name)}`,
        allowed: `settings known here${meant}: ${usual.join(', ')}`,
        file,
        line: row.line,
      });
      continue;
    }
    const key = column.path.join('.');
    const before = seen.get(key);
    if (before !== undefined) {
      gathering.problems.push({
        path: key,
        given: `setting ${show(name)}`,
        allowed: `each setting once; line ${before} has it`,
        file,
        line: row.line,
      });
    }
    seen.set(key, row.line);
    if (text === '') continue;
    reader.take(text, { column, unit, header: name, at: 1 }, row, [], (path, value) =>
      put(settings, path, value),
    );
  }
}

function oneRow(
  file: string,
  table: CsvTable,
  reader: RowReader,
  settings: SettingValues,
  gathering: Gathering,
): void {
  const [row, another] = table.rows;
  const { columns } = readHeader(file, table.header, 'settings', gathering.problems);
  if (another !== undefined) {
    gathering.problems.push({
      path: '',
      given: 'more than one row',
      allowed: 'one row of settings below the header, or the two columns "setting" and "value"',
      file,
      line: another.line,
    });
  }
  if (row === undefined) return;
  for (const head of columns) {
    const text = row.cells[head.at] ?? '';
    if (text !== '') reader.take(text, head, row, [], (path, value) => put(settings, path, value));
  }
}

export function readSettings(
  file: string,
  table: CsvTable,
  reader: RowReader,
  settings: SettingValues,
  gathering: Gathering,
): void {
  (isPairs(table) ? pairs : oneRow)(file, table, reader, settings, gathering);
}
