/** The commands for running the service: workers, retry, purge, audit, export, import. */
import type { Command } from 'commander';
import { PairstopError } from '../../errors.js';
import type { WorkKind } from '../../processes/solver/tasks.js';
import type { Client } from '../../queue/client/client.js';
import type { Session } from '../../queue/client/session.js';
import { answer, EXIT_DONE, EXIT_OTHER } from '../ending.js';
import { readInput, writeOutput } from '../files.js';
import { lostText, moment, workersText } from '../queue-text.js';
import { shown } from '../shown.js';

/** Bytes of a shop that is read whole; larger ones are restored from Redis's own files. */
const SHOP_MOST = 1_000_000_000;

interface Common {
  readonly json?: boolean;
}

interface OfWork extends Common {
  readonly compare?: boolean;
}

function workOf({ compare }: OfWork): WorkKind {
  return compare === true ? 'compare' : 'plan';
}

/** A client, and a session for what the client does not offer. */
async function withShop(work: (client: Client, session: Session) => Promise<number>): Promise<number> {
  const { workerSettings } = await import('../../queue/settings.js');
  const { createClient } = await import('../../queue/client/client.js');
  const { Session: AsSession } = await import('../../queue/client/session.js');
  const { redis, prefix, retention, who } = workerSettings(process.env);
  const options = { connection: redis, prefix, retention, who, patience: 10_000 };
  const client = createClient(options);
  const session = new AsSession(options);
  try {
    return await work(client, session);
  } finally {
    await Promise.all([client.close(), session.close()]);
  }
}

async function workers({ json }: Common): Promise<number> {
  return withShop(async (client) => {
    const { workers: living, lost } = await client.service();
    const text = `${[...workersText(living), ...lostText(lost)].join('\n')}\n`;
    return answer('workers', json, EXIT_DONE, { living, lost }, text);
  });
}

async function retry(id: string, options: OfWork): Promise<number> {
  const work = workOf(options);
  return withShop(async (client) => {
    const { state } = await client.status(id, { work });
    if (state !== 'failed' && state !== 'cancelled') {
      return answer(
        'retry',
        options.json,
        EXIT_OTHER,
        { id, state },
        `${shown(id)}: ${state}, not tried again\n`,
      );
    }
    const submitted = await client.submit(await client.batch(id, { work }), { work });
    const { state: now, outcome } = submitted;
    return answer(
      'retry',
      options.json,
      EXIT_DONE,
      { id, state: now, outcome },
      `${shown(id)}: ${now} (${outcome})\n`,
    );
  });
}

interface PurgeOptions extends OfWork {
  readonly failedJobs?: boolean;
}

async function purge(ids: readonly string[], options: PurgeOptions): Promise<number> {
  if (ids.length === 0 && options.failedJobs !== true) {
    throw new PairstopError('PS_USAGE', 'purge: given nothing; allowed: ids of batches, or --failed-jobs');
  }
  const { jobIdOf } = await import('../../queue/names.js');
  const { clearFailedJobs, purgeBatch } = await import('../../queue/client/upkeep.js');
  return withShop(async (_client, session) => {
    const { store, queues, who } = session;
    const lines: string[] = [];
    const outcomes: Record<string, string> = {};
    for (const id of ids) {
      const purged = await session.ask('purging', () =>
        purgeBatch(store, queues, jobIdOf(id, workOf(options)), who),
      );
      outcomes[id] = purged;
      const why = purged === 'purged' || purged === 'unknown' ? purged : `${purged}, kept; cancel it first`;
      lines.push(`${shown(id)}: ${why}`);
    }
    let cleared = 0;
    if (options.failedJobs === true) {
      cleared = await session.ask('clearing failed jobs', () => clearFailedJobs(queues));
      lines.push(`${cleared} failed jobs cleared from the queues`);
    }
    const all = Object.values(outcomes).every((one) => one === 'purged');
    return answer(
      'purge',
      options.json,
      all ? EXIT_DONE : EXIT_OTHER,
      { batches: outcomes, cleared },
      `${lines.join('\n')}\n`,
    );
  });
}

