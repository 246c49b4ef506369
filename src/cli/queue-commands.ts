/** The commands of the service: worker, submit, status, result, cancel. The queue is loaded only when one is used. */
import type { Command } from 'commander';
import type { BatchDocument } from '../documents/batch/schema.js';
import { PairstopError } from '../errors.js';
import type { WorkKind } from '../processes/solver/tasks.js';
import type { Client } from '../queue/client/client.js';
import type { Batch, Urgency } from '../terms.js';
import { answer, EXIT_DONE, EXIT_OTHER } from './ending.js';
import type { OrderInput } from './orders/order-choices.js';
import { addOrderOptions, type OrderOptions, withOrder } from './orders/order-options.js';
import { ProgressLine } from './progress-line.js';
import { serviceText, statusText } from './queue-text.js';
import { addSheetOptions, checkSheetOutput } from './sheet-output.js';
import { withClient } from './with-client.js';
import type { ComparisonOutput } from './work/compare.js';
import type { PlanOutput } from './work/plan.js';

const SECOND = 1_000;

async function worker({
  check,
  json,
}: {
  readonly check?: boolean;
  readonly json?: boolean;
}): Promise<number> {
  const { workerSettings } = await import('../queue/settings.js');
  const settings = workerSettings(process.env);
  if (check === true) {
    const { aliveHere } = await import('../queue/record/health.js');
    return withClient(async (client) => {
      const { workers, lost } = await client.service();
      const alive = aliveHere({ living: workers, lost });
      const text = alive ? 'a worker is alive here\n' : 'no worker is alive here\n';
      return answer('worker', json, alive ? EXIT_DONE : EXIT_OTHER, { alive }, text);
    });
  }
  const { createLog } = await import('../queue/log.js');
  const { serveUntilStopped } = await import('../queue/worker/serve.js');
  return serveUntilStopped(settings, createLog(settings.logLevel));
}

/** Shows progress until the batch has ended. False: it was told to stop waiting; the batch goes on. */
async function follow(
  client: Client,
  id: string,
  work: WorkKind,
  timeout: number | undefined,
): Promise<boolean> {
  const line = new ProgressLine();
  const stop = new AbortController();
  const interrupt = (): void => stop.abort();
  process.once('SIGINT', interrupt).once('SIGTERM', interrupt);
  try {
    const options = { work, signal: stop.signal, ...(timeout === undefined ? {} : { timeout }) };
    for await (const { progress } of client.watch(id, options)) if (progress !== null) line.update(progress);
    return !stop.signal.aborted;
  } finally {
    line.stop();
    process.off('SIGINT', interrupt).off('SIGTERM', interrupt);
  }
}

async function deliverResult(
  client: Client,
  id: string,
  which: { readonly work: WorkKind; readonly revision?: number },
  partial: boolean,
  output: PlanOutput & ComparisonOutput & BatchOutput,
): Promise<number> {
  const { work, ...revision } = which;
  const { checkBatch } = await import('../documents/batch/read.js');
  const { writeOutput } = await import('./files.js');
  const kept = async (document: BatchDocument): Promise<Batch> => {
    if (output.batch !== undefined) await writeOutput(output.batch, `${JSON.stringify(document, null, 1)}\n`);
    return checkBatch(document);
  };
  if (work === 'compare') {
    const { deliverComparison } = await import('./work/compare.js');
    const comparison = await client.comparison(id, { partial, ...revision });
    return deliverComparison(await kept(await client.batch(id, which)), comparison, output);
  }
  const plan = await client.result(id, { partial, ...revision });
  if (plan.batch !== id) {
    const { deliverPart } = await import('./night/part.js');
    return deliverPart(await kept(await client.batch(plan.batch)), id, plan, output);
  }
  const { deliver } = await import('./work/plan.js');
  return deliver(await kept(await client.batch(id, which)), plan, output, output.batch);
}

function timeoutOf(text: string | undefined): number | undefined {
  if (text === undefined) return undefined;
  const seconds = Number(text);
  if (seconds > 0 && seconds <= 1e6) return seconds * SECOND;
  throw new PairstopError('PS_USAGE', `--timeout: given ${JSON.stringify(text)}; allowed: seconds above 0`);
}

