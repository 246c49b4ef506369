/** How a command's options change an order: which offers may be bought, and whether impossible frames are left out. */
import { extname } from 'node:path';
import { checkBatch } from '../../documents/batch/read.js';
import type { BatchDocument } from '../../documents/batch/schema.js';
import { PairstopError } from '../../errors.js';
import { PLAN_BYTES } from '../../read/limits.js';
import { show } from '../../read/problems.js';
import type { Batch } from '../../terms.js';
import { readInput } from '../files.js';

export interface OrderInput {
  /** As typed: a file, a folder, or - for standard input. */
  readonly path: string;
  readonly document: BatchDocument;
  readonly batch: Batch;
}

/** An order as read; `placed` gives a refusal the file, line and column it comes from. */
export interface TakenOrder extends OrderInput {
  readonly placed: (error: PairstopError) => PairstopError;
}

export interface OfferChoices {
  readonly supplier?: string;
  readonly asCompared?: string;
  readonly skipImpossible?: boolean;
}

export interface OrderOptions extends OfferChoices {
  readonly mouldings?: string;
  readonly rack?: string;
  /** Files of offers, or ids of those that may be bought. */
  readonly offers?: readonly string[];
  readonly gauges?: string;
  readonly suppliers?: string;
  readonly saw?: string;
  readonly units?: string;
  readonly id?: string;
}

const CSV_ENDS: ReadonlySet<string> = new Set(['.csv', '.tsv', '.txt']);

export function isCsv(path: string): boolean {
  return CSV_ENDS.has(extname(path).toLowerCase());
}

/** `ids`: lists of offers with commas between. */
type Chosen = OfferChoices & { readonly ids?: readonly string[] };

async function known(option: string, id: string, all: readonly string[]): Promise<void> {
  if (all.includes(id)) return;
  const { nearest } = await import('../../orders/columns.js');
  const near = nearest(id, all);
  const some = `${all.slice(0, 8).join(', ')}${all.length > 8 ? ', …' : ''}`;
  const allowed =
    all.length === 0
      ? 'none; the order lists none'
      : `${near === null ? '' : `the nearest is ${near}; `}${some}`;
  throw new PairstopError('PS_USAGE', `${option}: given ${show(id)}; allowed: ${allowed}`);
}

/** An id may hold a comma, so the whole text is tried first. */
async function idsOf(texts: readonly string[], all: readonly string[]): Promise<ReadonlySet<string>> {
  const ids = texts.flatMap((text) =>
    all.includes(text)
      ? [text]
      : text
          .split(',')
          .map((id) => id.trim())
          .filter((id) => id !== ''),
  );
  for (const id of ids) await known('--offers', id, all);
  return new Set(ids);
}

/** Ids of the offers in the comparison's recommended purchases. Throws PS_PLAN, PS_USAGE. */
async function compared(
  path: string,
  batch: string,
  offers: readonly string[],
): Promise<ReadonlySet<string>> {
  const { readComparison } = await import('../../documents/comparison/read.js');
  const comparison = readComparison(await readInput(path, PLAN_BYTES));
  if (comparison.batch !== batch) {
    throw new PairstopError(
      'PS_USAGE',
      `--as-compared: given the comparison of ${show(comparison.batch)}; allowed: that of ${show(batch)}`,
    );
  }
  const ids = comparison.mouldings.flatMap(({ recommendation }) =>
    recommendation.buy.map(({ offer }) => offer),
  );
  for (const id of ids) await known('--as-compared', id, offers);
  return new Set(ids);
}

/** The order changed as the options say. Offers left out can no longer be bought; everything else stays. */
export async function choose(
  order: OrderInput,
  { ids, supplier, asCompared, skipImpossible }: Chosen,
): Promise<OrderInput> {
  const all = order.document.offers ?? [];
  const names = all.map(({ id }) => id);
  const allowed: ReadonlySet<string>[] = [];
  if (ids !== undefined && ids.length > 0) allowed.push(await idsOf(ids, names));
  if (asCompared !== undefined) allowed.push(await compared(asCompared, order.document.id, names));
  if (supplier !== undefined) {
    await known(
      '--supplier',
      supplier,
      (order.document.suppliers ?? []).map(({ id }) => id),
    );
    allowed.push(new Set(all.filter((offer) => offer.supplier === supplier).map(({ id }) => id)));
  }
  if (allowed.length === 0 && skipImpossible !== true) return order;
  const document: BatchDocument = {
    ...order.document,
    ...(allowed.length > 0 && { offers: all.filter(({ id }) => allowed.every((set) => set.has(id))) }),
    ...(skipImpossible === true && { options: { ...order.document.options, skipImpossible } }),
  };
  return { ...order, document, batch: checkBatch(document) };
}
