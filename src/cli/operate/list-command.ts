/** `pairstop list`: the batches there are. The queue is loaded only when it is asked. */
import type { Command } from 'commander';
import { PairstopError } from '../../errors.js';
import type { BatchPage } from '../../queue/client/list.js';
import { money } from '../../text/page.js';
import { answer, EXIT_DONE } from '../ending.js';
import { moment } from '../queue-text.js';
import { withClient } from '../with-client.js';

const AGO: Readonly<Record<string, number>> = { min: 60_000, h: 3_600_000, d: 86_400_000 };

/** A moment as people write it: a date (its beginning, UTC), a date and time, or how long ago. Milliseconds since 1970. */
export function momentOf(text: string, now = Date.now()): number {
  const ago = /^(\d{1,6})\s*(min|h|d)$/.exec(text);
  if (ago !== null) return now - Number(ago[1]) * AGO[ago[2]!]!;
  const moment = /^\d{4}-\d\d-\d\d(T\d\d:\d\d.*(Z|[+-]\d\d:\d\d))?$/.test(text)
    ? Date.parse(text)
    : Number.NaN;
  if (!Number.isNaN(moment)) return moment;
  throw new PairstopError(
    'PS_USAGE',
    `--since: given ${JSON.stringify(text.slice(0, 60))}; allowed: 2026-11-01, 2026-11-01T18:00Z, or how long ago: 3d, 12h, 30min`,
  );
}

function listText({ batches, next }: BatchPage): string {
  if (batches.length === 0) return 'no such batch\n';
  const lines = batches.map(({ id, work, state, outcome, submitted, revision, cost }) => {
    const what = [
      outcome === 'short' ? `${state} (short)` : state,
      work === 'compare' ? 'comparison' : '',
      revision > 1 ? `revision ${revision}` : '',
      cost === null ? '' : `cost ${money(cost)}`,
    ];
    return `${moment(submitted)}  ${id.padEnd(28)}  ${what.filter((part) => part !== '').join(', ')}`;
  });
  if (next !== null) lines.push(`more: pairstop list --after ${next}`);
  return `${lines.join('\n')}\n`;
}

interface BatchListArguments {
  readonly state?: string;
  readonly since?: string;
  readonly limit?: string;
  readonly after?: string;
  readonly json?: boolean;
}

async function list({ state, since, limit, after, json }: BatchListArguments): Promise<number> {
  const { STATES } = await import('../../queue/record/steps.js');
  const wanted = STATES.find((one) => one === state);
  if (state !== undefined && wanted === undefined) {
    throw new PairstopError(
      'PS_USAGE',
      `--state: given ${JSON.stringify(state)}; allowed: ${STATES.join(', ')}`,
    );
  }
  const options = {
    ...(wanted !== undefined && { state: wanted }),
    ...(since !== undefined && { since: momentOf(since) }),
    ...(limit !== undefined && { limit: Number(limit) }),
    ...(after !== undefined && { after }),
  };
  return withClient(async (client) => {
    const page = await client.list(options);
    return answer('list', json, EXIT_DONE, { ...page }, listText(page));
  });
}

export function addListCommand(program: Command, end: (code: number) => void): void {
  program
    .command('list')
    .summary('the batches there are')
    .description('Lists batches, newest first, a page at a time.')
    .option('--state <state>', 'waiting, running, done, failed or cancelled')
    .option(
      '--since <time>',
      'submitted since: 2026-11-01, a date and time with Z or an offset, or 3d, 12h, 30min',
    )
    .option('--limit <number>', 'so many on a page, at most 1000 (50)')
    .option('--after <place>', 'go on where the page before ended')
    .option('--json', 'the page as JSON')
    .action(async (options: BatchListArguments) => end(await list(options)));
}
