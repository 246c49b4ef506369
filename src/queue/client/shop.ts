/**
 * A whole shop as text, to be kept or taken elsewhere: JSON, one key a line, so that it loads into any version of Redis.
 *
 *     {"schema": "pairstop/shop@1", "version": "0.1.0", "prefix": "pairstop", "at": "2026-11-26T17:00:00.000Z"}
 *     ["store:b-lakeside-spring", "hash", 2591999000, {"state": "ZG9uZQ==", …}]     name, kind, ms to live or -1, base64
 *     {"keys": 1, "digest": "…"}                                                    SHA-256 of all lines before, in hex
 *
 * The queues are not in it: what is unfinished is put on them again from its record, or from the job that carried it.
 */
import { createHash } from 'node:crypto';
import type { ChainableCommander } from 'ioredis';
import * as z from 'zod';
import { PairstopError } from '../../errors.js';
import { documentOf } from '../../processes/documents.js';
import { JOB_SCHEMA, openEnvelope } from '../../processes/envelope.js';
import { VERSION } from '../../version.js';
import { batchQueue, globFor, partQueue, SMALL_PARTS, URGENCIES, workOf } from '../names.js';
import { redisNow } from '../redis/clock.js';
import type { Client } from './client-api.js';
import type { Session } from './session.js';

export const SHOP_SCHEMA = 'pairstop/shop@1';

const headSchema = z.object({ schema: z.literal(SHOP_SCHEMA), prefix: z.string() });
const footSchema = z.object({ keys: z.int().min(0), digest: z.string() });
const bytes = z.base64().transform((text) => Buffer.from(text, 'base64'));
const keySchema = z.union([
  z.tuple([z.string(), z.literal('hash'), z.int(), z.record(z.string(), bytes)]),
  z.tuple([z.string(), z.literal('string'), z.int(), bytes]),
  z.tuple([z.string(), z.enum(['list', 'set']), z.int(), z.array(bytes)]),
  z.tuple([z.string(), z.literal('zset'), z.int(), z.array(z.tuple([bytes, z.string()]))]),
  z.tuple([z.string(), z.literal('stream'), z.int(), z.array(z.tuple([z.string(), z.array(bytes)]))]),
]);
type ShopKey = z.output<typeof keySchema>;

const SCANNED = 1_000;
const NOT_KEPT: readonly string[] = ['workers', 'heartbeats', 'errors'];

function base64(value: Buffer): string {
  return value.toString('base64');
}

function isQueueKey(name: string): boolean {
  const queues = [...URGENCIES.flatMap((urgency) => [batchQueue(urgency), partQueue(urgency)]), SMALL_PARTS];
  return queues.some((queue) => name.startsWith(`${queue}:`));
}

async function namesOf({ redis, prefix }: Session): Promise<string[]> {
  const start = `${prefix}:`;
  const found = new Set<string>();
  for await (const keys of redis.scanStream({ match: `${globFor(start)}*`, count: SCANNED })) {
    for (const key of keys as string[]) found.add(key.slice(start.length));
  }
  return [...found].filter((name) => !isQueueKey(name) && !NOT_KEPT.includes(name)).sort();
}

async function contentOf({ redis }: Session, key: string, kind: string): Promise<unknown> {
  switch (kind) {
    case 'hash': {
      const fields = Object.entries(await redis.hgetallBuffer(key));
      return Object.fromEntries(fields.map(([field, value]) => [field, base64(value)]));
    }
    case 'string':
      return base64((await redis.getBuffer(key)) ?? Buffer.alloc(0));
    case 'list':
      return (await redis.lrangeBuffer(key, 0, -1)).map(base64);
    case 'set':
      return (await redis.smembersBuffer(key)).map(base64);
    case 'zset': {
      const flat = await redis.zrangeBuffer(key, '0', '-1', 'WITHSCORES');
      return flat.flatMap((member, i) => (i % 2 === 0 ? [[base64(member), String(flat[i + 1])]] : []));
    }
    case 'stream': {
      const entries = await redis.xrangeBuffer(key, '-', '+');
      return entries.map(([id, fields]) => [id.toString(), fields.map(base64)]);
    }
    default:
      throw new PairstopError('PS_STORE', `${key} holds a ${kind}, which is none of ours`);
  }
}

/** A batch nobody has taken yet has its content only in its job: it goes into the record's place for the job's payload. */
async function payloadFor({ redis, keys }: Session, name: string): Promise<string | null> {
  const jobId = name.slice('store:'.length);
  for (const urgency of URGENCIES) {
    const data = await redis.hget(keys.job(urgency, jobId), 'data');
    if (data !== null && !data.includes('"stored"')) return data;
  }
  return null;
}

