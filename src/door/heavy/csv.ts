/** An order as a spreadsheet has it, handed in as the batch it says. */

import { PairstopError } from '../../errors.js';
import { type OrderGiven, readOrderFiles } from '../../orders/order.js';
import type { WorkKind } from '../../processes/solver/tasks.js';
import type { Client } from '../../queue/client/client.js';

interface CsvGiven {
  readonly body: Uint8Array;
  readonly named: OrderGiven;
  readonly work: WorkKind;
  readonly replace: boolean;
}

/** Problems are told by line and column of what was sent. */
export async function submittedCsv(
  client: Client,
  { body, named, work, replace }: CsvGiven,
): Promise<string> {
  const order = readOrderFiles([{ name: 'body', bytes: body, table: 'frames' }], named);
  try {
    return JSON.stringify(await client.submit(order.document, { work, replace }));
  } catch (error) {
    throw error instanceof PairstopError ? order.placed(error) : error;
  }
}
