/**
 * Stored documents: JSON, deflated, with a digest that also covers the kind of document and its batch. A record that
 * was cut short, altered or put in the place of another does not open.
 *
 *     "PS1\n"  SHA-256 (32 bytes) of `kind LF batch LF moulding LF json`  raw deflate of the JSON (RFC 1951)
 */
import { createHash, type Hash } from 'node:crypto';
import type { Readable } from 'node:stream';
import { createInflateRaw, deflateRawSync, inflateRawSync } from 'node:zlib';
import { PairstopError } from '../errors.js';

export interface Label {
  readonly kind: 'batch' | 'part' | 'plan' | 'comparison';
  /** Fingerprint of the batch, or within one process any text that stands for it. */
  readonly batch: string;
  /** Empty for a document of the whole batch. */
  readonly moulding: string;
}

const MAGIC = Buffer.from('PS1\n');
const DIGEST_BYTES = 32;
const HEAD_BYTES = MAGIC.length + DIGEST_BYTES;
/** Level 1: plans shrink about eightfold already, and level 6 takes four times as long for a tenth less. */
const LEVEL = 1;
const STREAM_CHUNK = 65_536;

function digestOf(label: Label): Hash {
  return createHash('sha256').update(`${label.kind}\n${label.batch}\n${label.moulding}\n`);
}

function digest(label: Label, json: Uint8Array): Buffer {
  return digestOf(label).update(json).digest();
}

/** `json` is JSON text. */
export function seal(label: Label, json: string): Buffer {
  const bytes = Buffer.from(json);
  return Buffer.concat([MAGIC, digest(label, bytes), deflateRawSync(bytes, { level: LEVEL })]);
}

function requireHead(label: Label, sealed: Uint8Array): void {
  if (sealed.length >= HEAD_BYTES && MAGIC.equals(sealed.subarray(0, MAGIC.length))) return;
  throw refuse(label, `${sealed.length} bytes that are no sealed document`);
}

/**
 * The JSON text as it unpacks, for whoever passes it on: it is read twice, first for its digest, and never held whole.
 * Throws as `unseal`.
 */
export async function unsealing(label: Label, sealed: Uint8Array, most: number): Promise<Readable> {
  requireHead(label, sealed);
  const packed = sealed.subarray(HEAD_BYTES);
  const unpacking = (): Readable => {
    const inflate = createInflateRaw({ chunkSize: STREAM_CHUNK });
    inflate.end(packed);
    return inflate;
  };
  const found = digestOf(label);
  let size = 0;
  try {
    for await (const chunk of unpacking()) {
      size += (chunk as Buffer).length;
      if (size > most) break;
      found.update(chunk as Buffer);
    }
  } catch {
    size = Number.POSITIVE_INFINITY;
  }
  if (size > most) throw refuse(label, `a sealed document that does not unpack to at most ${most} bytes`);
  requireDigest(label, sealed, found.digest());
  return unpacking();
}

function requireDigest(label: Label, sealed: Uint8Array, found: Buffer): void {
  if (found.equals(sealed.subarray(MAGIC.length, HEAD_BYTES))) return;
  throw refuse(label, `a ${label.kind} whose digest is that of another record`);
}

function refuse(label: Label, given: string): PairstopError {
  const of = label.moulding === '' ? '' : ` of moulding ${JSON.stringify(label.moulding)}`;
  const problem = { path: '', given, allowed: `the ${label.kind}${of} stored for batch ${label.batch}` };
  return new PairstopError('PS_STORE', `a stored record is not what it should be: ${given}`, [problem]);
}

/** The JSON text; throws PS_STORE for anything but an intact record under this label of at most `most` bytes. */
export function unseal(label: Label, sealed: Uint8Array, most: number): string {
  requireHead(label, sealed);
  let json: Buffer;
  try {
    json = inflateRawSync(sealed.subarray(HEAD_BYTES), { maxOutputLength: most });
  } catch {
    throw refuse(label, `a sealed document that does not unpack to at most ${most} bytes`);
  }
  requireDigest(label, sealed, digest(label, json));
  return json.toString();
}
