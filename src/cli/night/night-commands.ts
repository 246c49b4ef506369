/** `pairstop night …`: the pool of batches that are planned as one. */
import type { Command } from 'commander';
import type { BatchDocument } from '../../documents/batch/schema.js';
import { PairstopError } from '../../errors.js';
import type { PoolMember } from '../../night/compose.js';
import type { NightStatus } from '../../queue/night/desk-api.js';
import { answer, EXIT_DONE, EXIT_OTHER } from '../ending.js';
import { writeOutput } from '../files.js';
import { withOrder } from '../orders/order-options.js';
import { moment, seconds } from '../queue-text.js';
import { addSheetOptions, checkSheetOutput } from '../sheet-output.js';
import { shown } from '../shown.js';
import { withClient } from '../with-client.js';
import type { PlanOutput } from '../work/plan.js';

interface Asked {
  readonly json?: boolean;
}

const MS = 1_000;
const UNSET = 'none';

function settingsText({ settings: { close, zone, atMost } }: NightStatus): string {
  const time = close === null ? 'no time of day is set' : `closes at ${close}, ${zone}`;
  return `${time}; a batch waits ${seconds(atMost * 3_600)} at most`;
}

export function nightText(status: NightStatus): string {
  const { waiting, closes, opened, nights } = status;
  const lines = [
    waiting.length === 0
      ? 'the pool is empty'
      : `${waiting.length} ${waiting.length === 1 ? 'batch waits' : 'batches wait'} since ${moment(opened)}; the pool closes at ${moment(closes)}`,
    ...waiting.map(({ id, frames, due, submitted }) => {
      const needed = due === null ? '' : `, needed by ${due}`;
      return `  ${moment(submitted)}  ${shown(id)}: ${frames} ${frames === 1 ? 'frame' : 'frames'}${needed}`;
    }),
    ...nights.map(
      ({ id, state, batches }) => `${shown(id)}: ${state}, with ${batches.map(shown).join(', ')}`,
    ),
    settingsText(status),
  ];
  return `${lines.join('\n')}\n`;
}

async function status({ json }: Asked): Promise<number> {
  return withClient(async ({ night }) => {
    const found = await night.status();
    return answer('night', json, EXIT_DONE, { ...found }, nightText(found));
  });
}

async function close({ json }: Asked): Promise<number> {
  return withClient(async ({ night }) => {
    const closed = await night.close();
    const text =
      closed === null
        ? 'nothing waits in the pool\n'
        : `${closed.night}: closed with ${closed.batches} ${closed.batches === 1 ? 'batch' : 'batches'}; its plan: pairstop result ${closed.night}\n`;
    return answer('night', json, closed === null ? EXIT_OTHER : EXIT_DONE, { closed }, text);
  });
}

interface SetArguments extends Asked {
  readonly close?: string;
  readonly zone?: string;
  readonly atMost?: string;
}

async function set({ close: time, zone, atMost, json }: SetArguments): Promise<number> {
  const hours = atMost === undefined ? undefined : Number(atMost);
  if (hours !== undefined && !(hours > 0)) {
    throw new PairstopError('PS_USAGE', `--at-most: given ${JSON.stringify(atMost)}; allowed: hours above 0`);
  }
  if (time === undefined && zone === undefined && hours === undefined) {
    throw new PairstopError('PS_USAGE', 'night set: nothing given; allowed: --close, --zone, --at-most');
  }
  const { requireClose, requireZone } = await import('../../queue/night/schedule.js');
  // A slip in the command is told before the service is asked.
  if (time !== undefined && time !== UNSET) requireClose(time);
  if (zone !== undefined) requireZone(zone);
  return withClient(async ({ night }) => {
    const found = await night.set({
      ...(time !== undefined && { close: time === UNSET ? null : time }),
      ...(zone !== undefined && { zone }),
      ...(time !== undefined && zone === undefined && time !== UNSET && (await zoneHere(night.status()))),
      ...(hours !== undefined && { atMost: hours }),
    });
    return answer('night', json, EXIT_DONE, { ...found }, `${settingsText(found)}\n`);
  });
}

/** A time without a zone is meant as it is here, unless a zone is set already. */
async function zoneHere(asked: Promise<NightStatus>): Promise<{ readonly zone?: string }> {
  const { settings } = await asked;
  if (settings.close !== null) return {};
  return { zone: Intl.DateTimeFormat().resolvedOptions().timeZone };
}

