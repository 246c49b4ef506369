/**
 * Keys of those who may call. The secret is 256 random bits and is kept only as its SHA-256, so that whoever reads the
 * store cannot call; a slow hash is for what people think up, not for this.
 */
import { createHash, randomBytes, timingSafeEqual } from 'node:crypto';
import * as z from 'zod';
import { PairstopError } from '../../errors.js';
import type { Session } from '../../queue/client/session.js';

/** What a key may do: look, hand in and cancel, run the service. */
export const SCOPES = ['read', 'submit', 'operate'] as const;
export type Scope = (typeof SCOPES)[number];

const ID_BYTES = 6;
const SECRET_BYTES = 32;
const KEY = /^psk_([0-9a-f]{12})_([A-Za-z0-9_-]{43})$/;
/** A revoked key holds on for at most so long in other doors. */
const TRUST_MS = 1_000;

const keySchema = z.object({
  id: z.string(),
  name: z.string(),
  hash: z.string().regex(/^[0-9a-f]{64}$/),
  shop: z.string(),
  scopes: z.array(z.enum(SCOPES)),
  /** Milliseconds since 1970. */
  made: z.number(),
  ends: z.number().nullable(),
  /** Requests in ten seconds; null: what the door allows. */
  rate: z.number().nullable(),
});
export type ApiKey = z.output<typeof keySchema>;

export type NewKey = Pick<ApiKey, 'name' | 'shop' | 'scopes' | 'ends' | 'rate'>;

function hashOf(secret: string): string {
  return createHash('sha256').update(secret).digest('hex');
}

function parsed(text: string | null): ApiKey | null {
  try {
    return keySchema.safeParse(JSON.parse(text ?? '')).data ?? null;
  } catch {
    return null;
  }
}

export class KeyRing {
  readonly #session: Session;
  readonly #field: string;
  readonly #known = new Map<string, { readonly key: ApiKey | null; readonly till: number }>();
  #any: { readonly some: boolean; readonly till: number } | null = null;

  /** Keys of all shops lie under the prefix of the door itself. */
  constructor(session: Session, prefix: string) {
    this.#session = session;
    this.#field = `${prefix}:door:keys`;
  }

  /** The whole key is told here and never again. */
  async make(given: NewKey): Promise<{ readonly key: ApiKey; readonly text: string }> {
    const id = randomBytes(ID_BYTES).toString('hex');
    const secret = randomBytes(SECRET_BYTES).toString('base64url');
    const key: ApiKey = { ...given, id, hash: hashOf(secret), made: Date.now() };
    await this.#session.ask('keeping the key', () =>
      this.#session.redis.hset(this.#field, id, JSON.stringify(key)),
    );
    this.#any = null;
    return { key, text: `psk_${id}_${secret}` };
  }

  async list(): Promise<ApiKey[]> {
    const all = await this.#session.ask('listing the keys', () => this.#session.redis.hvals(this.#field));
    return all.flatMap((text) => parsed(text) ?? []).sort((a, b) => a.made - b.made);
  }

  /** False: there is no such key. */
  async revoke(id: string): Promise<boolean> {
    const gone = await this.#session.ask('revoking the key', () => this.#session.redis.hdel(this.#field, id));
    this.#known.delete(id);
    this.#any = null;
    return gone > 0;
  }

  /** Whether there is any key at all. */
  async some(): Promise<boolean> {
    if (this.#any !== null && this.#any.till > Date.now()) return this.#any.some;
    const count = await this.#session.ask('counting the keys', () => this.#session.redis.hlen(this.#field));
    this.#any = { some: count > 0, till: Date.now() + TRUST_MS };
    return count > 0;
  }

  async #find(id: string): Promise<ApiKey | null> {
    const known = this.#known.get(id);
    if (known !== undefined && known.till > Date.now()) return known.key;
    const text = await this.#session.ask('looking for the key', () =>
      this.#session.redis.hget(this.#field, id),
    );
    const key = parsed(text);
    // Of ids that stand for nothing there are as many as anyone cares to send.
    if (key === null) this.#known.delete(id);
    else this.#known.set(id, { key, till: Date.now() + TRUST_MS });
    return key;
  }

  /** The key of `Authorization: Bearer psk_…`. Throws PS_KEY, in the same words whatever is wrong with it. */
  async open(header: string | undefined): Promise<ApiKey> {
    const refused = new PairstopError('PS_KEY', 'give a key that holds, as in: Authorization: Bearer psk_…');
    const found = KEY.exec(/^Bearer +(\S+)$/i.exec(header ?? '')?.[1] ?? '');
    if (found === null) throw refused;
    const key = await this.#find(found[1]!);
    // Compared in any case, so that the time taken says nothing of which ids exist.
    const same = timingSafeEqual(
      Buffer.from(hashOf(found[2]!), 'hex'),
      Buffer.from(key?.hash ?? hashOf(''), 'hex'),
    );
    if (key === null || !same || (key.ends !== null && key.ends <= Date.now())) throw refused;
    return key;
  }
}
