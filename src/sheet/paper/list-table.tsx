/** A list as a table. */
import type { JSX } from 'preact';
import { money } from '../../text/page.js';
import { angleText } from '../../words/method.js';
import type { Words } from '../../words/words.js';
import type { List, ListCell, ListColumn } from '../lists/lists.js';

function cellText(cell: ListCell, { of, name }: ListColumn, words: Words): string {
  if (cell === null) return '';
  if (typeof cell === 'string') return cell;
  switch (of) {
    case 'length':
      return name === 'length'
        ? words.stock(cell)
        : name === 'total length'
          ? words.long(cell)
          : words.tape(cell);
    case 'money':
      return money(cell / 100);
    case 'angle':
      return angleText(cell);
    case 'count':
    case 'text':
      return String(cell);
  }
}

/** Columns with nothing in them are left out. */
export function ListTable({ list, words }: { readonly list: List; readonly words: Words }): JSX.Element {
  const shown = list.columns.flatMap((column, c) =>
    list.rows.some((row) => row[c] !== null) ? [{ column, c }] : [],
  );
  return (
    <table class="list">
      <thead>
        <tr>
          {shown.map(({ column }) => (
            <th key={column.name} scope="col" class={column.of === 'text' ? undefined : 'n'}>
              {column.name}
            </th>
          ))}
        </tr>
      </thead>
      <tbody>
        {list.rows.map((row) => (
          <tr key={row.join(' ')}>
            {shown.map(({ column, c }) => (
              <td key={column.name} class={column.of === 'text' ? undefined : 'n'}>
                {cellText(row[c]!, column, words)}
              </td>
            ))}
          </tr>
        ))}
      </tbody>
    </table>
  );
}
