/** When an order is needed, as the rows of its frames say it: those that do must say the same. */
import { show } from '../read/problems.js';
import type { Origin } from './origins.js';
import type { Gathering } from './table.js';

interface SaidDue {
  readonly text: string;
  readonly origin: Origin;
}

export class OrderDue {
  #said: SaidDue | null = null;

  /** Takes it out of a line; `path` is the line's in the document. */
  take(
    line: Record<string, unknown>,
    path: readonly (string | number)[],
    { origins, problems }: Gathering,
  ): void {
    const { due } = line;
    const origin = origins.at([...path, 'due']);
    if (typeof due !== 'string' || origin === undefined) return;
    delete line.due;
    if (this.#said === null) this.#said = { text: due, origin };
    else if (due !== this.#said.text) {
      const { cell: _, ...place } = origin;
      const allowed = `${show(this.#said.text)} as in line ${this.#said.origin.line}: an order is needed by one date; what is needed by another is an order of its own`;
      problems.push({ path: 'due', given: show(due), allowed, ...place });
    }
  }

  /** Into the document, unless it is set for the batch: then the rows must say the same. */
  put(settings: Record<string, unknown>, { origins, problems }: Gathering): void {
    if (this.#said === null) return;
    const { text, origin } = this.#said;
    if (settings.due === undefined) {
      settings.due = text;
      origins.set(['due'], origin);
    } else if (settings.due !== text) {
      const { cell: _, ...place } = origin;
      const allowed = `${show(settings.due)} as among the settings, or no column "due"`;
      problems.push({ path: 'due', given: show(text), allowed, ...place });
    }
  }
}
