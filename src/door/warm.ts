/**
 * A program is compiled while it runs: the first orders that a process reads take ten times as long as the five
 * hundredth. So a door reads an order of its own, over and over, before it listens, and nobody's customer waits for that.
 */
import { setImmediate } from 'node:timers/promises';
import { readBatchDocument } from '../documents/batch/read.js';
import { fingerprintOf } from '../processes/envelope.js';
import { refuseUncuttable } from '../stock/refusals.js';
import { ResolvedBatch } from '../stock/resolved.js';
import { BATCH_EXAMPLE } from './openapi/examples/documents.js';

/** From there on little is gained: some 0.3 s of processor time in all. */
const ROUNDS = 400;
/** Readings between which whatever else is starting gets its turn. */
const AT_ONCE = 10;

/** As a web shop would send it: numbers, in millimetres, which other schemas read. */
const IN_MM = {
  ...BATCH_EXAMPLE,
  units: 'mm',
  mouldings: [{ id: 'ash-cap', face: 32, rabbet: 6 }],
  frames: [{ id: 'A-101', moulding: 'ash-cap', quantity: 2, width: 400, height: 500 }],
  sticks: [],
  offers: [{ id: 'ash-3m', moulding: 'ash-cap', length: 3_000, price: 23.4 }],
};

export async function warmUp(): Promise<void> {
  const texts = [BATCH_EXAMPLE, IN_MM].map((batch) => Buffer.from(JSON.stringify(batch)));
  for (let i = 0; i < ROUNDS; i++) {
    if (i % AT_ONCE === 0) await setImmediate();
    const { document, batch } = readBatchDocument(texts[i % texts.length]!);
    refuseUncuttable(new ResolvedBatch(batch));
    fingerprintOf(document, 'plan');
  }
}
