/** A document with one thing in it changed, for each thing in it. */

export interface Spoiled {
  /** `mouldings[0].moved higher`, `lost less`, `status other`. */
  readonly what: string;
  readonly document: unknown;
}

type Holder = Record<string | number, unknown>;

/** Other values of a field, each with a word for it. */
function others(value: unknown): readonly (readonly [string, unknown])[] {
  if (typeof value === 'number')
    return [['higher', value + 1], ...(value >= 1 ? [['lower', value - 1] as const] : [])];
  if (typeof value === 'boolean') return [['other', !value]];
  if (typeof value === 'string') return [['other', `${value}x`]];
  return value === null ? [['given', 'x']] : [];
}

/** Every field changed, and every list with one less: its first and its last. */
export function spoiledFields(document: unknown): readonly Spoiled[] {
  const made: Spoiled[] = [];
  const spoil = (
    what: string,
    path: readonly (string | number)[],
    change: (holder: Holder, key: string | number) => void,
  ): void => {
    const copy = structuredClone(document);
    let holder = copy as Holder;
    for (const step of path.slice(0, -1)) holder = holder[step] as Holder;
    change(holder, path.at(-1)!);
    made.push({ what, document: copy });
  };
  const walk = (value: unknown, path: readonly (string | number)[], name: string): void => {
    for (const [word, other] of others(value)) {
      spoil(`${name} ${word}`, path, (holder, key) => {
        holder[key] = other;
      });
    }
    if (typeof value !== 'object' || value === null) return;
    if (Array.isArray(value)) {
      if (value.length > 0) {
        spoil(`${name} less`, path, (holder, key) => (holder[key] as unknown[]).pop());
        spoil(`${name} less its first`, path, (holder, key) => (holder[key] as unknown[]).shift());
      }
      for (const [i, one] of value.entries()) walk(one, [...path, i], `${name}[${i}]`);
      return;
    }
    for (const [key, one] of Object.entries(value))
      walk(one, [...path, key], name === '' ? key : `${name}.${key}`);
  };
  walk(document, [], '');
  return made;
}
