/** While a moulding is solved: its news goes to the record, and word from there ends it. */
import type { Logger } from 'pino';
import { PairstopError } from '../../errors.js';
import type { Improved, SealedPart } from '../../processes/solver/tasks.js';
import { figuresOf, type PartFigures } from '../record/figures.js';
import type { Attempt } from '../record/steps.js';
import { sleep, within } from '../redis/waiting.js';
import type { JobInHand } from './in-hand.js';
import type { Service } from './service.js';

/** Checkpoints of large parts are stored less often: at most so many bytes a second, but every 15 s at least. */
const BYTES_PER_SECOND = 1_000_000;
const LONGEST_GAP_MS = 15_000;
const LAST_BEAT_MS = 1_500;
const SECOND = 1_000;

export class Solving {
  readonly #service: Service;
  readonly #attempt: Attempt;
  readonly #moulding: string;
  readonly #ticket: JobInHand;
  readonly #allotted: number;
  readonly #log: Logger;
  /** Whether others wait for the place of a moulding that should have been done by now. */
  readonly #crowded: () => Promise<boolean>;
  #figures: PartFigures | null = null;
  #best: SealedPart | null = null;
  #bestDue = 0;
  #late: SealedPart | null = null;

  constructor(
    service: Service,
    attempt: Attempt,
    moulding: string,
    ticket: JobInHand,
    allotted: number,
    log: Logger,
    crowded: () => Promise<boolean>,
  ) {
    this.#crowded = crowded;
    this.#service = service;
    this.#attempt = attempt;
    this.#moulding = moulding;
    this.#ticket = ticket;
    this.#allotted = allotted;
    this.#log = log;
  }

  improved(improved: Improved): void {
    this.#figures = figuresOf(improved);
    if (improved.sealed !== null) this.#best = { ...improved, sealed: improved.sealed };
  }

  /** The part `solve` makes, or one that an attempt thought dead has left meanwhile. */
  async during(solve: () => Promise<SealedPart>): Promise<SealedPart> {
    const over = new AbortController();
    const beats = this.#beats(over.signal);
    try {
      return await solve();
    } catch (error) {
      if (this.#late !== null) return this.#late;
      // What the last beat did not take: whoever repeats this starts from the best there was.
      if (this.#best !== null)
        await within(LAST_BEAT_MS, 'a last checkpoint', this.#beat(true)).catch(() => {});
      throw error;
    } finally {
      over.abort();
      await beats;
    }
  }

  async #beats(over: AbortSignal): Promise<void> {
    const { beat } = this.#service.settings.timing;
    while (!over.aborted) {
      await sleep(beat, over);
      if (!over.aborted) await this.#beat(false);
    }
  }

  async #beat(last: boolean): Promise<void> {
    const figures = this.#figures;
    const now = Date.now();
    const best = this.#best !== null && (last || now >= this.#bestDue) ? this.#best : null;
    try {
      const beat = await this.#service.store.attempts.beat(
        this.#attempt,
        this.#moulding,
        this.#allotted,
        figures,
        best,
      );
      if (this.#figures === figures) this.#figures = null;
      if (best !== null) {
        if (this.#best === best) this.#best = null;
        const gap = (best.sealed.length / BYTES_PER_SECOND) * SECOND;
        this.#bestDue = now + Math.min(gap, LONGEST_GAP_MS);
      }
      if (beat.kind === 'go') {
        if (!last && (await this.#crowded())) this.#ticket.end('long');
        return;
      }
      if (beat.kind === 'late') this.#late = beat.part;
      this.#ticket.end(beat.kind);
    } catch (error) {
      // Redis is away: the solve goes on, and the next beat tries again.
      if (error instanceof PairstopError) this.#log.error({ code: error.code }, 'a beat was not understood');
    }
  }
}
