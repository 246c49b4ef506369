/** One short text for the content of a document, whatever the order and spacing it was written in. */
import { createHash } from 'node:crypto';

/** JSON with sorted keys and no white space, after RFC 8785 (JSON Canonicalization Scheme). */
export function canonicalJson(value: unknown): string {
  if (Array.isArray(value)) return `[${value.map(canonicalJson).join(',')}]`;
  if (typeof value !== 'object' || value === null) return JSON.stringify(value) ?? 'null';
  const members: string[] = [];
  // RFC 8785 sorts by UTF-16 code units, which is what the default sort does.
  for (const key of Object.keys(value).sort()) {
    const member: unknown = Reflect.get(value, key);
    if (member !== undefined) members.push(`${JSON.stringify(key)}:${canonicalJson(member)}`);
  }
  return `{${members.join(',')}}`;
}

/** As `fingerprint`, for other work than a plan. */
export function fingerprintFor(work: string, document: unknown): string {
  return createHash('sha256')
    .update(`${work}\n${canonicalJson(document)}`)
    .digest('hex');
}

/** SHA-256, 64 hexadecimal digits, of the canonical JSON of a document that has passed its checks (and so is shallow). */
export function fingerprint(document: unknown): string {
  return createHash('sha256').update(canonicalJson(document)).digest('hex');
}
