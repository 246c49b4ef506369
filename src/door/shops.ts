/** A client for each shop whose keys are used here. */

import { PairstopError } from '../errors.js';
import { type Client, createClient } from '../queue/client/client.js';
import type { DoorSettings } from './settings.js';

/** How long what is known of a shop's queue is trusted. */
const DEPTH_MS = 1_000;

interface Depth {
  readonly waiting: Promise<number>;
  readonly till: number;
}

export class Shops {
  readonly #settings: DoorSettings;
  readonly #clients = new Map<string, Client>();
  readonly #depths = new Map<string, Depth>();

  constructor(settings: DoorSettings) {
    this.#settings = settings;
  }

  client(shop: string): Client {
    const known = this.#clients.get(shop);
    if (known !== undefined) return known;
    const { redis, retention, timing } = this.#settings;
    const made = createClient({ connection: redis, prefix: shop, patience: timing.patience, retention });
    this.#clients.set(shop, made);
    return made;
  }

  /** Throws PS_BUSY when as many batches wait as may. */
  async requireRoom(shop: string): Promise<void> {
    const { depth } = this.#settings;
    const waiting = await this.#waiting(shop);
    if (waiting < depth) return;
    throw new PairstopError('PS_BUSY', `${waiting} batches wait already, and no more than ${depth} may`);
  }

  #waiting(shop: string): Promise<number> {
    const known = this.#depths.get(shop);
    if (known !== undefined && known.till > Date.now()) return known.waiting;
    const waiting = this.client(shop).waiting();
    this.#depths.set(shop, { waiting, till: Date.now() + DEPTH_MS });
    waiting.catch(() => this.#depths.delete(shop));
    return waiting;
  }

  async close(): Promise<void> {
    await Promise.all([...this.#clients.values()].map((client) => client.close()));
  }
}
