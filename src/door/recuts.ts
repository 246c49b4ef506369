/** Recuts that were made of a batch's plan through the door, kept as long as the batch. */
import { createHash } from 'node:crypto';
import { promisify } from 'node:util';
import { gunzip, gzip } from 'node:zlib';
import { PairstopError } from '../errors.js';
import type { Session } from '../queue/client/session.js';
import { show } from '../read/problems.js';

const ID_LENGTH = 16;
const pack = promisify(gzip);
const unpack = promisify(gunzip);

export class RecutBook {
  readonly #session: Session;
  readonly #retention: number;

  constructor(session: Session, retention: number) {
    this.#session = session;
    this.#retention = Math.round(retention);
  }

  #key(shop: string, batch: string, recut: string): string {
    return `${shop}:door:recut:${encodeURIComponent(batch)}:${recut}`;
  }

  /** The same recut has the same id. */
  async keep(shop: string, batch: string, json: Buffer): Promise<string> {
    const id = createHash('sha256').update(json).digest('base64url').slice(0, ID_LENGTH);
    const packed = await pack(json);
    await this.#session.ask('keeping a recut', () =>
      this.#session.redis.set(this.#key(shop, batch, id), packed, 'PX', this.#retention),
    );
    return id;
  }

  /** Throws PS_UNKNOWN. */
  async find(shop: string, batch: string, recut: string): Promise<Buffer> {
    const packed = await this.#session.ask('fetching a recut', () =>
      this.#session.redis.getBuffer(this.#key(shop, batch, recut)),
    );
    if (packed === null)
      throw new PairstopError('PS_UNKNOWN', `no recut ${show(recut)} of this batch is known`);
    return unpack(packed);
  }
}
