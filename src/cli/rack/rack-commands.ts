/** `pairstop rack …` and `pairstop cut`: the shop's memory of its wood, on the same Redis as the queue. */
import { createReadStream } from 'node:fs';
import type { Command } from 'commander';
import { rackCsv } from '../../documents/rack/csv.js';
import { rackDocument } from '../../documents/rack/schema.js';
import { readPlanOrRecut } from '../../documents/recut/read.js';
import { PairstopError } from '../../errors.js';
import type { RackItem } from '../../queue/rack/desk-api.js';
import { PLAN_BYTES } from '../../read/limits.js';
import { readTold } from '../../recut/told.js';
import { answer, EXIT_DONE, EXIT_OTHER } from '../ending.js';
import { readInput, STANDARD, writeOutput } from '../files.js';
import { withClient } from '../queue-commands.js';
import { railIdsOf, TOLD_BYTES } from '../recut-command.js';
import {
  countOf,
  endsOf,
  flawsOf,
  lengthOf,
  moneyOf,
  type RackArguments,
  readCount,
  readRack,
  signedOf,
  unitsOf,
} from './rack-input.js';
import { RackPage } from './rack-text.js';

type End = (code: number) => void;
type Given = RackArguments & Readonly<Record<string, unknown>>;

function json(value: unknown): string {
  return `${JSON.stringify(value, null, 1)}\n`;
}

function collect(value: string, before: readonly string[]): readonly string[] {
  return [...before, value];
}

/** As JSON for a program, as a page for a person; gives the exit code. */
function say(
  given: RackArguments,
  value: object,
  page: (page: RackPage) => string,
  exit = EXIT_DONE,
  command = 'rack',
): Promise<number> {
  return answer(command, given.json, exit, { ...value }, page(new RackPage(unitsOf(given))));
}

/** Options that say who, why, in which units, and as what. */
function common(command: Command): Command {
  return command
    .option('--units <units>', 'in or mm: for lengths given without a unit, and for those printed', 'in')
    .option('--by <name>', 'who does it, for the journal; by default your user name')
    .option('--why <text>', 'why, for the journal')
    .option('--json', 'print the outcome as JSON; lengths in micrometres');
}

interface PieceArguments extends RackArguments {
  readonly moulding?: string;
  readonly length?: string;
  readonly ends?: string;
  readonly flaw: readonly string[];
  readonly value?: string;
  readonly place?: string;
  readonly flaws?: boolean;
}

/** The fields of a piece that were given, and no others. */
function described(given: PieceArguments) {
  const units = unitsOf(given);
  const ends = endsOf(given.ends);
  const value = moneyOf(given.value);
  return {
    ...(given.moulding !== undefined && { moulding: given.moulding }),
    ...(given.length !== undefined && { length: lengthOf(given.length, units) }),
    ...(ends !== undefined && { ends }),
    ...(given.flaw.length > 0 && { flaws: flawsOf(given.flaw, units) }),
    ...(given.flaws === false && { flaws: [] }),
    ...(value !== undefined && { value }),
    ...(given.place !== undefined && { place: given.place }),
  };
}

function piece(command: Command): Command {
  return common(command)
    .option('--ends <left,right>', 'its two ends, each raw, sawn or mitred; a clean end needs no end trim')
    .option('--flaw <from-to>', 'a span no rail may touch, from the left end; may be repeated', collect, [])
    .option('--value <money>', 'what using it is worth; by default its length')
    .option('--place <place>', 'where it lies');
}

interface ListArguments extends RackArguments {
  readonly moulding?: string;
  readonly place?: string;
  readonly batch?: string;
  readonly all?: boolean;
}

function filterOf({ moulding, place, batch, all }: ListArguments) {
  return {
    ...(moulding !== undefined && { moulding }),
    ...(place !== undefined && { place }),
    ...(batch !== undefined && { batch }),
    ...(all === true && { all }),
  };
}

