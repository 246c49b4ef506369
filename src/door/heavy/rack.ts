/** What the rack is told of a batch: its plan is read for it, which may be long. */

import { joined } from '../../documents/rack/flaws.js';
import { PairstopError } from '../../errors.js';
import { needUm, supplyUm } from '../../lengths/exact.js';
import { parseLength } from '../../lengths/parse.js';
import { mmFromUm } from '../../lengths/units.js';
import type { Client } from '../../queue/client/client.js';
import { pieceCode } from '../../rack/names.js';
import type { ExpectedLine, RackPiece } from '../../rack/terms.js';
import { LONGEST } from '../../read/limits.js';
import type { Um } from '../../terms.js';
import { bodyIn } from '../http/read-body.js';
import { cutBody, deliveryBody } from '../openapi/rack.js';
import { storedRecut } from './calculations.js';

export interface RackTold {
  readonly id: string;
  readonly body: Uint8Array;
  /** Whom the journal names. */
  readonly who: string;
}

export function umOf(length: number | string): Um {
  const um = supplyUm(parseLength(length, 'mm'));
  if (um > 0 && um <= LONGEST) return um;
  const given = JSON.stringify(length);
  throw new PairstopError('PS_LENGTH', `length: given ${given}; allowed: above 0, up to 100 m`);
}

export function flawsOf(spans: readonly (readonly [number | string, number | string])[]): RackPiece['flaws'] {
  const flaws = spans.map(([from, to], i) => {
    const span = [supplyUm(parseLength(from, 'mm')), needUm(parseLength(to, 'mm'))] as const;
    if (span[0] < span[1]) return span;
    throw new PairstopError('PS_REQUEST', `flaws[${i}]: allowed: [from, to] with from below to`);
  });
  return joined(flaws, LONGEST);
}

export function shownPiece({ id, moulding, length, ends, place }: RackPiece) {
  return { id, code: pieceCode(id), moulding, length: mmFromUm(length), ends, place };
}

export function shownLines(lines: readonly ExpectedLine[]) {
  return lines.map((line) => ({ ...line, length: mmFromUm(line.length) }));
}

export async function cutTold(
  client: Client,
  { id, body, who }: RackTold,
  recut: string | null,
): Promise<string> {
  const { cutSoFar, run, moulding, spoiled, place, offcuts, why } = bodyIn(cutBody, body);
  if (cutSoFar !== undefined && run !== undefined) {
    throw new PairstopError(
      'PS_REQUEST',
      'run and cutSoFar: allowed: one of them, or neither for everything',
    );
  }
  const cutting = await client.rack.cut(id, {
    who,
    ...(why !== undefined && { why }),
    ...(run !== undefined && { run }),
    ...(moulding !== undefined && { moulding }),
    ...(cutSoFar !== undefined && {
      told: cutSoFar.map((text, i) => ({ path: `cutSoFar[${i}]`, text })),
    }),
    ...(spoiled !== undefined && { spoiled }),
    ...(place !== undefined && { place }),
    ...(offcuts === true && { offcuts }),
    ...(recut !== null && { recut: storedRecut(Buffer.from(recut)) }),
  });
  const { waste, offcuts: kept, ...more } = cutting;
  return JSON.stringify({ ...more, lengths: 'mm', waste: mmFromUm(waste), offcuts: kept.map(shownPiece) });
}

export async function delivered(client: Client, { id, body, who }: RackTold): Promise<string> {
  const { length, flaws, offer, count, place, close, why } = bodyIn(deliveryBody, body);
  const { received, expected, ...more } = await client.rack.receive(id, {
    who,
    ...(why !== undefined && { why }),
    ...(offer !== undefined && { offer }),
    ...(count !== undefined && { count }),
    ...(length !== undefined && { length: umOf(length) }),
    ...(flaws !== undefined && { flaws: flawsOf(flaws) }),
    ...(place !== undefined && { place }),
    ...(close === true && { close }),
  });
  return JSON.stringify({
    ...more,
    lengths: 'mm',
    received: received.map((one) => ({ ...one, length: mmFromUm(one.length) })),
    expected: shownLines(expected),
  });
}
