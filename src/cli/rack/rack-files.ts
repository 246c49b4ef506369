/** The rack as a file: a table in and out, the whole of it as a backup. */
import { createReadStream } from 'node:fs';
import type { Command } from 'commander';
import { PairstopError } from '../../errors.js';
import type { RackItem } from '../../queue/rack/desk-api.js';
import { plural } from '../../text/page.js';
import { EXIT_DONE } from '../ending.js';
import { STANDARD, writeOutput } from '../files.js';
import { withClient } from '../with-client.js';
import { type RackArguments, readRack, signedOf, unitsOf } from './rack-input.js';
import { common, type End, filterOf, type ListArguments, say } from './rack-options.js';

interface ExportArguments extends ListArguments {
  readonly csv?: boolean;
  readonly out?: string;
}

async function write(items: readonly RackItem[], given: ExportArguments): Promise<number> {
  const { out: path = STANDARD, csv } = given;
  const { rackCsv } = await import('../../documents/rack/csv.js');
  const { rackDocument } = await import('../../documents/rack/schema.js');
  const text = csv === true ? rackCsv(items) : `${JSON.stringify(rackDocument(items), null, 1)}\n`;
  // The byte order mark is for spreadsheets that open a file; a pipe does not need it.
  await writeOutput(path, path === STANDARD ? text.replace(/^\uFEFF/, '') : text);
  if (path === STANDARD) return EXIT_DONE;
  return say(
    given,
    { file: path, pieces: items.length },
    `${plural(items.length, 'piece')} written to ${path}\n`,
  );
}

/** Standard output holds either the document or what is said of it. */
function noFile(what: string): PairstopError {
  return new PairstopError(
    'PS_USAGE',
    `--json: given without a file; allowed: a file that ${what} is written to`,
  );
}

async function readBackupFile(path: string): Promise<string> {
  const chunks: Uint8Array[] = [];
  const source = path === STANDARD ? process.stdin : createReadStream(path);
  try {
    for await (const chunk of source)
      chunks.push(typeof chunk === 'string' ? Buffer.from(chunk) : (chunk as Uint8Array));
  } catch (error) {
    const reason = error instanceof Error ? error.message : 'no file';
    throw new PairstopError('PS_FILE', `${path} cannot be read: ${reason}`);
  }
  return Buffer.concat(chunks).toString('utf8');
}

export function addFiles(rack: Command, end: End): void {
  common(rack.command('import').summary('enter the pieces of a file'))
    .description(
      'Enters all pieces of a table (CSV: id, moulding, length, …) or of a pairstop/rack@1, or none.',
    )
    .argument('<file>', 'the file, or -')
    .action(async (path: string, given: RackArguments) => {
      const { rows, units } = await readRack(path, unitsOf(given));
      const code = await withClient(async ({ rack: desk }) => {
        await desk.add(rows, { ...signedOf(given), units, imported: true });
        return say(given, { added: rows.map(({ id }) => id) }, `${plural(rows.length, 'piece')} entered\n`);
      });
      end(code);
    });
  common(rack.command('export').summary('write what lies on the rack to a file'))
    .option('--csv', 'as a table for a spreadsheet; otherwise as pairstop/rack@1')
    .option('--out <file>', 'the file; by default standard output')
    .option('--moulding <id>', 'of this moulding alone')
    .option('--place <place>', 'at this place alone')
    .option('--all', 'also what is used up or gone')
    .action(async (given: ExportArguments) => {
      if (given.json === true && given.csv === true && (given.out ?? STANDARD) === STANDARD) {
        throw noFile('the table');
      }
      end(await withClient(async ({ rack: desk }) => write(await desk.list(filterOf(given)), given)));
    });
  rack
    .command('backup')
    .summary('write the whole rack, with its journal, to one file')
    .argument('[file]', 'the file; by default standard output', STANDARD)
    .option('--json', 'say as JSON what was written; the backup itself needs a file then')
    .action(async (path: string, given: RackArguments) => {
      if (given.json === true && path === STANDARD) throw noFile('the backup');
      const code = await withClient(async ({ rack: desk }) => {
        const lines: string[] = [];
        for await (const line of desk.backup()) lines.push(line);
        await writeOutput(path, lines.join(''));
        if (path === STANDARD) return EXIT_DONE;
        // The first line says what the file is, the last that it is whole.
        const entries = lines.length - 2;
        return say(
          given,
          { file: path, entries },
          `${plural(entries, 'entry', 'entries')} written to ${path}\n`,
        );
      });
      end(code);
    });
  common(rack.command('restore').summary('make the rack from a backup'))
    .description('Makes the rack from a backup, if the shop has none yet.')
    .argument('<file>', 'the file, or -')
    .action(async (path: string, given: RackArguments) => {
      const text = await readBackupFile(path);
      const code = await withClient(async ({ rack: desk }) => {
        const entries = await desk.restore(text);
        return say(given, { entries }, `${entries} entries restored\n`);
      });
      end(code);
    });
}
