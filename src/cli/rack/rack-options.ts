/** Options that the commands of the rack share, and how they answer. */
import type { Command } from 'commander';
import type { RackDesk } from '../../queue/rack/desk-api.js';
import { answer, EXIT_DONE } from '../ending.js';
import { endsOf, flawsOf, lengthOf, moneyOf, type RackArguments, unitsGiven, unitsOf } from './rack-input.js';
import { RackPage } from './rack-text.js';

export type End = (code: number) => void;

export function collect(value: string, before: readonly string[]): readonly string[] {
  return [...before, value];
}

/** As JSON for a program, as a line for a person; gives the exit code. */
export function say(given: RackArguments, value: object, text: string): Promise<number> {
  return answer('rack', given.json, EXIT_DONE, { ...value }, text);
}

/** As JSON for a program, as a page in the shop's units for a person; gives the exit code. */
export async function show(
  desk: RackDesk,
  given: RackArguments,
  value: object,
  page: (page: RackPage) => string,
  exit = EXIT_DONE,
  command = 'rack',
): Promise<number> {
  const text = given.json === true ? '' : page(new RackPage(given.units ?? (await desk.units())));
  return answer(command, given.json, exit, { ...value }, text);
}

/** Options that say who, why, in which units, and as what. */
export function common(command: Command): Command {
  return command
    .option(
      '--units <units>',
      'in or mm: for lengths given without a unit (in, where this is not said), and for those printed (as most pieces were entered)',
      unitsGiven,
    )
    .option('--by <name>', 'who does it, for the journal; by default your user name')
    .option('--why <text>', 'why, for the journal')
    .option('--json', 'print the outcome as JSON; lengths in micrometres');
}

export interface PieceArguments extends RackArguments {
  readonly moulding?: string;
  readonly length?: string;
  readonly ends?: string;
  readonly flaw: readonly string[];
  readonly value?: string;
  readonly place?: string;
  readonly flaws?: boolean;
}

/** The fields of a piece that were given, and no others. */
export function described(given: PieceArguments) {
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

export function piece(command: Command): Command {
  return common(command)
    .option('--ends <left,right>', 'its two ends, each raw, sawn or mitred; a clean end needs no end trim')
    .option('--flaw <from-to>', 'a span no rail may touch, from the left end; may be repeated', collect, [])
    .option('--value <money>', 'what using it is worth; by default its length')
    .option('--place <place>', 'where it lies');
}

export interface ListArguments extends RackArguments {
  readonly moulding?: string;
  readonly place?: string;
  readonly batch?: string;
  readonly all?: boolean;
}

export function filterOf({ moulding, place, batch, all }: ListArguments) {
  return {
    ...(moulding !== undefined && { moulding }),
    ...(place !== undefined && { place }),
    ...(batch !== undefined && { batch }),
    ...(all === true && { all }),
  };
}
