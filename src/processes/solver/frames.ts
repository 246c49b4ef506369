/**
 * How a solver process talks to its parent: length-prefixed frames of structured clones on a pipe of their own.
 * Node's own channel sends large messages from the event loop, which never runs during a synchronous solve. A blocking
 * write leaves the process at once, so the best plan so far is out before a library hangs.
 */
import { writeSync } from 'node:fs';
import { deserialize, serialize } from 'node:v8';
import { PairstopError } from '../../errors.js';

/** Descriptor of the pipe in the child: after stdin, stdout, stderr, and Node's channel. */
export const PIPE_FD = 4;

const HEAD_BYTES = 4;
/** A part of a million rails packs to some 20 MB; anything near this is not a frame of ours. */
const LARGEST_FRAME = 512 * 2 ** 20;
const RETRY_MS = 1;

const sleeper = new Int32Array(new SharedArrayBuffer(4));

function writeAll(bytes: Uint8Array): void {
  let at = 0;
  while (at < bytes.length) {
    try {
      at += writeSync(PIPE_FD, bytes, at);
    } catch (error) {
      if (!(error instanceof Error) || Reflect.get(error, 'code') !== 'EAGAIN') throw error;
      Atomics.wait(sleeper, 0, 0, RETRY_MS);
    }
  }
}

/** Blocks until the parent's end has taken all of it. */
export function sendFrame(message: unknown): void {
  const body = serialize(message);
  const head = Buffer.alloc(HEAD_BYTES);
  head.writeUInt32LE(body.length);
  writeAll(Buffer.concat([head, body]));
}

/** Puts chunks of a pipe together again; calls `deliver` with each message in order. */
export class FrameReader {
  readonly #deliver: (message: unknown) => void;
  #chunks: Buffer[] = [];
  #size = 0;
  #wanted = HEAD_BYTES;
  #inBody = false;

  constructor(deliver: (message: unknown) => void) {
    this.#deliver = deliver;
  }

  /** Throws PS_INTERNAL for a frame that no solver process sends. */
  push(chunk: Buffer): void {
    this.#chunks.push(chunk);
    this.#size += chunk.length;
    while (this.#size >= this.#wanted) {
      const all = this.#chunks.length === 1 ? (this.#chunks[0] ?? chunk) : Buffer.concat(this.#chunks);
      const taken = all.subarray(0, this.#wanted);
      const rest = all.subarray(this.#wanted);
      this.#chunks = rest.length > 0 ? [rest] : [];
      this.#size = rest.length;
      this.#take(taken);
    }
  }

  #take(bytes: Buffer): void {
    if (this.#inBody) {
      this.#inBody = false;
      this.#wanted = HEAD_BYTES;
      this.#deliver(deserialize(bytes));
      return;
    }
    const length = bytes.readUInt32LE();
    if (length > LARGEST_FRAME) {
      throw new PairstopError('PS_INTERNAL', `a solver process announced a message of ${length} bytes`);
    }
    this.#inBody = true;
    this.#wanted = length;
  }
}