interface BatchOutput {
  /** The file for the batch that the result is of. */
  readonly batch?: string;
}

interface Comparing {
  /** The command is about the batch's comparison, not its plan. */
  readonly compare?: boolean;
}

interface Revised {
  readonly revision?: string;
}

function revisionOf({ revision }: Revised): { readonly revision?: number } {
  if (revision === undefined) return {};
  if (/^[1-9]\d{0,8}$/.test(revision)) return { revision: Number(revision) };
  throw new PairstopError(
    'PS_USAGE',
    `--revision: given ${JSON.stringify(revision)}; allowed: a whole number from 1`,
  );
}

function workOf({ compare }: Comparing): WorkKind {
  return compare === true ? 'compare' : 'plan';
}

/** Who waits should know at once that nobody works; a worker may yet come, so the wait goes on. */
async function tellIfAlone(client: Client, urgency: Urgency): Promise<void> {
  const { workers } = await client.service();
  if (workers.some(({ slots }) => slots[urgency] > 0)) return;
  const of = workers.length === 0 ? 'no worker is alive' : `no worker alive serves "${urgency}"`;
  process.stderr.write(`pairstop: ${of}; waiting until one is. Start one: pairstop worker\n`);
}

interface SubmitOutput extends PlanOutput, ComparisonOutput, Comparing {
  readonly replace?: boolean;
  readonly pool?: boolean;
  readonly due?: string;
  readonly wait?: boolean;
  readonly timeout?: string;
}

/** The order with what the command says of it. */
function asked(document: BatchDocument, { pool, due }: SubmitOutput): BatchDocument {
  return {
    ...document,
    ...(due !== undefined && { due }),
    ...(pool === true && { options: { ...document.options, pool } }),
  };
}

async function submit({ document: read }: OrderInput, output: SubmitOutput): Promise<number> {
  const document = asked(read, output);
  await checkSheetOutput(output);
  const timeout = timeoutOf(output.timeout);
  const work = workOf(output);
  return withClient(async (client) => {
    const replace = output.replace === true;
    const { id, fingerprint, outcome, state, revision } = await client.submit(document, { work, replace });
    if (output.wait !== true) {
      const of = revision > 1 ? `, revision ${revision}` : '';
      const text = `${id}: ${state} (${outcome}${of}), fingerprint ${fingerprint}\n`;
      return answer('submit', output.json, EXIT_DONE, { id, state, outcome, revision, fingerprint }, text);
    }
    await tellIfAlone(client, document.options?.urgency ?? 'now');
    if (await follow(client, id, work, timeout)) return deliverResult(client, id, { work }, false, output);
    process.stderr.write(
      `pairstop: no longer waiting; the batch goes on, see: pairstop status ${id}${work === 'plan' ? '' : ' --compare'}\n`,
    );
    return EXIT_OTHER;
  });
}

async function status(
  id: string | undefined,
  { json, ...asked }: Comparing & Revised & { readonly json?: boolean },
): Promise<number> {
  return withClient(async (client) => {
    if (id === undefined) {
      const service = await client.service();
      return answer('status', json, EXIT_DONE, { ...service }, serviceText(service));
    }
    const batch = await client.status(id, { work: workOf(asked), ...revisionOf(asked) });
    return answer('status', json, EXIT_DONE, { ...batch }, statusText(batch));
  });
}

interface Cancelling extends Comparing {
  readonly replan?: boolean;
  readonly json?: boolean;
}

async function cancel(id: string, asked: Cancelling): Promise<number> {
  return withClient(async (client) => {
    const state = await client.cancel(id, { work: workOf(asked), replan: asked.replan === true });
    const exit = state === 'cancelled' ? EXIT_DONE : EXIT_OTHER;
    return answer('cancel', asked.json, exit, { id, state }, `${id}: ${state}\n`);
  });
}

