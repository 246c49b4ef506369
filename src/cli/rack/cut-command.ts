/** `pairstop cut`: tells the rack what has been cut. */
import type { Command } from 'commander';
import { PairstopError } from '../../errors.js';
import { PLAN_BYTES } from '../../read/limits.js';
import { EXIT_DONE } from '../ending.js';
import { readInput } from '../files.js';
import { withClient } from '../with-client.js';
import { countOf, type RackArguments, signedOf } from './rack-input.js';
import { collect, common, type End, show } from './rack-options.js';

interface CutArguments extends RackArguments {
  readonly run?: string;
  readonly moulding?: string;
  readonly all?: boolean;
  readonly cutSoFar?: string;
  readonly spoiled: readonly string[];
  readonly recut?: string;
  readonly place?: string;
  readonly offcuts?: boolean;
}

async function cut(batch: string, given: CutArguments): Promise<number> {
  const ways = [given.run, given.all, given.cutSoFar].filter((one) => one !== undefined);
  if (ways.length !== 1) {
    throw new PairstopError('PS_USAGE', 'say what was cut: one of --all, --run <n>, --cut-so-far <file>');
  }
  const run = countOf(given.run);
  const { readPlanOrRecut } = await import('../../documents/recut/read.js');
  const { readTold } = await import('../../recut/told-lines.js');
  const { railIdsOf, TOLD_BYTES } = await import('../work/recut.js');
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
      ...(given.offcuts === true && { offcuts: true }),
      spoiled,
    });
    return show(
      client.rack,
      given,
      cutting,
      (page) => page.cutting(cutting, given.offcuts === true),
      EXIT_DONE,
      'cut',
    );
  });
}

export function addCutCommand(program: Command, end: End): void {
  common(program.command('cut').summary('tell the rack what has been cut of a batch'))
    .description(
      'Removes the cut sticks from the rack and adds the offcuts to keep. Of sticks the rack never had, those of the batch itself and what was bought for it without the rack, it takes the offcuts alone, with --offcuts.',
    )
    .argument('<batch>', "the batch's id")
    .option('--all', 'everything is cut')
    .option('--run <n>', 'this run is cut; with --moulding where several mouldings have it')
    .option('--moulding <id>', 'of this moulding alone')
    .option('--cut-so-far <file>', 'what has been cut, as recut takes it')
    .option('--spoiled <rails>', 'rails that came out bad, with commas between; may be repeated', collect, [])
    .option('--recut <file>', 'the recut that was cut, in place of the plan')
    .option('--place <place>', 'where the offcuts are put')
    .option('--offcuts', "also put the offcuts of the batch's own sticks on the rack")
    .action(async (batch: string, given: CutArguments) => end(await cut(batch, given)));
}
