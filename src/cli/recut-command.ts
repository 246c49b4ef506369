/** `pairstop recut`: go on after a bad cut. */
import type { Command } from 'commander';
import { PairstopError } from '../errors.js';
import { STANDARD } from './files.js';
import { addOrderOptions, type OrderOptions, withOrder } from './orders/order-options.js';
import { addSheetOptions } from './sheet-output.js';
import type { RecutArguments } from './work/recut.js';

function oneStandard(paths: readonly (string | undefined)[]): void {
  if (paths.filter((path) => path === STANDARD).length <= 1) return;
  throw new PairstopError('PS_USAGE', 'only one of order, plan and cut so far can come from standard input');
}

function collect(value: string, before: readonly string[]): readonly string[] {
  return [...before, value];
}

export function addRecutCommand(program: Command, end: (code: number) => void): void {
  const recutting = addOrderOptions(program.command('recut'))
    .summary('go on after a bad cut')
    .description(
      'Replaces lost rails from what is left: rails already cut stay, the others move as little as possible. A flaw found at the saw is cut around, and a rail that has it in it is lost. Without --cut-so-far, everything up to the last lost rail in the order of the plan is taken as cut. Exit 3: stock is short; what can be made is planned, frames of higher priority first, then those begun.',
    )
    .argument('<plan>', 'the plan that was being cut, or the recut of it, a JSON file, or -')
    .option(
      '--lost <rails>',
      'the lost rails by id (A-101/3/top) or tag (A3T), or whole frames (A-101/3), with commas between; may be repeated',
      collect,
      [],
    )
    .option(
      '--flaw <stick:from-to>',
      'a flaw found at the saw, from the left end of the stick as the plan draws it ("r17/1:20-23 1/2"), or from its right end ("r17/1:3-6 from the right"); may be repeated',
      collect,
      [],
    )
    .option(
      '--reuse <rail>',
      'use the sound wood of a lost rail as a rack piece (A3T), and how long it is if you measured it ("A3T=14 1/2"); may be repeated',
      collect,
      [],
    )
    .option(
      '--cut-so-far <file>',
      'what has been cut, a line each: a rail or frame, "through RAIL", "stop SETTING" or "stick STICK"; or a JSON list of these; or the word nothing',
    )
    .option(
      '--from-rack',
      'also from what is free on the rack of the shop, which is reserved for this batch as the recut is made; for batches planned from it',
    )
    .option('--out <file>', 'write the recut as JSON to a file')
    .option('--json', 'print the recut as JSON instead of the readable page');
  addSheetOptions(recutting).action(
    async (path: string, plan: string, given: RecutArguments & OrderOptions) => {
      oneStandard([path, plan, given.cutSoFar]);
      end(
        await withOrder(path, given, async (order) => {
          const { recutOrder } = await import('./work/recut.js');
          return recutOrder(order, plan, given);
        }),
      );
    },
  );
}
