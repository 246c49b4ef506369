/** Where the pool lies in Redis. */

export interface NightKeys {
  /** Hash: settings (`close`, `zone`, `atMost`), when the pool `opened` and `closes`, and how many `arrivals` and nights. */
  readonly about: string;
  /** Sorted set: job id of each batch that waits → its place in the order of arrival. */
  readonly pool: string;
  /** Sorted set: job id of each night that has closed and has not ended → its number. */
  readonly open: string;
}

export const NIGHT_KEYS = ['about', 'pool', 'open'] as const satisfies readonly (keyof NightKeys)[];

export function nightKeysOf(prefix: string): NightKeys {
  const key = (name: keyof NightKeys): string => `${prefix}:night:${name}`;
  return { about: key('about'), pool: key('pool'), open: key('open') };
}

export function nightKeyList(keys: NightKeys): readonly string[] {
  return NIGHT_KEYS.map((name) => keys[name]);
}
