/** How a command's options change an order: which offers may be bought, and whether impossible frames are left out. */
import { checkBatch } from '../../documents/batch/read.js';
import type { BatchDocument } from '../../documents/batch/schema.js';
import { readComparison } from '../../documents/comparison/read.js';
import { PairstopError } from '../../errors.js';
import { nearest } from '../../orders/columns.js';
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

export interface OfferChoices {
  readonly supplier?: string;
  readonly asCompared?: string;
  readonly skipImpossible?: boolean;
}

/** `ids`: lists of offers with commas between. */
type Chosen = OfferChoices & { readonly ids?: readonly string[] };

function known(option: string, id: string, all: readonly string[]): void {
  if (all.includes(id)) return;
  const near = nearest(id, all);
  const some = `${all.slice(0, 8).join(', ')}${all.length > 8 ? ', …' : ''}`;
  const allowed =
    all.length === 0
      ? 'none; the order lists none'
      : `${near === null ? '' : `the nearest is ${near}; `}${some}`;
  throw new PairstopError('PS_USAGE', `${option}: given ${show(id)}; allowed: ${allowed}`);
}

/** An id may hold a comma, so the whole text is tried first. */
function idsOf(texts: readonly string[], all: readonly string[]): ReadonlySet<string> {
  const ids = texts.flatMap((text) =>
    all.includes(text)
      ? [text]
      : text
          .split(',')
          .map((id) => id.trim())
          .filter((id) => id !== ''),
  );
  for (const id of ids) known('--offers', id, all);
  return new Set(ids);
}

/** Ids of the offers in the comparison's recommended purchases. Throws PS_PLAN, PS_USAGE. */
async function compared(
  path: string,
  batch: string,
  offers: readonly string[],
): Promise<ReadonlySet<string>> {
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
  for (const id of ids) known('--as-compared', id, offers);
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
  if (ids !== undefined && ids.length > 0) allowed.push(idsOf(ids, names));
  if (asCompared !== undefined) allowed.push(await compared(asCompared, order.document.id, names));
  if (supplier !== undefined) {
    known(
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
