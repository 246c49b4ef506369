/** What the rack remembers and how it is set right: history, audit, deliveries, stocktaking. */
import type { Command } from 'commander';
import { EXIT_DONE, EXIT_OTHER } from '../ending.js';
import { withClient } from '../with-client.js';
import { countOf, type RackArguments, readCount, signedOf, unitsOf } from './rack-input.js';
import { collect, common, described, type End, type PieceArguments, show } from './rack-options.js';

export function addBooks(rack: Command, end: End): void {
  common(rack.command('history').summary('what has happened to a piece'))
    .argument('<id>', 'its id, or the code of its label')
    .action(async (id: string, given: RackArguments) => {
      const code = await withClient(async ({ rack: desk }) => {
        const entries = await desk.history(id);
        return show(desk, given, { entries }, (page) => page.history(entries));
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
        return show(desk, given, report, (page) => page.audit(report), report.ok ? EXIT_DONE : EXIT_OTHER);
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
          return show(desk, given, delivery, (page) => page.delivery(delivery));
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
          return show(desk, given, count, (page) => page.count(count, settle), exit);
        });
        end(code);
      },
    );
}
