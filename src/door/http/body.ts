/**
 * Bodies: read as they come, unpacked where they are gzipped, never more than is allowed of one, nor of all together:
 * two hundred clients that each send sixty megabytes slowly must not fill the memory.
 */
import type { IncomingHttpHeaders } from 'node:http';
import type { Readable } from 'node:stream';
import { createBrotliDecompress, createGunzip, createInflate } from 'node:zlib';
import { PairstopError } from '../../errors.js';
import { show } from '../../read/problems.js';
import { refuseRequest } from './problem.js';

const MB = 2 ** 20;
/** What one body may take of the room for all without asking. */
const SMALL = MB;

/** Bytes of bodies that are being read or worked on. */
export class BodyRoom {
  readonly #most: number;
  #taken = 0;

  constructor(most: number) {
    this.#most = most;
  }

  get taken(): number {
    return this.#taken;
  }

  take(bytes: number, size: number): void {
    if (size > SMALL && this.#taken + bytes > this.#most) {
      throw new PairstopError('PS_BUSY', 'too many large bodies are being sent at this moment');
    }
    this.#taken += bytes;
  }

  give(bytes: number): void {
    this.#taken -= bytes;
  }
}

function unpacked(payload: Readable, encoding: string): Readable {
  switch (encoding) {
    case '':
    case 'identity':
      return payload;
    case 'gzip':
    case 'x-gzip':
      return payload.pipe(createGunzip());
    case 'deflate':
      return payload.pipe(createInflate());
    case 'br':
      return payload.pipe(createBrotliDecompress());
    default:
      throw new PairstopError(
        'PS_MEDIA',
        `Content-Encoding: given ${show(encoding)}; allowed: gzip, br, deflate, identity`,
      );
  }
}

/** JSON and CSV are UTF-8 here. */
function requireUtf8(type: string | undefined): void {
  const charset = /;\s*charset\s*=\s*"?([^\s;"]*)"?/i.exec(type ?? '')?.[1];
  if (charset !== undefined && !/^utf-?8$/i.test(charset)) {
    throw new PairstopError('PS_MEDIA', `the character set: given ${show(charset)}; allowed: UTF-8`);
  }
}

function tooLarge(most: number): PairstopError {
  return new PairstopError('PS_LARGE', `the body is larger than ${most} bytes, the most that is taken here`);
}

/**
 * A body as it comes. Where its length is known, it is written to its place once its beginning is there: then it is held
 * once, and a claimed length alone costs nothing.
 */
class BodyParts {
  readonly #length: number;
  readonly #parts: Buffer[] = [];
  #size = 0;
  #place: Buffer | null = null;

  constructor(length: string | undefined) {
    this.#length = Number(length ?? 0);
  }

  add(bytes: Buffer): void {
    if (this.#place === null && this.#size >= SMALL && this.#length > this.#size) {
      this.#place = Buffer.allocUnsafeSlow(this.#length);
      let at = 0;
      for (const part of this.#parts) at += part.copy(this.#place, at);
      this.#parts.length = 0;
    }
    if (this.#place === null) this.#parts.push(bytes);
    else bytes.copy(this.#place, this.#size);
    this.#size += bytes.length;
  }

  whole(): Buffer {
    // Node ends a body at its length, and one that breaks off before throws.
    return this.#place?.length === this.#size ? this.#place : Buffer.concat(this.#parts, this.#size);
  }
}

/** Nearly every body: small, of known length, as it is. Node ends it at that length. */
function smallBody(payload: Readable, room: BodyRoom): Promise<Buffer> {
  return new Promise((resolve, reject) => {
    const parts: Buffer[] = [];
    let size = 0;
    let over = false;
    const end = (work: () => void): void => {
      if (over) return;
      over = true;
      room.give(size);
      work();
    };
    payload.on('data', (bytes: Buffer) => {
      if (over) return;
      room.take(bytes.length, size + bytes.length);
      size += bytes.length;
      parts.push(bytes);
    });
    payload.on('end', () => end(() => resolve(parts.length === 1 ? parts[0]! : Buffer.concat(parts, size))));
    const broken = (): void => end(() => reject(brokenOff('a body that breaks off')));
    payload.on('error', broken);
    payload.on('close', broken);
  });
}

function brokenOff(given: string): Error {
  return refuseRequest('body', given, 'a whole body');
}

/** All bytes of a body, unpacked. Throws PS_LARGE, PS_MEDIA, PS_BUSY, PS_REQUEST. */
export async function readBody(
  payload: Readable,
  headers: IncomingHttpHeaders,
  most: number,
  room: BodyRoom,
): Promise<Buffer> {
  requireUtf8(headers['content-type']);
  const encoding = (headers['content-encoding'] ?? '').trim().toLowerCase();
  const length = Number(headers['content-length'] ?? Number.NaN);
  if (length > most) throw tooLarge(most);
  if (length <= SMALL && (encoding === '' || encoding === 'identity')) return smallBody(payload, room);
  const source = unpacked(payload, encoding);
  if (source !== payload) payload.once('error', (error) => source.destroy(error));
  const parts = new BodyParts(
    encoding === '' || encoding === 'identity' ? headers['content-length'] : undefined,
  );
  let size = 0;
  try {
    for await (const chunk of source) {
      const bytes = chunk as Buffer;
      room.take(bytes.length, size + bytes.length);
      size += bytes.length;
      if (size > most) throw tooLarge(most);
      parts.add(bytes);
    }
  } catch (error) {
    room.give(size);
    if (error instanceof PairstopError) throw error;
    throw brokenOff(source === payload ? 'a body that breaks off' : `no ${encoding} data`);
  }
  room.give(size);
  return parts.whole();
}