async function write(items: readonly RackItem[], given: Given): Promise<number> {
  const path = typeof given.out === 'string' ? given.out : STANDARD;
  const text = given.csv === true ? rackCsv(items) : json(rackDocument(items));
  // The byte order mark is for spreadsheets that open a file; a pipe does not need it.
  await writeOutput(path, path === STANDARD ? text.replace(/^\uFEFF/, '') : text);
  return EXIT_DONE;
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

function addPieces(rack: Command, end: End): void {
  common(rack.command('list').summary('what lies on the rack, and what is expected'))
    .option('--moulding <id>', 'of this moulding alone')
    .option('--place <place>', 'at this place alone')
    .option('--batch <id>', 'only what is reserved or begun for this batch')
    .option('--all', 'also what is used up or gone')
    .action(async (given: ListArguments) => {
      const code = await withClient(async ({ rack: desk }) => {
        const pieces = await desk.list(filterOf(given));
        const expected = await desk.expected();
        return say(given, { pieces, expected }, (page) => page.list(pieces, expected));
      });
      end(code);
    });
  piece(rack.command('add').summary('enter a piece'))
    .description('Enters a piece. Its length is what a tape measures along the outside edge.')
    .argument('<id>', 'its id, or the code of its label')
    .requiredOption('--moulding <id>', 'the moulding it is of')
    .requiredOption('--length <length>', 'its length, as in "61 1/4" or "1550 mm"')
    .action(async (id: string, given: PieceArguments & { moulding: string; length: string }) => {
      const { moulding, length, ...more } = described(given);
      if (moulding === undefined || length === undefined)
        throw new PairstopError('PS_USAGE', '--moulding and --length are needed');
      const code = await withClient(async ({ rack: desk }) => {
        await desk.add([{ id, moulding, length, ...more }], signedOf(given));
        return say(given, { added: [id] }, () => `${id}: entered\n`);
      });
      end(code);
    });
  piece(rack.command('edit').summary('correct what is known of a piece'))
    .argument('<id>', 'its id, or the code of its label')
    .option('--moulding <id>', 'the moulding it is of')
    .option('--length <length>', 'its length')
    .option('--no-flaws', 'it has no flaw after all')
    .action(async (id: string, given: PieceArguments) => {
      const code = await withClient(async ({ rack: desk }) => {
        const item = await desk.edit(id, described(given), signedOf(given));
        return say(given, item, (page) => page.list([item], []));
      });
      end(code);
    });
  common(rack.command('move').summary('say where pieces lie'))
    .argument('<ids...>', 'their ids, or the codes of their labels')
    .requiredOption('--place <place>', 'where they lie')
    .action(async (ids: string[], given: RackArguments & { place: string }) => {
      const code = await withClient(async ({ rack: desk }) => {
        await desk.move(ids, given.place, signedOf(given));
        return say(given, { moved: ids, place: given.place }, () => `${ids.join(', ')}: at ${given.place}\n`);
      });
      end(code);
    });
  common(rack.command('remove').summary('take pieces off the rack for good'))
    .description(
      'Takes pieces off the rack: given away, broken, burnt. A batch they were promised to then lacks them.',
    )
    .argument('<ids...>', 'their ids, or the codes of their labels')
    .action(async (ids: string[], given: RackArguments) => {
      const code = await withClient(async ({ rack: desk }) => {
        await desk.remove(ids, signedOf(given));
        return say(given, { removed: ids }, () => `${ids.join(', ')}: gone\n`);
      });
      end(code);
    });
}

function addFiles(rack: Command, end: End): void {
  common(rack.command('import').summary('enter the pieces of a file'))
    .description(
      'Enters all pieces of a table (CSV: id, moulding, length, …) or of a pairstop/rack@1, or none.',
    )
    .argument('<file>', 'the file, or -')
    .action(async (path: string, given: RackArguments) => {
      const rows = await readRack(path, unitsOf(given));
      const code = await withClient(async ({ rack: desk }) => {
        await desk.add(rows, { ...signedOf(given), imported: true });
        return say(given, { added: rows.map(({ id }) => id) }, () => `${rows.length} pieces entered\n`);
      });
      end(code);
    });
  common(rack.command('export').summary('write what lies on the rack to a file'))
    .option('--csv', 'as a table for a spreadsheet; otherwise as pairstop/rack@1')
    .option('--out <file>', 'the file; by default standard output')
    .option('--moulding <id>', 'of this moulding alone')
    .option('--place <place>', 'at this place alone')
    .option('--all', 'also what is used up or gone')
    .action(async (given: ListArguments & Given) => {
      end(await withClient(async ({ rack: desk }) => write(await desk.list(filterOf(given)), given)));
    });
  rack
    .command('backup')
    .summary('write the whole rack, with its journal, to one file')
    .argument('[file]', 'the file; by default standard output', STANDARD)
    .action(async (path: string) => {
      const code = await withClient(async ({ rack: desk }) => {
        let text = '';
        for await (const line of desk.backup()) text += line;
        await writeOutput(path, text);
        return EXIT_DONE;
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
        return say(given, { entries }, () => `${entries} entries restored\n`);
      });
      end(code);
    });
}

function addBooks(rack: Command, end: End): void {
  common(rack.command('history').summary('what has happened to a piece'))
    .argument('<id>', 'its id, or the code of its label')
    .action(async (id: string, given: RackArguments) => {
      const code = await withClient(async ({ rack: desk }) => {
        const entries = await desk.history(id);
        return say(given, { entries }, (page) => page.history(entries));
      });
      end(code);
    });
  common(rack.command('audit').summary('prove the rack against its journal'))
    .description(
      'Sums up the journal, compares it with all that is derived from it, and strikes the balance of wood to the micrometre. Exit 0: it balances; exit 1: it does not.',
    )
    .action(async (given: RackArguments) => {
      const code = await withClient(async ({ rack: desk }) => {
        const report = await desk.audit();
        return say(given, report, (page) => page.audit(report), report.ok ? EXIT_DONE : EXIT_OTHER);
      });
      end(code);
    });
  common(rack.command('receive').summary('take in sticks that were bought'))
    .description(
      'Takes in what a plan has bought: all that is expected for the batch, or so much of one offer.',
    )
    .argument('<batch>', "the batch's id")
    .option('--offer <id>', 'of this offer')
    .option('--count <n>', 'how many; by default all that are expected')
    .option('--length <length>', 'their measured length, if it is not the length ordered')
    .option('--flaw <from-to>', 'a span no rail may touch; may be repeated', collect, [])
    .option('--place <place>', 'where they are put')
    .option('--close', 'the rest will not come')
    .action(
      async (
        batch: string,
        given: PieceArguments & {
          readonly offer?: string;
          readonly count?: string;
          readonly close?: boolean;
        },
      ) => {
        const { length, flaws, place } = described(given);
        const count = countOf(given.count);
        const code = await withClient(async ({ rack: desk }) => {
          const delivery = await desk.receive(batch, {
            ...signedOf(given),
            ...(given.offer !== undefined && { offer: given.offer }),
            ...(count !== undefined && { count }),
            ...(length !== undefined && { length }),
            ...(flaws !== undefined && { flaws }),
            ...(place !== undefined && { place }),
            ...(given.close === true && { close: true }),
          });
          return say(given, delivery, (page) => page.delivery(delivery));
        });
        end(code);
      },
    );
  common(rack.command('count').summary('stocktaking: what is really there'))
    .description(
      'Compares a list of what is there (ids or label codes, a line each; a table with id and perhaps moulding, length, place; or a pairstop/rack@1) with the rack, and settles the differences with --settle. Exit 1: there are differences that are not settled.',
    )
    .argument('<file>', 'the list, or -')
    .option('--moulding <id>', 'only this moulding was counted')
    .option('--place <place>', 'only this place was counted')
    .option('--settle', 'write the differences to the journal')
    .action(
      async (
        path: string,
        given: RackArguments & { moulding?: string; place?: string; settle?: boolean },
      ) => {
        const rows = await readCount(path, unitsOf(given));
        const code = await withClient(async ({ rack: desk }) => {
          const settle = given.settle === true;
          const { moulding, place } = given;
          const scope = {
            ...(moulding !== undefined && { moulding }),
            ...(place !== undefined && { place }),
          };
          const count = await desk.count(rows, { ...signedOf(given), ...scope, settle });
          const open = count.unclear.length + count.odd.length;
          const { missing, found, measured, moved } = count;
          const differs = missing.length + found.length + measured.length + moved.length;
          const exit = open + (settle ? 0 : differs) === 0 ? EXIT_DONE : EXIT_OTHER;
          return say(given, count, (page) => page.count(count, settle), exit);
        });
        end(code);
      },
    );
}

interface CutArguments extends RackArguments {
  readonly run?: string;
  readonly moulding?: string;
  readonly all?: boolean;
  readonly cutSoFar?: string;
  readonly spoiled: readonly string[];
  readonly recut?: string;
  readonly place?: string;
}

async function cut(batch: string, given: CutArguments): Promise<number> {
  const ways = [given.run, given.all, given.cutSoFar].filter((one) => one !== undefined);
  if (ways.length !== 1) {
    throw new PairstopError('PS_USAGE', 'say what was cut: one of --all, --run <n>, --cut-so-far <file>');
  }
  const run = countOf(given.run);
  const told =
    given.cutSoFar === undefined
      ? undefined
      : readTold(new TextDecoder().decode(await readInput(given.cutSoFar, TOLD_BYTES)));
  const recut =
    given.recut === undefined ? undefined : readPlanOrRecut(await readInput(given.recut, PLAN_BYTES));
  if (recut?.schema === 'pairstop/plan@1') {
    throw new PairstopError('PS_USAGE', '--recut: given a plan; allowed: a recut');
  }
  return withClient(async (client) => {
    const spoiled =
      given.spoiled.length === 0 ? [] : railIdsOf(recut ?? (await client.result(batch)), given.spoiled);
    const cutting = await client.rack.cut(batch, {
      ...signedOf(given),
      ...(run !== undefined && { run }),
      ...(given.moulding !== undefined && { moulding: given.moulding }),
      ...(told !== undefined && { told }),
      ...(recut !== undefined && { recut }),
      ...(given.place !== undefined && { place: given.place }),
      spoiled,
    });
    return say(given, cutting, (page) => page.cutting(cutting), EXIT_DONE, 'cut');
  });
}

export function addRackCommands(program: Command, end: End): void {
  const rack = program
    .command('rack')
    .summary('the wood of the shop: what lies there, what is promised, what has become of it')
    .description(
      'The rack of the shop, kept beside the queue: a journal of everything that happens to each piece. A batch with "rack": "shop" is planned from what is free.',
    );
  addPieces(rack, end);
  addFiles(rack, end);
  addBooks(rack, end);
  for (const command of rack.commands) command.exitOverride().configureHelp({ helpWidth: 100 });
  common(program.command('cut').summary('tell the rack what has been cut of a batch'))
    .description(
      'Removes the cut sticks from the rack and adds the offcuts to keep. For batches planned from the rack of the shop.',
    )
    .argument('<batch>', "the batch's id")
    .option('--all', 'everything is cut')
    .option('--run <n>', 'this run is cut; with --moulding where several mouldings have it')
    .option('--moulding <id>', 'of this moulding alone')
    .option('--cut-so-far <file>', 'what has been cut, as recut takes it')
    .option('--spoiled <rails>', 'rails that came out bad, with commas between; may be repeated', collect, [])
    .option('--recut <file>', 'the recut that was cut, in place of the plan')
    .option('--place <place>', 'where the offcuts are put')
    .action(async (batch: string, given: CutArguments) => end(await cut(batch, given)));
}