async function audit(
  id: string | undefined,
  { json, limit = '50' }: Common & { readonly limit?: string },
): Promise<number> {
  const most = Number(limit);
  if (!Number.isInteger(most) || most < 1 || most > 10_000) {
    throw new PairstopError(
      'PS_USAGE',
      `--limit: given ${JSON.stringify(limit)}; allowed: a whole number from 1 to 10000`,
    );
  }
  const { auditTrail } = await import('../../queue/client/upkeep.js');
  return withShop(async (_client, session) => {
    const entries = await session.ask('reading the audit trail', () =>
      auditTrail(session.redis, session.keys, most, id),
    );
    const lines = entries.map(({ at, what, batch, run, piece, who }) => {
      const nth = run !== null && run > 1 ? `, run ${run}` : '';
      const about = [piece, batch].flatMap((one) => (one === null || one === '' ? [] : [shown(one)]));
      return `${moment(at)} ${[shown(what), ...about].join(' ')}${nth} by ${shown(who)}`;
    });
    return answer(
      'audit',
      json,
      EXIT_DONE,
      { entries },
      lines.length === 0 ? 'nothing\n' : `${lines.join('\n')}\n`,
    );
  });
}

async function exportTo(path: string, { json }: Common): Promise<number> {
  const { exportShop } = await import('../../queue/client/shop.js');
  return withShop(async (client, session) => {
    await client.service();
    const lines: string[] = [];
    await session.ask('exporting', async () => {
      lines.length = 0;
      for await (const line of exportShop(session)) lines.push(line);
    });
    await writeOutput(path, lines.join(''));
    const keys = lines.length - 2;
    if (path === '-') return EXIT_DONE;
    return answer('export', json, EXIT_DONE, { file: path, keys }, `${keys} keys written to ${path}\n`);
  });
}

async function importFrom(path: string, { json }: Common): Promise<number> {
  const { importShop } = await import('../../queue/client/shop.js');
  const bytes = await readInput(path, SHOP_MOST);
  return withShop(async (client, session) => {
    const { keys, unfinished } = await importShop(session, client, Buffer.from(bytes).toString('utf8'));
    const text = `${keys} keys read; ${unfinished} unfinished batches are on the queue again\n`;
    return answer('import', json, EXIT_DONE, { keys, unfinished }, text);
  });
}

/** Asks no Redis: it may be that nobody has rights yet. */
async function rights({ json }: Common): Promise<number> {
  const { workerSettings } = await import('../../queue/settings.js');
  const { rightsFor } = await import('../../queue/redis/rights.js');
  const rules = rightsFor(workerSettings(process.env).prefix);
  return answer('rights', json, EXIT_DONE, { rules }, `ACL SETUSER pairstop on >PASSWORD ${rules}\n`);
}

const JSON_TEXT = 'as JSON';
const COMPARE_TEXT = 'its comparison instead of its plan';

export function addOperateCommands(program: Command, end: (code: number) => void): void {
  program
    .command('workers')
    .summary('the workers of this shop, living and lost')
    .option('--json', JSON_TEXT)
    .action(async (options: Common) => end(await workers(options)));
  program
    .command('retry')
    .summary('try a failed or cancelled batch again')
    .description('Tries a batch again that failed or was cancelled. Exit 1: it is in another state.')
    .argument('<id>', "the batch's id")
    .option('--compare', COMPARE_TEXT)
    .option('--json', JSON_TEXT)
    .action(async (id: string, options: OfWork) => end(await retry(id, options)));
  program
    .command('purge')
    .summary('forget batches that have ended')
    .description(
      'Forgets batches that have ended, with their plans. Exit 1: some are unknown, or have not ended.',
    )
    .argument('[ids...]', 'ids of batches')
    .option('--failed-jobs', 'also clear failed jobs from the queues; records and plans stay')
    .option('--compare', 'their comparisons instead of their plans')
    .option('--json', JSON_TEXT)
    .action(async (ids: string[], options: PurgeOptions) => end(await purge(ids, options)));
  program
    .command('audit')
    .summary('who submitted, revised, cancelled and purged what, and who changed the rack')
    .argument('[id]', "only this batch's entries")
    .option('--limit <number>', 'at most so many entries, the newest', '50')
    .option('--json', JSON_TEXT)
    .action(async (id: string | undefined, options: Common & { limit?: string }) =>
      end(await audit(id, options)),
    );
  program
    .command('rights')
    .summary('the least rights a user of Redis needs for this shop')
    .description("Prints the line for redis-cli that makes such a user, for this shop's PAIRSTOP_PREFIX.")
    .option('--json', JSON_TEXT)
    .action(async (options: Common) => end(await rights(options)));
  program
    .command('export')
    .summary('write a whole shop to a file: batches, plans, rack')
    .argument('<file>', 'the file, or - for standard output')
    .option('--json', JSON_TEXT)
    .action(async (path: string, options: Common) => end(await exportTo(path, options)));
  program
    .command('import')
    .summary('load an exported shop into an empty one')
    .description('Loads a shop into an empty prefix; unfinished batches are submitted again.')
    .argument('<file>', 'the file, or - for standard input')
    .option('--json', JSON_TEXT)
    .action(async (path: string, options: Common) => end(await importFrom(path, options)));
}
