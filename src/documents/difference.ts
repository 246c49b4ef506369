/** The differences between two documents, for a person: where, and both values. */
import { pathText, show } from '../read/problems.js';

export interface Difference {
  /** As in `frames[3].width`. */
  readonly path: string;
  /** Each value as messages show it; `nothing` where a document has none. */
  readonly there: string;
  readonly here: string;
}

function isObject(value: unknown): value is Readonly<Record<string, unknown>> {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

function walk(
  path: readonly (string | number)[],
  there: unknown,
  here: unknown,
  most: number,
  found: Difference[],
): void {
  if (found.length >= most || there === here) return;
  if (Array.isArray(there) && Array.isArray(here) && there.length === here.length) {
    for (const [i, one] of there.entries()) walk([...path, i], one, here[i], most, found);
  } else if (isObject(there) && isObject(here)) {
    for (const key of new Set([...Object.keys(there), ...Object.keys(here)])) {
      walk([...path, key], there[key], here[key], most, found);
    }
  } else found.push({ path: pathText(path), there: show(there), here: show(here) });
}

/** The first `most` differences, in the order of the document. */
export function differences(there: unknown, here: unknown, most: number): readonly Difference[] {
  const found: Difference[] = [];
  walk([], there, here, most, found);
  return found;
}