/** Lines of the shop, each with its line feed. Each record is as it was at one moment; all of them together are not. */
export async function* exportShop(session: Session): AsyncGenerator<string, number> {
  const { redis, prefix } = session;
  const digest = createHash('sha256');
  const line = (value: unknown): string => {
    const text = `${JSON.stringify(value)}\n`;
    digest.update(text);
    return text;
  };
  const at = new Date(await redisNow(redis)).toISOString();
  yield line({ schema: SHOP_SCHEMA, version: VERSION, prefix, at });
  let keys = 0;
  for (const name of await namesOf(session)) {
    const key = `${prefix}:${name}`;
    const kind = await redis.type(key);
    // Expired since.
    if (kind === 'none') continue;
    const content = await contentOf(session, key, kind);
    if (name.startsWith('store:') && kind === 'hash') {
      const fields = content as Record<string, string>;
      if (fields.batch === undefined) {
        const payload = await payloadFor(session, name);
        if (payload !== null) fields['import:payload'] = base64(Buffer.from(payload));
      }
    }
    yield line([name, kind, await redis.pttl(key), content]);
    keys += 1;
  }
  yield `${JSON.stringify({ keys, digest: digest.digest('hex') })}\n`;
  return keys;
}

function refuse(what: string): PairstopError {
  return new PairstopError('PS_FILE', `not a whole shop as "pairstop export" writes it: ${what}`);
}

function readShop(text: string): readonly ShopKey[] {
  const lines = text.trimEnd().split('\n');
  const parse = (line: string | undefined): unknown => {
    try {
      return JSON.parse(line ?? '');
    } catch {
      throw refuse('a line that is no JSON');
    }
  };
  if (!headSchema.safeParse(parse(lines[0])).success) throw refuse(`its first line is no ${SHOP_SCHEMA}`);
  const foot = footSchema.safeParse(parse(lines.at(-1))).data;
  if (foot === undefined || foot.keys !== lines.length - 2) throw refuse('its end is missing');
  const digest = createHash('sha256');
  for (const line of lines.slice(0, -1)) digest.update(`${line}\n`);
  if (digest.digest('hex') !== foot.digest) throw refuse('it has been altered or cut');
  return lines.slice(1, -1).map((line, i) => {
    const { data } = keySchema.safeParse(parse(line));
    if (data === undefined) throw refuse(`line ${i + 2}`);
    return data;
  });
}

function put(pipeline: ChainableCommander, key: string, [, kind, , content]: ShopKey): void {
  switch (kind) {
    case 'hash': {
      const fields = Object.entries(content).filter(([field]) => field !== 'import:payload');
      pipeline.hset(key, ...fields.flat());
      return;
    }
    case 'string':
      pipeline.set(key, content);
      return;
    case 'list':
      pipeline.rpush(key, ...content);
      return;
    case 'set':
      pipeline.sadd(key, ...content);
      return;
    case 'zset':
      for (const [member, score] of content) pipeline.zadd(key, score, member);
      return;
    case 'stream':
      for (const [id, fields] of content) pipeline.xadd(key, id, ...fields);
      return;
    default:
      content satisfies never;
  }
}

export interface ImportedShop {
  readonly keys: number;
  /** Batches put on the queues again. */
  readonly unfinished: number;
}

/**
 * Loads a shop into an empty prefix. Throws PS_FILE for a text that is not whole, PS_CONFLICT where the prefix has keys.
 */
export async function importShop(session: Session, client: Client, text: string): Promise<ImportedShop> {
  const shop = readShop(text);
  const { redis, prefix } = session;
  const known = await session.ask('importing', () => namesOf(session));
  if (known.length > 0) {
    throw new PairstopError(
      'PS_CONFLICT',
      `the shop "${prefix}" has ${known.length} keys already; allowed: an empty one (another PAIRSTOP_PREFIX or database)`,
    );
  }
  const again: ShopKey[] = [];
  for (const one of shop) {
    const [name, kind, ttl, content] = one;
    if (kind === 'hash' && name.startsWith('store:')) {
      const state = content.state?.toString();
      if (state === 'waiting' || state === 'running') {
        again.push(one);
        continue;
      }
    }
    const pipeline = redis.pipeline();
    put(pipeline, `${prefix}:${name}`, one);
    if (ttl > 0) pipeline.pexpire(`${prefix}:${name}`, ttl);
    const replies = (await pipeline.exec()) ?? [];
    const failed = replies.find(([error]) => error !== null)?.[0];
    if (failed) throw failed;
  }
  for (const [name, kind, , content] of again) {
    if (kind !== 'hash') continue;
    const work = workOf(name.slice('store:'.length));
    const { batch, fingerprint } = content;
    const payload = content['import:payload'];
    if (batch !== undefined && fingerprint !== undefined) {
      await client.submit(documentOf(fingerprint.toString(), batch), { work });
    } else if (payload?.includes(JOB_SCHEMA)) {
      await client.submit(openEnvelope(payload).document, { work });
    }
  }
  return { keys: shop.length, unfinished: again.length };
}
