/**
 * A shop's rack as one file: its journal, line by line, and a digest. The present is the sum of it, so nothing else is
 * kept.
 *
 *     {"schema":"pairstop/rack-backup@1"}
 *     ["1764170000000-0",{"v":1,"kind":"added",…}]
 *     …
 *     {"entries":2,"sha256":"…"}
 *
 * The digest is of all lines before the last, each with its line feed.
 */
import { createHash } from 'node:crypto';
import { PairstopError } from '../errors.js';
import { eventFrom, type JournalEntry } from './events.js';
import { type Present, sumOf } from './sum.js';

export const BACKUP_SCHEMA = 'pairstop/rack-backup@1';

export interface JournalText {
  readonly id: string;
  readonly text: string;
}

/** Line by line. */
export async function* backupLines(
  entries: AsyncIterable<JournalText>,
): AsyncGenerator<string, void, undefined> {
  const hash = createHash('sha256');
  const say = (line: string): string => {
    hash.update(line);
    return line;
  };
  let count = 0;
  yield say(`${JSON.stringify({ schema: BACKUP_SCHEMA })}\n`);
  for await (const { id, text } of entries) {
    count += 1;
    // As it stands in the journal, to the byte.
    yield say(`[${JSON.stringify(id)},${text}]\n`);
  }
  yield `${JSON.stringify({ entries: count, sha256: hash.digest('hex') })}\n`;
}

function refuse(line: number, what: string): PairstopError {
  const allowed = 'a whole file as pairstop rack backup writes it';
  return new PairstopError(
    'PS_RACK',
    `the backup cannot be used: line ${line}: ${what}; allowed: ${allowed}`,
    [{ path: `line ${line}`, given: what, allowed }],
  );
}

const ENTRY = /^\["(\d+-\d+)",(\{.*\})\]$/s;

/** The journal in a backup, and the rack it makes. Throws PS_RACK, PS_STORE for an event of a newer program. */
export function readBackup(text: string): {
  readonly entries: readonly JournalText[];
  readonly present: Present;
} {
  const lines = text.split('\n');
  if (lines.at(-1) === '') lines.pop();
  if (lines[0] !== JSON.stringify({ schema: BACKUP_SCHEMA })) throw refuse(1, 'another kind of file');
  const end = /^\{"entries":(\d+),"sha256":"([0-9a-f]{64})"\}$/.exec(lines.at(-1) ?? '');
  if (end === null || lines.length < 2) throw refuse(lines.length, 'no last line with its digest');
  const body = lines.slice(0, -1);
  const hash = createHash('sha256');
  for (const line of body) hash.update(`${line}\n`);
  if (hash.digest('hex') !== end[2] || body.length - 1 !== Number(end[1])) {
    throw refuse(lines.length, 'a digest of other lines than these');
  }
  const entries = body.slice(1).map((line, i): JournalText => {
    const [, id = '', event = ''] = ENTRY.exec(line) ?? [];
    if (id === '') throw refuse(i + 2, 'no entry of a journal');
    return { id, text: event };
  });
  const journal = entries.map(({ id, text: event }): JournalEntry => ({ id, event: eventFrom(id, event) }));
  return { entries, present: sumOf(journal) };
}
