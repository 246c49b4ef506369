/** Ids: each only once, and each reference to one that exists. */
import type { InputProblems, Path } from './problems.js';
import { pathText } from './problems.js';

interface WithId {
  readonly id: string | undefined;
}

type LinesOf<T extends WithId> = readonly (T | undefined)[] | undefined;

/** Lists that share one set of ids, by their key in the document. */
export function idsOnce(lists: Readonly<Record<string, LinesOf<WithId>>>, problems: InputProblems): void {
  const seen = new Map<string, Path>();
  const of = Object.keys(lists).join(' or ');
  for (const [key, lines] of Object.entries(lists)) {
    for (const [i, line] of (lines ?? []).entries()) {
      if (line?.id === undefined) continue;
      const first = seen.get(line.id);
      if (first === undefined) seen.set(line.id, [key, i, 'id']);
      else problems.add([key, i, 'id'], `an id not yet used in ${of}; ${pathText(first)} has this one`);
    }
  }
}

/** The lines by id; the first of two that share one. */
export function byId<T extends WithId>(lines: LinesOf<T>): ReadonlyMap<string, T> {
  const map = new Map<string, T>();
  for (const line of lines ?? []) {
    if (line?.id !== undefined && !map.has(line.id)) map.set(line.id, line);
  }
  return map;
}

const NAMED_IN_MESSAGE = 5;

/** Every line's `moulding` is one of `mouldings`. */
export function knownMouldings(
  key: string,
  lines: readonly ({ readonly moulding: string | undefined } | undefined)[] | undefined,
  mouldings: ReadonlyMap<string, unknown>,
  problems: InputProblems,
): void {
  const some = [...mouldings.keys()].slice(0, NAMED_IN_MESSAGE).map((id) => JSON.stringify(id));
  if (mouldings.size > some.length) some.push('…');
  for (const [i, line] of (lines ?? []).entries()) {
    if (line?.moulding === undefined || mouldings.has(line.moulding)) continue;
    problems.add([key, i, 'moulding'], `the id of one of the mouldings: ${some.join(', ')}`);
  }
}
