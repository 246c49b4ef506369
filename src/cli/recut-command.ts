/** `pairstop recut`: go on after a bad cut. */
import type { Command } from 'commander';
import { frameOfRail } from '../documents/ids.js';
import type { Plan } from '../documents/plan/types.js';
import { readPlanOrRecut } from '../documents/recut/read.js';
import type { Recut } from '../documents/recut/types.js';
import { cuttingOrder } from '../documents/recut/work.js';
import { PairstopError } from '../errors.js';
import { recutBatch } from '../processes/recut-batch.js';
import { withPlanRack } from '../rack/shop-pieces.js';
import { PLAN_BYTES } from '../read/limits.js';
import { readTold, toldAs } from '../recut/told-lines.js';
import { showRecut } from '../show/recut.js';
import { EXIT_DONE, EXIT_SHORT } from './ending.js';
import { print, readInput, STANDARD, writeOutput } from './files.js';
import type { OrderInput } from './orders/order-choices.js';
import { addOrderOptions, type OrderOptions, withOrder } from './orders/order-input.js';
import { withClient } from './queue-commands.js';
import {
  addSheetOptions,
  checkSheetOutput,
  fileNames,
  type SheetOutput,
  writeSheets,
} from './sheet-output.js';

interface RecutArguments extends SheetOutput {
  readonly lost: readonly string[];
  readonly flaw: readonly string[];
  readonly reuse: readonly string[];
  readonly cutSoFar?: string;
  readonly out?: string;
  readonly json?: boolean;
  readonly fromRack?: boolean;
}

/** A line for each rail of the largest batch. */
export const TOLD_BYTES = 200 * 1024 * 1024;
/** In place of the file: nothing has been cut. */
const NOTHING = 'nothing';

const RACK_HINT = 'pairstop: what is free on the rack of the shop was not looked at; recut --from-rack does';

/** Ids with commas between, unless the whole text is the id of one rail or frame. */
export function railIdsOf(plan: Plan | Recut, given: readonly string[]): readonly string[] {
  const rails = cuttingOrder(plan);
  const known = new Set([...rails, ...rails.map(frameOfRail)]);
  return given.flatMap((text) =>
    known.has(text)
      ? [text]
      : text
          .split(',')
          .map((id) => id.trim())
          .filter((id) => id !== ''),
  );
}

function oneStandard(paths: readonly (string | undefined)[]): void {
  if (paths.filter((path) => path === STANDARD).length <= 1) return;
  throw new PairstopError('PS_USAGE', 'only one of order, plan and cut so far can come from standard input');
}

async function run(
  { batch: ordered, path }: OrderInput,
  planPath: string,
  given: RecutArguments,
): Promise<number> {
  await checkSheetOutput(given, ordered);
  const plan = readPlanOrRecut(await readInput(planPath, PLAN_BYTES));
  const standing = withPlanRack(ordered, plan);
  const told =
    given.cutSoFar === undefined
      ? null
      : given.cutSoFar === NOTHING
        ? []
        : readTold(new TextDecoder().decode(await readInput(given.cutSoFar, TOLD_BYTES)));
  const lost = railIdsOf(plan, given.lost);
  const flaws = toldAs('--flaw', given.flaw);
  const reuse = toldAs('--reuse', given.reuse);
  const mishap = { lost, told, flaws, reuse };
  const made =
    given.fromRack === true
      ? await withClient(({ rack }) => rack.recut(ordered.id, { ...mishap, work: plan }))
      : await recutBatch({ batch: standing, plan, ...mishap });
  const batch = withPlanRack(ordered, made);
  if (ordered.rack === 'shop' && given.fromRack !== true && made.buy.length + made.shortfall.length > 0) {
    process.stderr.write(`${RACK_HINT}\n`);
  }
  const text = `${JSON.stringify(made, null, 1)}\n`;
  if (given.out !== undefined) await writeOutput(given.out, text);
  const taken = await writeSheets(batch, made, given, fileNames(path, given.out));
  if (given.out !== STANDARD && !taken) await print(given.json === true ? text : showRecut(batch, made));
  return made.status === 'short' ? EXIT_SHORT : EXIT_DONE;
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
      end(await withOrder(path, given, (order) => run(order, plan, given)));
    },
  );
}
