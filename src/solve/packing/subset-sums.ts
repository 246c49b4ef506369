/**
 * Sums that some rails can reach, a bit for each length: a word holds 32 lengths, a row of words all up to a stick's. With
 * them the fullest way to fill a stick is found without search.
 */

/** Words of a row for sums up to `most`. */
export function wordsOf(most: number): number {
  return (most >> 5) + 1;
}

/** Row `to` becomes row `from` and what one rail of this weight adds to it, both from their places on, so many words. */
export function addRail(rows: Int32Array, to: number, from: number, words: number, weight: number): void {
  const whole = weight >> 5;
  const bits = weight & 31;
  if (to !== from) {
    const kept = Math.min(whole, words);
    for (let x = 0; x < kept; x++) rows[to + x] = rows[from + x]!;
  }
  if (whole >= words) return;
  // From above, so that a row may be added to in place.
  if (bits === 0) {
    for (let x = words - 1; x >= whole; x--) rows[to + x] = rows[from + x]! | rows[from + x - whole]!;
    return;
  }
  for (let x = words - 1; x > whole; x--) {
    const shifted = (rows[from + x - whole]! << bits) | (rows[from + x - whole - 1]! >>> (32 - bits));
    rows[to + x] = rows[from + x]! | shifted;
  }
  rows[to + whole] = rows[from + whole]! | (rows[from]! << bits);
}

/** Whether the row that begins at `row` reaches this sum. */
export function reaches(rows: Int32Array, row: number, sum: number): boolean {
  return ((rows[row + (sum >> 5)]! >>> (sum & 31)) & 1) === 1;
}

/** The greatest sum up to `most` that the row reaches; 0 is always reached. */
export function greatestSum(rows: Int32Array, row: number, most: number): number {
  let x = most >> 5;
  let word = rows[row + x]! & ((most & 31) === 31 ? -1 : (1 << ((most & 31) + 1)) - 1);
  while (word === 0) word = rows[row + --x]!;
  return 32 * x + 31 - Math.clz32(word);
}

/** Whether the row reaches any sum from `least` to `most`. */
export function reachesAny(rows: Int32Array, row: number, least: number, most: number): boolean {
  const from = Math.max(0, least);
  return most >= from && greatestSum(rows, row, most) >= from;
}
