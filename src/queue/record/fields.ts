/** Fields of a batch's record that belong to one of its mouldings: names for the code, letters in Redis. */

/**
 * Stored as the letter, a colon and the moulding's number. The letters stay: workers of the version before and after an
 * upgrade write the same record side by side, and a batch of 5,000 mouldings has 40,000 of these fields.
 */
export const MOULDING_FIELDS = {
  /** Counts attempts; a write with an older number is refused. */
  fence: 'n',
  /** Newest figures, JSON. */
  figures: 'm',
  /** Best part of an attempt that is not over, sealed, and its figures. */
  checkpoint: 'b',
  checkpointFigures: 'g',
  part: 'p',
  partFigures: 'q',
  /** Set once the part is final for this round of the batch. */
  final: 'r',
  /** Part finished by an attempt that was thought dead, and its figures. */
  late: 'l',
  lateFigures: 'k',
  /** JSON. */
  failure: 'e',
  /** Start of the running attempt, and its last sign of life. */
  begun: 't',
  sign: 'x',
  /** Milliseconds of solving so far, and milliseconds allotted. */
  used: 'u',
  /** Pieces of the shop's rack this round is planned with, JSON. */
  rack: 's',
  /** Attempts up to this fence were planned with pieces that are gone. */
  outdated: 'o',
  allotted: 'a',
} as const;

export type MouldingField = keyof typeof MOULDING_FIELDS;

export function fieldOf(field: MouldingField, index: number): string {
  return `${MOULDING_FIELDS[field]}:${index}`;
}

/** The same names for scripts, as a Lua table of prefixes. */
export const LUA_FIELDS = `local F = { ${Object.entries(MOULDING_FIELDS)
  .map(([name, letter]) => `${name} = '${letter}:'`)
  .join(', ')} }`;
