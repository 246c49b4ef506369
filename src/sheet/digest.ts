/** What a page's policy allows, by its digest (Content Security Policy Level 3, W3C). */
import { createHash } from 'node:crypto';

/** `'sha256-…'` of a style or script that stands in the page itself. */
export function digestSource(text: string): string {
  return `'sha256-${createHash('sha256').update(text).digest('base64')}'`;
}
