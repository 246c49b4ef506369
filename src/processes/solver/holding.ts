/**
 * Which batches a solver process still holds, already read. The process and its parent keep this list by the same rule,
 * so the parent knows without asking which batch need not be sent and read again.
 */

/** Most batches held, and most characters or bytes of them together. The newest is held however large it is. */
const MOST = 8;
const LARGEST = 4_000_000;

export class Holding<T> {
  readonly #held = new Map<string, { readonly size: number; readonly value: T }>();

  has(key: string): boolean {
    return this.#held.has(key);
  }

  get(key: string): T | undefined {
    return this.#held.get(key)?.value;
  }

  /** Puts a batch first, and drops those that are then too many, longest unused first. */
  keep(key: string, size: number, value: T): void {
    this.#held.delete(key);
    this.#held.set(key, { size, value });
    this.#drop();
  }

  /** After a task that failed half-way, neither side can be sure what the other holds. */
  clear(): void {
    this.#held.clear();
  }

  /** Puts a batch that is held first again. */
  use(key: string): void {
    const entry = this.#held.get(key);
    if (entry !== undefined) this.keep(key, entry.size, entry.value);
  }

  #drop(): void {
    let size = 0;
    for (const entry of this.#held.values()) size += entry.size;
    for (const [key, entry] of this.#held) {
      if (this.#held.size === 1 || (this.#held.size <= MOST && size <= LARGEST)) return;
      this.#held.delete(key);
      size -= entry.size;
    }
  }
}
