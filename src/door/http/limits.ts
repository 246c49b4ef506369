/** How much each caller may ask: so often in ten seconds, so much at one moment. */
import { PairstopError } from '../../errors.js';
import { HttpAnswer } from './problem.js';

const WINDOW_MS = 10_000;

interface Use {
  windowStart: number;
  asked: number;
  open: number;
  streams: number;
}

export interface Allowance {
  /** Requests in ten seconds. */
  readonly rate: number;
  readonly concurrent: number;
  readonly streams: number;
}

export class UseLimits {
  readonly #uses = new Map<string, Use>();

  #of(caller: string): Use {
    const now = Date.now();
    let use = this.#uses.get(caller);
    if (use === undefined) {
      this.#forget(now);
      use = { windowStart: now, asked: 0, open: 0, streams: 0 };
      this.#uses.set(caller, use);
    }
    if (now - use.windowStart >= WINDOW_MS) {
      use.windowStart = now;
      use.asked = 0;
    }
    return use;
  }

  /** Callers that have long stopped asking. */
  #forget(now: number): void {
    for (const [caller, { windowStart, open, streams }] of this.#uses) {
      if (open === 0 && streams === 0 && now - windowStart > 2 * WINDOW_MS) this.#uses.delete(caller);
    }
  }

  /** Counts a request in; call what is returned when it is over. Throws PS_RATE. */
  enter(caller: string, { rate, concurrent }: Allowance): () => void {
    const use = this.#of(caller);
    use.asked += 1;
    if (use.asked > rate) {
      const left = Math.max(1, Math.ceil((use.windowStart + WINDOW_MS - Date.now()) / 1_000));
      const message = `more than ${rate} requests in ${WINDOW_MS / 1_000} s`;
      throw new HttpAnswer({ code: 'PS_RATE', message }, { headers: { 'retry-after': String(left) } });
    }
    if (use.open >= concurrent)
      throw new PairstopError('PS_RATE', `more than ${concurrent} requests at once`);
    use.open += 1;
    return once(() => {
      use.open -= 1;
    });
  }

  /** The same for a stream of events. */
  listen(caller: string, { streams }: Allowance): () => void {
    const use = this.#of(caller);
    if (use.streams >= streams)
      throw new PairstopError('PS_RATE', `more than ${streams} event streams at once`);
    use.streams += 1;
    return once(() => {
      use.streams -= 1;
    });
  }
}

function once(work: () => void): () => void {
  let done = false;
  return () => {
    if (!done) work();
    done = true;
  };
}
