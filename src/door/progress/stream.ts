/** Server-Sent Events (WHATWG HTML, "Server-sent events"): one stream for one listener. */
import type { ServerResponse } from 'node:http';
import { PairstopError } from '../../errors.js';
import { problemAnswer } from '../http/problem.js';
import type { Change, Hearer } from './hub.js';

/** A listener that does not take what it is sent only gets the newest once it does. */
const BEHIND_BYTES = 65_536;
const RETRY_MS = 2_000;

export class EventStream implements Hearer {
  readonly #response: ServerResponse;
  readonly #heart: NodeJS.Timeout;
  readonly #cutAfter: number;
  #sent: string | null;
  #owed: Change | null = null;
  #stuckSince: number | null = null;

  /** `sent`: the id of the last event the listener has had. */
  constructor(response: ServerResponse, { sent, heartbeat }: { sent: string | null; heartbeat: number }) {
    this.#response = response;
    this.#sent = sent;
    this.#cutAfter = 2 * heartbeat;
    response.on('drain', () => {
      this.#stuckSince = null;
      const owed = this.#owed;
      this.#owed = null;
      if (owed !== null) this.change(owed);
    });
    this.#heart = setInterval(() => this.#beat(), heartbeat);
    response.once('close', () => clearInterval(this.#heart));
  }

  begin(headers: Readonly<Record<string, string>>): void {
    this.#response.writeHead(200, {
      ...headers,
      'content-type': 'text/event-stream; charset=utf-8',
      'cache-control': 'no-store',
      // Proxies that keep back what they pass on would keep back the progress.
      'x-accel-buffering': 'no',
    });
    this.#response.write(`retry: ${RETRY_MS}\n\n`);
  }

  readonly change = (change: Change): void => {
    if (change.id === this.#sent) return;
    if (this.#response.writableLength > BEHIND_BYTES) {
      this.#owed = change;
      this.#stuckSince ??= Date.now();
      return;
    }
    this.#sent = change.id;
    this.#response.write(
      `id: ${change.id}\nevent: ${change.status.state}\ndata: ${JSON.stringify(change.status)}\n\n`,
    );
  };

  readonly end = (error: unknown): void => {
    if (this.#owed !== null) {
      const { id, status } = this.#owed;
      this.#response.write(`id: ${id}\nevent: ${status.state}\ndata: ${JSON.stringify(status)}\n\n`);
    }
    if (error instanceof PairstopError) {
      const { body } = problemAnswer(error);
      this.#response.write(`event: problem\ndata: ${JSON.stringify(body)}\n\n`);
    }
    this.#response.end();
  };

  #beat(): void {
    const stuck = this.#stuckSince;
    if (stuck !== null && Date.now() - stuck > this.#cutAfter) {
      this.#response.destroy();
      return;
    }
    if (this.#response.writableLength <= BEHIND_BYTES) this.#response.write(': alive\n\n');
  }
}
