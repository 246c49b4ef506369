/**
 * Where log lines go: standard output, without ever waiting for it. A disk that is full, a reader that has stopped
 * reading or gone away costs log lines, which are counted and told once there is room again, and never work.
 */
import { fstatSync, write } from 'node:fs';
import { Socket } from 'node:net';

/** Characters kept while nothing can be written: some thousands of lines. */
const KEPT_MOST = 1_000_000;
const AGAIN_MS = 1_000;

interface Sink {
  /** Writes all of a text, or says why not. One at a time. */
  readonly put: (text: string, done: (error: Error | null) => void) => void;
  /** Whether a thread stands in the system's call while it writes. */
  readonly threaded: boolean;
}

/** Pipes and sockets: libuv writes what fits and goes on when there is room. */
function socketSink(fd: number): Sink {
  const socket = new Socket({ fd, readable: false, writable: true });
  let waiting: ((error: Error | null) => void) | null = null;
  const settle = (error: Error | null): void => {
    const done = waiting;
    waiting = null;
    done?.(error);
  };
  socket.on('error', settle);
  socket.unref();
  return {
    threaded: false,
    put: (text, done) => {
      waiting = done;
      socket.write(text, (error) => settle(error ?? null));
    },
  };
}

/** Files, terminals and devices: written in libuv's thread pool, since the system knows no other way not to wait. */
function fileSink(fd: number): Sink {
  const put = (bytes: Buffer, done: (error: Error | null) => void): void => {
    write(fd, bytes, (error, count) => {
      if (error !== null || count === bytes.length) done(error);
      else put(bytes.subarray(count), done);
    });
  };
  return { threaded: true, put: (text, done) => put(Buffer.from(text), done) };
}

function sinkFor(fd: number): Sink {
  try {
    const stat = fstatSync(fd);
    return stat.isFIFO() || stat.isSocket() ? socketSink(fd) : fileSink(fd);
  } catch {
    // Closed from the start: every line is dropped.
    return { threaded: false, put: (_, done) => done(new Error('closed')) };
  }
}

export class LogStream {
  readonly #sink: Sink;
  readonly #tell: (dropped: number) => string;
  #lines: string[] = [];
  #size = 0;
  #writing = false;
  /** Until then nothing is tried: the last write failed. */
  #pausedUntil = 0;
  #dropped = 0;
  #told = 0;
  #idle: (() => void)[] = [];

  /** `tell` makes the line that says how many were dropped since it was last said. */
  constructor(fd: number, tell: (dropped: number) => string) {
    this.#sink = sinkFor(fd);
    this.#tell = tell;
  }

  /** Lines lost since the start. */
  get dropped(): number {
    return this.#dropped;
  }

  /** For pino: takes one line; never throws, never waits. */
  write(line: string): void {
    if (this.#size + line.length > KEPT_MOST) {
      this.#dropped += 1;
      return;
    }
    this.#lines.push(line);
    this.#size += line.length;
    this.#next();
  }

  /** Resolves once everything is written, or after `ms`: whether it was. */
  async flush(ms: number): Promise<boolean> {
    if (!this.#writing && this.#lines.length === 0) return true;
    let timer: NodeJS.Timeout | undefined;
    const late = new Promise<boolean>((resolve) => {
      timer = setTimeout(() => resolve(false), ms);
    });
    const idle = new Promise<boolean>((resolve) => this.#idle.push(() => resolve(true)));
    const written = await Promise.race([idle, late]);
    clearTimeout(timer);
    return written;
  }

  /** Whether a thread stands in a write that the system has not answered. */
  get stuck(): boolean {
    return this.#writing && this.#sink.threaded;
  }

  #next(): void {
    if (this.#writing || this.#lines.length === 0 || performance.now() < this.#pausedUntil) return;
    const untold = this.#dropped - this.#told;
    const batch = this.#lines;
    const text = (untold > 0 ? this.#tell(untold) : '') + batch.join('');
    this.#lines = [];
    this.#size = 0;
    this.#writing = true;
    this.#sink.put(text, (error) => {
      this.#writing = false;
      if (error === null) {
        this.#told += untold;
      } else {
        this.#dropped += batch.length;
        this.#pausedUntil = performance.now() + AGAIN_MS;
        setTimeout(() => this.#next(), AGAIN_MS + 1).unref();
      }
      if (this.#lines.length === 0) for (const idle of this.#idle.splice(0)) idle();
      this.#next();
    });
  }
}
