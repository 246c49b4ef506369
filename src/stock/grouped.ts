/** In the order in which keys and members first come. */
export function groupedBy<T, K>(all: Iterable<T>, keyOf: (one: T) => K): ReadonlyMap<K, readonly T[]> {
  const groups = new Map<K, T[]>();
  for (const one of all) {
    const key = keyOf(one);
    const own = groups.get(key);
    if (own === undefined) groups.set(key, [one]);
    else own.push(one);
  }
  return groups;
}
