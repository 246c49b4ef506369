/** One line on a terminal's standard error that tells how far a batch has got; nothing anywhere else. */
import type { BatchProgress } from '../processes/progress.js';
import { money } from '../text/page.js';

/** Shorter work shows nothing. */
const QUIET_MS = 1_000;
const REDRAW_MS = 200;
const BAR = 20;
const USUAL_COLUMNS = 80;

function seconds(value: number): string {
  return value < 90 ? `${Math.ceil(value)} s` : `${Math.ceil(value / 60)} min`;
}

/** The line's text, cut to `columns`; some terminals do not know their width, and say 0. */
export function progressText(progress: BatchProgress, elapsed: number, columns: number | undefined): string {
  const { mouldings, cost, gap, finish } = progress;
  const ended = mouldings.done + mouldings.failed;
  const filled = Math.round((BAR * ended) / Math.max(1, mouldings.total));
  const bar = `[${'#'.repeat(filled)}${'.'.repeat(BAR - filled)}]`;
  const parts = [
    `${bar} ${ended} of ${mouldings.total} mouldings`,
    ...(cost === null ? [] : [`cost ${money(cost.value)}`]),
    ...(gap === null ? [] : [gap === 0 ? 'proven' : `within ${(gap * 100).toFixed(2)} %`]),
    seconds(elapsed),
    ...(finish.latest === null ? [] : [`at most ${seconds(finish.latest)} more`]),
  ];
  return parts.join('  ').slice(0, (columns || USUAL_COLUMNS) - 1);
}

export class ProgressLine {
  readonly #began = performance.now();
  readonly #timer: NodeJS.Timeout | null;
  #last: { readonly progress: BatchProgress; readonly at: number } | null = null;
  #drawn = false;

  constructor() {
    this.#timer = process.stderr.isTTY ? setInterval(() => this.#draw(), REDRAW_MS) : null;
    this.#timer?.unref();
  }

  update(progress: BatchProgress): void {
    this.#last = { progress, at: performance.now() };
  }

  /** Clears the line. */
  stop(): void {
    if (this.#timer !== null) clearInterval(this.#timer);
    if (this.#drawn) process.stderr.write('\r\u001b[K');
    this.#drawn = false;
  }

  #draw(): void {
    const elapsed = performance.now() - this.#began;
    if (this.#last === null || elapsed < QUIET_MS) return;
    const { progress, at } = this.#last;
    const since = (performance.now() - at) / 1000;
    const latest = progress.finish.latest === null ? null : Math.max(0, progress.finish.latest - since);
    const now = { ...progress, finish: { ...progress.finish, latest } };
    process.stderr.write(`\r${progressText(now, elapsed / 1000, process.stderr.columns)}\u001b[K`);
    this.#drawn = true;
  }
}
