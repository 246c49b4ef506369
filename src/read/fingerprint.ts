/** One short text for the content of a document, whatever the order and spacing it was written in. */
import { createHash } from 'node:crypto';

/** Characters handed to the digest at once: a document of 90 MB is never one text here. */
const AT_ONCE = 65_536;

/** Up to so many keys are sorted in place: what the language sorts it copies first. */
const FEW = 20;

/** By UTF-16 code units, as RFC 8785 has it, and as texts are compared here. */
function sortedKeys(value: object): string[] {
  const keys = Object.keys(value);
  if (keys.length > FEW) return keys.sort();
  for (let i = 1; i < keys.length; i++) {
    const key = keys[i]!;
    let at = i;
    for (; at > 0 && keys[at - 1]! > key; at--) keys[at] = keys[at - 1]!;
    keys[at] = key;
  }
  return keys;
}

/** Hands on JSON with sorted keys and no white space, after RFC 8785 (JSON Canonicalization Scheme), piece by piece. */
function writeCanonical(value: unknown, write: (text: string) => void): void {
  if (Array.isArray(value)) {
    write('[');
    for (let i = 0; i < value.length; i++) {
      if (i > 0) write(',');
      writeCanonical(value[i], write);
    }
    write(']');
    return;
  }
  if (typeof value !== 'object' || value === null) {
    write(JSON.stringify(value) ?? 'null');
    return;
  }
  let before = '{';
  for (const key of sortedKeys(value)) {
    const member: unknown = Reflect.get(value, key);
    if (member === undefined) continue;
    write(`${before}${JSON.stringify(key)}:`);
    writeCanonical(member, write);
    before = ',';
  }
  write(before === '{' ? '{}' : '}');
}

export function canonicalJson(value: unknown): string {
  const pieces: string[] = [];
  writeCanonical(value, (text) => {
    pieces.push(text);
  });
  return pieces.join('');
}

function digestOf(before: string, document: unknown): string {
  const hash = createHash('sha256');
  let waiting = before;
  writeCanonical(document, (text) => {
    waiting += text;
    if (waiting.length < AT_ONCE) return;
    hash.update(waiting);
    waiting = '';
  });
  return hash.update(waiting).digest('hex');
}

/** As `fingerprint`, for other work than a plan. */
export function fingerprintFor(work: string, document: unknown): string {
  return digestOf(`${work}\n`, document);
}

/** SHA-256, 64 hexadecimal digits, of the canonical JSON of a document that has passed its checks (and so is shallow). */
export function fingerprint(document: unknown): string {
  return digestOf('', document);
}
