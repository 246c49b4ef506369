/** `pairstop quote`: what one more order adds. */
import type { Command } from 'commander';
import { AGAINST, type QuoteAgainst } from '../../documents/quote/against.js';
import type { Quote } from '../../documents/quote/schema.js';
import { PairstopError } from '../../errors.js';
import { tryParseDuration } from '../../lengths/durations.js';
import { EXIT_DONE, EXIT_SHORT } from '../ending.js';
import { print } from '../files.js';
import type { OrderInput } from '../orders/order-choices.js';
import { addOrderOptions, type OrderOptions, withOrder } from '../orders/order-options.js';
import { withClient } from '../with-client.js';

interface QuoteArguments {
  readonly against?: string;
  readonly hold?: string;
  readonly json?: boolean;
}

function againstOf(text: string): QuoteAgainst {
  const found = AGAINST.find((one) => one === text);
  if (found !== undefined) return found;
  throw new PairstopError(
    'PS_USAGE',
    `--against: given ${JSON.stringify(text)}; allowed: ${AGAINST.join(', ')}`,
  );
}

/** Milliseconds. */
function holdOf(text: string | undefined): number {
  if (text === undefined) return 0;
  const duration = tryParseDuration(text);
  if (duration !== null && duration > 0) return duration;
  throw new PairstopError(
    'PS_USAGE',
    `--hold: given ${JSON.stringify(text.slice(0, 40))}; allowed: how long, as 30min or 2 h`,
  );
}

/** What it adds to nothing is found without the queue. */
async function asked({ document }: OrderInput, against: QuoteAgainst, hold: number): Promise<Quote> {
  if (against === 'nothing' && hold === 0) {
    const { quoteBatch } = await import('../../processes/quote-batch.js');
    return quoteBatch(document);
  }
  return withClient((client) => client.quote(document, { against, hold }));
}

async function quote(order: OrderInput, against: QuoteAgainst, hold: number, json: boolean): Promise<number> {
  const found = await asked(order, against, hold);
  if (json) await print(`${JSON.stringify(found, null, 1)}\n`);
  else {
    const { checkBatch } = await import('../../documents/batch/read.js');
    const { showQuote } = await import('../../show/quote.js');
    await print(showQuote(checkBatch(order.document), found));
  }
  if (!json && hold > 0 && found.held === null) {
    await print('Nothing is held: the order takes no piece of the rack of the shop.\n');
  }
  return found.status === 'short' ? EXIT_SHORT : EXIT_DONE;
}

export function addQuoteCommand(program: Command, end: (code: number) => void): void {
  addOrderOptions(program.command('quote'))
    .summary('what one more order adds in wood, money and hours')
    .description(
      'What an order adds to what waits in the pool (night), to what is free on the rack (rack), or by itself (nothing): the difference of ' +
        'two plans, and as sure as their bounds. Reserves nothing, unless --hold asks for it. Exit 3: stock is short.',
    )
    .option('--against <what>', AGAINST.join(', '), 'night')
    .option(
      '--hold <time>',
      'hold the pieces of the rack it would take for so long, as 30min; once submitted, the order is planned from them',
    )
    .option('--json', 'the quote as JSON')
    .action(
      async (path: string, { against = 'night', hold, json, ...options }: QuoteArguments & OrderOptions) => {
        const [to, time] = [againstOf(against), holdOf(hold)];
        end(await withOrder(path, options, (order) => quote(order, to, time, json === true)));
      },
    );
}
