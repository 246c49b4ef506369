/**
 * What pooling saves: `npm run bench:night -- [--limit 30] [--only 20] [--seeds 1] [--quotes 5] [--redis URL]`; `--only quotes`.
 *
 * Pools 5, 20 and 80 orders of 2 to 12 frames in 6 mouldings, with and without a rack, against planning each alone in the
 * order of arrival, each taking the pieces it cuts. Every pooled plan is checked first. Then orders of 20
 * frames are quoted against a night of 500: in processes started for each, or with --redis by the worker that serves there.
 */
import { parseArgs } from 'node:util';
import { checkPlan } from '../src/check/check.js';
import { reportText } from '../src/check/report.js';
import { checkBatch } from '../src/documents/batch/read.js';
import type { BatchDocument } from '../src/documents/batch/schema.js';
import type { Quote } from '../src/documents/quote/schema.js';
import { compose } from '../src/night/compose.js';
import { planBatch } from '../src/processes/plan-batch.js';
import { quoteBatch } from '../src/processes/quote-batch.js';
import { createClient } from '../src/queue/client/client.js';
import { frameBatch } from './tools/batches.js';
import { rounded, table } from './tools/figures.js';
import { type Random, seeded } from './tools/random.js';

const { values } = parseArgs({
  options: {
    limit: { type: 'string', default: '30' },
    only: { type: 'string', default: '' },
    seeds: { type: 'string', default: '1' },
    quotes: { type: 'string', default: '5' },
    redis: { type: 'string' },
  },
});
const timeLimit = Number(values.limit);
const sizes = [5, 20, 80].filter((count) => values.only === '' || String(count) === values.only);

const MOULDINGS = 6;
const INCHES = 12;

/** The shop's six mouldings and what can be bought, and frames that one customer orders in one to three of them. */
const shop = frameBatch('a night', {
  frames: 1,
  mouldings: MOULDINGS,
  offers: [8, 10, 12],
  sizes: 'usual',
  timeLimit,
});

function orderOf(
  random: Random,
  id: string,
  frames: number,
  sticks: BatchDocument['sticks'],
  mouldings: number | null = null,
): BatchDocument {
  const count = mouldings ?? random.int(1, 3);
  const wanted = random.shuffled(shop.mouldings.map((moulding) => moulding.id)).slice(0, count);
  const drawn = frameBatch(id, { frames, mouldings: 1, offers: [8], sizes: 'usual', quantity: 1, timeLimit });
  return {
    ...shop,
    id,
    frames: drawn.frames.map((frame) => ({ ...frame, moulding: random.pick(wanted) })),
    sticks: sticks ?? [],
  };
}

/** Offcuts of 2 to 7 ft, some for every second order. */
function rackFor(random: Random, orders: number): NonNullable<BatchDocument['sticks']> {
  return Array.from({ length: Math.ceil(orders / 2) * 3 }, (_, i) => ({
    id: `r${i + 1}`,
    moulding: random.pick(shop.mouldings).id,
    length: random.int(2 * INCHES, 7 * INCHES),
  }));
}

function pooledOf(orders: readonly BatchDocument[]): BatchDocument {
  const members = orders.map((document) => ({ document, batch: checkBatch(document) }));
  const [only] = compose(members, () => 'night');
  if (only === undefined) throw new Error('no orders');
  return { ...only.document, options: { ...only.document.options, timeLimit } };
}

