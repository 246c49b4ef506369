/** Lets so many through at a time, and of these so many that are not small: whoever has waited longest comes first. */

export interface TurnstileSettings {
  readonly all: number;
  /** Of all, those that are not small. */
  readonly large: number;
}

interface Waiting {
  readonly small: boolean;
  /** False: there is no way through any more. */
  readonly pass: (letIn: boolean) => void;
}

export class Turnstile {
  readonly #settings: TurnstileSettings;
  readonly #waiting: Waiting[] = [];
  #inside = 0;
  #large = 0;
  #closed = false;

  constructor(settings: TurnstileSettings) {
    this.#settings = settings;
  }

  get inside(): number {
    return this.#inside;
  }

  /** Whether a small one waits. */
  get smallWaits(): boolean {
    return this.#waiting.some(({ small }) => small);
  }

  /** False: the signal came first, or the turnstile has been closed. Whoever is let in says so when it leaves. */
  enter(small: boolean, signal?: AbortSignal): Promise<boolean> {
    if (this.#closed || signal?.aborted === true) return Promise.resolve(false);
    if (this.#mayEnter(small)) {
      this.#letIn(small);
      return Promise.resolve(true);
    }
    return new Promise((resolve) => {
      const abort = () => {
        this.#waiting.splice(this.#waiting.indexOf(waiting), 1);
        resolve(false);
      };
      const waiting: Waiting = {
        small,
        pass: (letIn) => {
          signal?.removeEventListener('abort', abort);
          resolve(letIn);
        },
      };
      signal?.addEventListener('abort', abort, { once: true });
      this.#waiting.push(waiting);
    });
  }

  leave(small: boolean): void {
    this.#inside -= 1;
    if (!small) this.#large -= 1;
    for (;;) {
      const at = this.#waiting.findIndex((waiting) => this.#mayEnter(waiting.small));
      const [next] = at < 0 ? [] : this.#waiting.splice(at, 1);
      if (next === undefined) return;
      this.#letIn(next.small);
      next.pass(true);
    }
  }

  /** Those who wait go away. */
  close(): void {
    this.#closed = true;
    for (const { pass } of this.#waiting.splice(0)) pass(false);
  }

  #mayEnter(small: boolean): boolean {
    const { all, large } = this.#settings;
    return this.#inside < all && (small || this.#large < large);
  }

  #letIn(small: boolean): void {
    this.#inside += 1;
    if (!small) this.#large += 1;
  }
}
