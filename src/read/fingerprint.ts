/** One short text for the content of a document, whatever the order and spacing it was written in. */
import { createHash } from 'node:crypto';

/** Characters handed to the digest at once: a document of 90 MB is never one text here. */
const AT_ONCE = 65_536;

/** Hands on JSON with sorted keys and no white space, after RFC 8785 (JSON Canonicalization Scheme), piece by piece. */
function writeCanonical(value: unknown, write: (text: string) => void): void {
  if (Array.isArray(value)) {
    write('[');
    value.forEach((item: unknown, i) => {
      if (i > 0) write(',');
      writeCanonical(item, write);
    });
    write(']');
    return;
  }
  if (typeof value !== 'object' || value === null) {
    write(JSON.stringify(value) ?? 'null');
    return;
  }
  let before = '{';
  // RFC 8785 sorts by UTF-16 code units, which is what the default sort does.
  for (const key of Object.keys(value).sort()) {
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
