/** The commands of the service: worker, submit, status, result, cancel. The queue is loaded only when one is used. */
import type { Command } from 'commander';
import { PairstopError } from '../errors.js';
import type { Client } from '../queue/client.js';
import { checkBatch } from '../read/batch.js';
import { BATCH_BYTES } from '../read/limits.js';
import { EXIT_DONE, EXIT_OTHER } from './ending.js';
import { print, readInput } from './files.js';
import { deliver, type PlanOutput } from './plan-commands.js';
import { ProgressLine } from './progress-line.js';
import { serviceText, statusText } from './queue-text.js';

const SECOND = 1_000;

async function withClient(work: (client: Client) => Promise<number>): Promise<number> {
  const { workerSettings } = await import('../queue/settings.js');
  const { createClient } = await import('../queue/client.js');
  const { redisUrl, prefix, retention } = workerSettings(process.env);
  const client = createClient({ connection: redisUrl, prefix, retention });
  try {
    return await work(client);
  } finally {
    await client.close();
  }
}

async function worker({ check }: { readonly check?: boolean }): Promise<number> {
  const { workerSettings } = await import('../queue/settings.js');
  const settings = workerSettings(process.env);
  if (check === true) {
    const { aliveHere } = await import('../queue/health.js');
    return withClient(async (client) => {
      const alive = aliveHere((await client.service()).workers);
      await print(alive ? 'a worker is alive here\n' : 'no worker is alive here\n');
      return alive ? EXIT_DONE : EXIT_OTHER;
    });
  }
  const { createLog } = await import('../queue/log.js');
  const { serveUntilStopped } = await import('../queue/serve.js');
  const code = await serveUntilStopped(settings, { log: createLog(settings.logLevel) });
  // A library's timer must not keep a stopped worker.
  process.exit(code);
}

/** Shows progress until the batch has ended. False: told to stop waiting; the batch goes on. */
async function follow(client: Client, id: string, timeout: number | undefined): Promise<boolean> {
  const line = new ProgressLine();
  const stop = new AbortController();
  const interrupt = (): void => stop.abort();
  process.once('SIGINT', interrupt).once('SIGTERM', interrupt);
  try {
    const options = { signal: stop.signal, ...(timeout === undefined ? {} : { timeout }) };
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
  partial: boolean,
  output: PlanOutput,
): Promise<number> {
  const plan = await client.result(id, { partial });
  return deliver(checkBatch(await client.batch(id)), plan, output);
}

function timeoutOf(text: string | undefined): number | undefined {
  if (text === undefined) return undefined;
  const seconds = Number(text);
  if (seconds > 0 && seconds <= 1e6) return seconds * SECOND;
  throw new PairstopError('PS_USAGE', `--timeout: given ${JSON.stringify(text)}; allowed: seconds above 0`);
}

interface SubmitOutput extends PlanOutput {
  readonly wait?: boolean;
  readonly timeout?: string;
}

async function submit(path: string, output: SubmitOutput): Promise<number> {
  const text = await readInput(path, BATCH_BYTES);
  const timeout = timeoutOf(output.timeout);
  return withClient(async (client) => {
    const { id, fingerprint, outcome, state } = await client.submit(text);
    if (output.wait !== true) {
      await print(`${id}: ${state} (${outcome}), fingerprint ${fingerprint}\n`);
      return EXIT_DONE;
    }
    if (await follow(client, id, timeout)) return deliverResult(client, id, false, output);
    process.stderr.write(`pairstop: no longer waiting; the batch goes on, see: pairstop status ${id}\n`);
    return EXIT_OTHER;
  });
}

async function status(id: string | undefined, { json }: { readonly json?: boolean }): Promise<number> {
  return withClient(async (client) => {
    if (id === undefined) {
      const service = await client.service();
      await print(json === true ? `${JSON.stringify(service, null, 1)}\n` : serviceText(service));
    } else {
      const batch = await client.status(id);
      await print(json === true ? `${JSON.stringify(batch, null, 1)}\n` : statusText(batch));
    }
    return EXIT_DONE;
  });
}

async function cancel(id: string): Promise<number> {
  return withClient(async (client) => {
    const state = await client.cancel(id);
    await print(`${id}: ${state}\n`);
    return state === 'cancelled' ? EXIT_DONE : EXIT_OTHER;
  });
}

export function addQueueCommands(program: Command, end: (code: number) => void): void {
  program
    .command('worker')
    .summary('serve the queue')
    .description(
      'Serves the queue until SIGTERM, then gives its work back. Settings come from the environment.',
    )
    .option('--check', 'only say whether a worker is alive on this machine (exit 0) or not (exit 1)')
    .action(async (options: { check?: boolean }) => end(await worker(options)));
  program
    .command('submit')
    .summary('hand a batch to the queue')
    .description('Hands a batch to the queue. The same id and content is the same job, however often.')
    .argument('<batch>', 'the batch, a JSON file, or - for standard input')
    .option('--wait', 'show progress until the plan is there, then print it as plan does')
    .option('--timeout <seconds>', 'with --wait: how long')
    .option('--out <file>', 'with --wait: write the plan as JSON to a file')
    .option('--json', 'with --wait: print the plan as JSON instead of the readable page')
    .action(async (path: string, output: SubmitOutput) => end(await submit(path, output)));
  program
    .command('status')
    .summary('how a batch, or the whole service, is doing')
    .argument('[id]', "the batch's id; without it, the service's workers and queues")
    .option('--json', 'as JSON')
    .action(async (id: string | undefined, options: { json?: boolean }) => end(await status(id, options)));
  program
    .command('result')
    .summary('fetch the plan of a batch')
    .description('Prints the plan of a batch that is done. Exit 3: stock is short, the rest is planned.')
    .argument('<id>', "the batch's id")
    .option('--partial', 'of a failed batch: the plan of the mouldings that have one')
    .option('--out <file>', 'write the plan as JSON to a file')
    .option('--json', 'print the plan as JSON instead of the readable page')
    .action(async (id: string, output: PlanOutput & { readonly partial?: boolean }) =>
      end(await withClient((client) => deliverResult(client, id, output.partial === true, output))),
    );
  program
    .command('cancel')
    .summary('end a batch that waits or runs')
    .description('Ends a batch. Exit 1: it had ended already.')
    .argument('<id>', "the batch's id")
    .action(async (id: string) => end(await cancel(id)));
}
