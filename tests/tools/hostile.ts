/** Payloads nobody should send, from a seed; never a sound one. */
import { gzipSync } from 'node:zlib';
import type { Random } from '../../bench/tools/random.js';
import { batchOf } from './batches.js';

export function nested(depth: number): unknown {
  let value: unknown = 1;
  for (let i = 0; i < depth; i++) value = i % 2 === 0 ? [value] : { a: value };
  return value;
}

const schema = 'pairstop/job@1';
/** Just over what a batch may unpack to. */
const bomb = gzipSync(Buffer.alloc(65 * 2 ** 20)).toString('base64');

export function hostilePayload(random: Random, id: string): unknown {
  const sound = JSON.parse(JSON.stringify(batchOf(id, ['ash']))) as Record<string, unknown>;
  const value = random.pick<() => unknown>([
    () => null,
    () => 'text',
    () => random.int(0, 1e9),
    () => [],
    () => ({}),
    () => ({ schema, batch: null }),
    () => ({ schema, batch: random.pick([[], 7, '', 'not json', '{"schema":']) }),
    () => ({ schema: 'pairstop/job@9', batch: sound }),
    () => ({ schema, stored: 'f'.repeat(64) }),
    () => ({ schema, stored: 'x' }),
    () => ({ schema, packed: random.pick(['', '!', Buffer.from('plain').toString('base64')]) }),
    () => ({ schema, packed: gzipSync(Buffer.alloc(random.int(1, 200_000))).toString('base64') }),
    () => ({ schema, packed: random.chance(0.1) ? bomb : bomb.slice(0, random.int(10, 5_000)) }),
    () => ({ schema, batch: nested(random.int(30, 3_000)) }),
    () => ({ schema, batch: { ...sound, [random.pick(['__proto__x', 'constructor', 'extra'])]: 1 } }),
    () => ({ schema, batch: { ...sound, frames: Array.from({ length: random.int(0, 300) }, () => null) } }),
    () => ({ schema, batch: { ...sound, options: { timeLimit: random.pick([-1, 0, 1e308, '1', null]) } } }),
    () => ({ schema, batch: { ...sound, id: 'x'.repeat(random.int(129, 5_000)) } }),
    () => ({ schema, batch: { ...sound, units: random.pick(['cm', 1, null]) } }),
    () => 'y'.repeat(random.int(1_000, 200_000)),
    // A sound batch, under a job id that is not its own.
    () => ({ schema, batch: sound }),
  ]);
  return value();
}
