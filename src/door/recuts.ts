/** Recuts that were made of a batch's plan through the door, kept as long as the batch. */
import { createHash } from 'node:crypto';
import { promisify } from 'node:util';
import { gunzip, gzip } from 'node:zlib';
import { PairstopError } from '../errors.js';
import type { Session } from '../queue/client/session.js';
import type { KeptBeside } from '../rack/store/rack-store.js';
import { show } from '../read/problems.js';

const ID_LENGTH = 16;
const pack = promisify(gzip);
const unpack = promisify(gunzip);

function keyOf(shop: string, batch: string, recut: string): string {
  return `${shop}:door:recut:${encodeURIComponent(batch)}:${recut}`;
}

/** As it is kept. The same recut has the same id. */
export async function keptRecut(
  shop: string,
  batch: string,
  json: string | Buffer,
  retention: number,
): Promise<{ readonly id: string; readonly beside: KeptBeside }> {
  const id = createHash('sha256').update(json).digest('base64url').slice(0, ID_LENGTH);
  return {
    id,
    beside: { key: keyOf(shop, batch, id), value: await pack(json), lasts: Math.round(retention) },
  };
}

export class RecutBook {
  readonly #session: Session;
  readonly #retention: number;

  constructor(session: Session, retention: number) {
    this.#session = session;
    this.#retention = Math.round(retention);
  }

  /** Its id. */
  async keep(shop: string, batch: string, json: Buffer): Promise<string> {
    const { id, beside } = await keptRecut(shop, batch, json, this.#retention);
    await this.#session.ask('keeping a recut', () =>
      this.#session.redis.set(beside.key, beside.value, 'PX', beside.lasts),
    );
    return id;
  }

  /** Throws PS_UNKNOWN. */
  async find(shop: string, batch: string, recut: string): Promise<Buffer> {
    const packed = await this.#session.ask('fetching a recut', () =>
      this.#session.redis.getBuffer(keyOf(shop, batch, recut)),
    );
    if (packed === null)
      throw new PairstopError('PS_UNKNOWN', `no recut ${show(recut)} of this batch is known`);
    return unpack(packed);
  }
}
