/** `pairstop rack …`: the shop's memory of its wood, on the same Redis as the queue. */
import type { Command } from 'commander';
import { PairstopError } from '../../errors.js';
import { formatLength } from '../../lengths/format.js';
import { withClient } from '../with-client.js';
import { addCutCommand } from './cut-command.js';
import { addBooks } from './rack-books.js';
import { addFiles } from './rack-files.js';
import { givenIn, type RackArguments, signedOf } from './rack-input.js';
import {
  common,
  described,
  type End,
  filterOf,
  type ListArguments,
  type PieceArguments,
  piece,
  say,
  show,
} from './rack-options.js';

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
        return show(desk, given, { pieces, expected }, (page) => page.list(pieces, expected));
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
        const units = givenIn(given.length, given);
        await desk.add([{ id, moulding, length, ...more }], { ...signedOf(given), units });
        return say(given, { added: [id] }, `${id}: entered, ${formatLength(length, units)}\n`);
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
        const units = given.length === undefined ? undefined : givenIn(given.length, given);
        const item = await desk.edit(id, described(given), {
          ...signedOf(given),
          ...(units !== undefined && { units }),
        });
        return show(desk, given, item, (page) => page.list([item], []));
      });
      end(code);
    });
  common(rack.command('move').summary('say where pieces lie'))
    .argument('<ids...>', 'their ids, or the codes of their labels')
    .requiredOption('--place <place>', 'where they lie')
    .action(async (ids: string[], given: RackArguments & { place: string }) => {
      const code = await withClient(async ({ rack: desk }) => {
        await desk.move(ids, given.place, signedOf(given));
        return say(given, { moved: ids, place: given.place }, `${ids.join(', ')}: at ${given.place}\n`);
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
        return say(given, { removed: ids }, `${ids.join(', ')}: gone\n`);
      });
      end(code);
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
  addCutCommand(program, end);
}