interface NightOutput extends PlanOutput {
  readonly batch?: string;
  readonly id?: string;
}

async function membersOf(paths: readonly string[]): Promise<readonly PoolMember[]> {
  const members: PoolMember[] = [];
  for (const path of paths) {
    members.push(await withOrder(path, {}, async ({ document, batch }) => ({ document, batch })));
  }
  const ids = members.map(({ batch }) => batch.id);
  const twice = ids.find((id, i) => ids.indexOf(id) !== i);
  if (twice !== undefined) {
    throw new PairstopError('PS_USAGE', `night plan: two orders have the id ${JSON.stringify(twice)}`);
  }
  return members;
}

async function planHere(paths: readonly string[], output: NightOutput): Promise<number> {
  await checkSheetOutput(output);
  const { compose } = await import('../../night/compose.js');
  const members = await membersOf(paths);
  const name = output.id ?? 'night';
  const made = compose(members, (index) => (index === 0 ? name : `${name}-${index + 1}`));
  const [only, ...others] = made;
  if (only === undefined) throw new PairstopError('PS_INTERNAL', 'a night of no orders');
  if (others.length > 0) {
    const groups = made.map(({ members: ids }) => ids.map(shown).join(', ')).join('; ');
    const why = others[0]!.document.batches?.[0]?.apart?.[0]?.why ?? '';
    throw new PairstopError(
      'PS_USAGE',
      `night plan: these orders cannot be planned as one (${why}); apart: ${groups}`,
    );
  }
  const document: BatchDocument = only.document;
  if (output.batch !== undefined) await writeOutput(output.batch, `${JSON.stringify(document, null, 1)}\n`);
  const { checkBatch } = await import('../../documents/batch/read.js');
  const { planBatch } = await import('../../processes/plan-batch.js');
  const { deliver } = await import('../work/plan.js');
  const batch = checkBatch(document);
  const began = performance.now();
  const plan = await planBatch(batch);
  if (output.json !== true) {
    process.stderr.write(`planned in ${seconds((performance.now() - began) / MS)}\n`);
  }
  return deliver(batch, plan, output, output.batch);
}

export function addNightCommands(program: Command, end: (code: number) => void): void {
  const night = program
    .command('night')
    .summary('the pool of batches that are planned as one')
    .description(
      'Batches with options.pool (submit --pool) wait until the pool closes, and are planned as one: at a time of day (night set), ' +
        'when it is closed (night close), or so many hours after the first came. Alone it says what waits. The plan of all is that of ' +
        'night-1, night-2 …; pairstop result of one of its batches says what its wood cost and what pooling saved.',
    )
    .option('--json', 'as JSON')
    .action(async (options: Asked) => end(await status(options)));
  night
    .command('status')
    .summary('what waits, and when the pool closes')
    .option('--json', 'as JSON')
    .action(async (_: Asked, command: Command) => end(await status(command.optsWithGlobals())));
  night
    .command('close')
    .summary('close the pool now; exit 1: nothing waits')
    .option('--json', 'as JSON')
    .action(async (_: Asked, command: Command) => end(await close(command.optsWithGlobals())));
  night
    .command('set')
    .summary('when the pool closes')
    .option('--close <time>', `time of day as 22:00, or ${UNSET}`)
    .option('--zone <zone>', "the time's zone, as Europe/Berlin; this machine's unless one is set")
    .option('--at-most <hours>', 'hours after which it closes in any case (24 unless set)')
    .option('--json', 'as JSON')
    .action(async (_: SetArguments, command: Command) => end(await set(command.optsWithGlobals())));
  const planning = night
    .command('plan')
    .summary('plan several orders as one, in this process')
    .argument('<orders...>', 'the orders, in the order of arrival')
    .option('--id <id>', 'what to call the plan (night unless given)')
    .option('--batch <file>', 'write the batch that all make together to a file, to check and recut by')
    .option('--out <file>', 'write the plan as JSON to a file')
    .option('--json', 'print the plan as JSON instead of the readable page');
  addSheetOptions(planning).action(async (paths: string[], _: NightOutput, command: Command) =>
    end(await planHere(paths, command.optsWithGlobals())),
  );
  for (const one of night.commands) one.exitOverride().configureHelp({ helpWidth: 100 });
}