export function addQueueCommands(program: Command, end: (code: number) => void): void {
  program
    .command('worker')
    .summary('serve the queue')
    .description(
      'Serves the queue until SIGTERM, then gives its work back. Settings come from the environment; where it shares a machine with a door, PAIRSTOP_WORKER_NICE=10 lets those who call the door go first.',
    )
    .option('--check', 'only say whether a worker is alive on this machine (exit 0) or not (exit 1)')
    .option('--json', 'with --check: the answer as JSON')
    .action(async (options: { check?: boolean; json?: boolean }) => end(await worker(options)));
  const submitting = addOrderOptions(program.command('submit'))
    .summary('hand a batch to the queue')
    .description(
      'Hands a batch to the queue. The same id with the same content is the same job, however often it is submitted. The batch says when: ' +
        'options.urgency (now, tonight) and options.notBefore. Exit 3, with --wait: stock is short.',
    )
    .option('--compare', 'compare its stick lengths instead of planning it')
    .option(
      '--replace',
      'other content under the same id makes room, unless it is being cut; it stays as a revision',
    )
    .option('--pool', 'wait until the pool closes, and be planned with all that waits there (see night)')
    .option('--due <date>', 'when it is needed, as 2026-12-01: what is due first is planned first')
    .option('--wait', 'show progress until the plan is there, then print it as plan does')
    .option(
      '--timeout <seconds>',
      'with --wait: stop waiting after this time, with exit 1; the batch goes on',
    )
    .option('--out <file>', 'with --wait: write the plan as JSON to a file')
    .option('--svg <file>', 'with --wait and --compare: write a chart to a file')
    .option('--json', 'print the outcome, or with --wait the plan, as JSON');
  addSheetOptions(submitting, 'with --wait: ').action(
    async (path: string, output: SubmitOutput & OrderOptions) => {
      // A slip in the command is told before the order is read.
      timeoutOf(output.timeout);
      end(await withOrder(path, output, (order) => submit(order, output)));
    },
  );
  program
    .command('status')
    .summary('how a batch, or the whole service, is doing')
    .argument('[id]', "the batch's id; without it, the service's workers and queues")
    .option('--compare', 'the status of its comparison instead of its plan')
    .option('--revision <number>', 'an earlier revision, from 1; the newest unless given')
    .option('--json', 'all that is known of it, as JSON')
    .action(async (id: string | undefined, options: Comparing & Revised & { json?: boolean }) =>
      end(await status(id, options)),
    );
  const result = program
    .command('result')
    .summary('fetch the plan of a batch')
    .description('Prints the plan of a batch that is done. Exit 3: stock is short, the rest is planned.')
    .argument('<id>', "the batch's id")
    .option('--compare', 'its comparison instead of its plan')
    .option('--revision <number>', 'an earlier revision, from 1; the newest unless given')
    .option('--partial', 'of a failed batch: the plan of the mouldings that have one; exit 3')
    .option('--out <file>', 'write the plan as JSON to a file')
    .option('--json', 'print the plan as JSON instead of the readable page')
    .option('--svg <file>', 'with --compare: write a chart to a file')
    .option(
      '--batch <file>',
      'write the batch it is of to a file, to check and recut by; of a night, that of all',
    );
  addSheetOptions(result).action(
    async (
      id: string,
      output: PlanOutput &
        ComparisonOutput &
        BatchOutput &
        Comparing &
        Revised & { readonly partial?: boolean },
    ) =>
      end(
        await withClient((client) =>
          deliverResult(
            client,
            id,
            { work: workOf(output), ...revisionOf(output) },
            output.partial === true,
            output,
          ),
        ),
      ),
  );
  program
    .command('cancel')
    .summary('end a batch that waits or runs')
    .description(
      'Ends a batch. One of a night for which the pool has closed leaves it, and the others are planned without it. Exit 0: it is ' +
        'cancelled, now or before; exit 1: it had ended otherwise.',
    )
    .argument('<id>', "the batch's id")
    .option('--compare', 'its comparison instead of its plan')
    .option('--replan', 'also out of a night that is planned and not begun; the others are planned again')
    .option('--json', 'the state it is in, as JSON')
    .action(async (id: string, options: Cancelling) => end(await cancel(id, options)));
}