const rows: (string | number)[][] = [];
for (let seed = 1; seed <= Number(values.seeds); seed++) {
  for (const count of sizes) {
    for (const withRack of [false, true]) {
      const random = seeded(`night ${seed} ${count}`);
      const rack = withRack ? rackFor(random, count) : [];
      const orders = Array.from({ length: count }, (_, i) =>
        orderOf(random, `order-${seed}-${count}-${i + 1}`, random.int(2, 12), rack),
      );
      const document = pooledOf(orders);
      const batch = checkBatch(document);
      const began = performance.now();
      const plan = await planBatch(batch);
      const seconds = (performance.now() - began) / 1000;
      const report = checkPlan(batch, plan);
      if (!report.ok) throw new Error(reportText(report));
      const { pooling, totals } = plan;
      if (pooling?.alone == null || pooling.saved === null)
        throw new Error(`${count} orders: not all is known alone`);
      const { alone, saved, mouldings } = pooling;
      const frames = batch.frames.reduce((sum, line) => sum + line.quantity, 0);
      const proven = plan.mouldings.filter(({ proof }) => proof.status === 'optimal').length;
      const cores = mouldings.filter(({ core }) => core === 'within').length;
      rows.push([
        count,
        withRack ? `${rack.length} pieces` : 'none',
        frames,
        totals.cost.toFixed(2),
        `${proven} of ${plan.mouldings.length}`,
        alone.cost.toFixed(2),
        alone.cost === alone.bound ? 'proven' : `≥ ${alone.bound.toFixed(2)}`,
        `${rounded((100 * saved.value) / alone.cost, 1)} %`,
        `${rounded((100 * saved.least) / alone.cost, 1)} %`,
        totals.sticks,
        alone.sticks,
        `${cores} of ${mouldings.length}`,
        rounded(seconds, 1),
      ]);
    }
  }
}
if (rows.length > 0) {
  process.stdout.write(
    `${table(
      [
        'orders',
        'rack',
        'frames',
        'pooled',
        'proven',
        'alone',
        'of it',
        'saved',
        'at least',
        'sticks',
        'alone',
        'in the core',
        'seconds',
      ],
      rows,
    )}\n`,
  );
}

interface Asking {
  readonly ask: (order: BatchDocument, night: readonly BatchDocument[]) => Promise<Quote>;
  readonly end: () => Promise<void>;
}

const FRESH: Asking = {
  ask: (order, night) => quoteBatch(order, { against: 'night', night }),
  end: async () => {},
};

/** Of the service there, whose pool is empty before and after. */
async function askingAt(connection: string, night: readonly BatchDocument[]): Promise<Asking> {
  const client = createClient({ connection });
  const options = { timeLimit, pool: true };
  for (const order of night) await client.submit({ ...order, options });
  return {
    ask: (order) => client.quote(order, { against: 'night' }),
    end: async () => {
      for (const { id } of night) await client.cancel(id);
      await client.close();
    },
  };
}

const asked: (string | number)[][] = [];
const kinds = [
  { rack: false, six: false },
  { rack: true, six: false },
  { rack: false, six: true },
  { rack: true, six: true },
];
for (const { rack: withRack, six } of kinds) {
  const random = seeded('a night of 500');
  const rack = withRack ? rackFor(random, 80) : [];
  const night: BatchDocument[] = [];
  for (let frames = 0; frames < 500; ) {
    const more = Math.min(random.int(2, 12), 500 - frames);
    night.push(orderOf(random, `waits-${night.length + 1}`, more, rack));
    frames += more;
  }
  const asking = values.redis === undefined ? FRESH : await askingAt(values.redis, night);
  const took: number[] = [];
  let proven = 0;
  let width = 0;
  for (let i = 1; i <= Number(values.quotes); i++) {
    const order = orderOf(random, `asks-${i}`, 20, rack, six ? MOULDINGS : null);
    const began = performance.now();
    const { money, sure } = await asking.ask(order, night);
    took.push((performance.now() - began) / 1000);
    if (sure === 'proven') proven += 1;
    width += (money.most - money.least) / money.value / Number(values.quotes);
  }
  await asking.end();
  took.sort((a, b) => a - b);
  asked.push([
    six ? MOULDINGS : '1 to 3',
    withRack ? `${rack.length} pieces` : 'none',
    took.length,
    proven,
    `${rounded(100 * width, 1)} %`,
    rounded(took[took.length >> 1] ?? 0, 2),
    rounded(took.at(-1) ?? 0, 2),
  ]);
}
process.stdout.write(
  `\nOrders of 20 frames quoted against a night of 500 in ${MOULDINGS} mouldings\n${table(
    ['mouldings', 'rack', 'quotes', 'proven', 'least to most, mean', 'median s', 'longest s'],
    asked,
  )}\n`,
);
