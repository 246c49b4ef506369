/** Where the rack lies in Redis. All keys of a shop begin with its prefix. */

export interface RackKeys {
  /** Stream of events, each one field `e`: the rack itself. All else can be made of it. */
  readonly journal: string;
  /** Hash: id → description. */
  readonly pieces: string;
  /** Hash: id → state. */
  readonly states: string;
  /** Hash: id → journal entry in which the description was last changed. */
  readonly revisions: string;
  /** Sorted set, by name: `moulding\nid` of each free piece. */
  readonly free: string;
  /** Sorted set, by name: `batch\nid` of each piece reserved or begun. */
  readonly held: string;
  /** Hash: `moulding\naccount` → micrometres. */
  readonly wood: string;
  /** Hash: `batch\noffer` → what is still to come. */
  readonly expected: string;
  /** Hash: version, last entry, number of entries; how many pieces were described in inches, and in millimetres. */
  readonly about: string;
  /** Sorted set: marks of the last changes, so that a change asked for twice is made once. */
  readonly recent: string;
  /** Sorted set: job id of each batch that waits for its turn, in their order. */
  readonly tickets: string;
  /** Hash: job id → mouldings it wants, as a JSON list. */
  readonly claims: string;
  /** Sorted set: job id → when it was last heard of. */
  readonly heard: string;
}

export const RACK_KEYS = [
  'journal',
  'pieces',
  'states',
  'revisions',
  'free',
  'held',
  'wood',
  'expected',
  'about',
  'recent',
  'tickets',
  'claims',
  'heard',
] as const satisfies readonly (keyof RackKeys)[];

export function rackKeysOf(prefix: string): RackKeys {
  return Object.fromEntries(RACK_KEYS.map((name) => [name, `${prefix}:rack:${name}`])) as unknown as RackKeys;
}

export function keyList(keys: RackKeys): readonly string[] {
  return RACK_KEYS.map((name) => keys[name]);
}
