/** Batches the reading tests start from. The one of the contract is written out as its page has it. */
import { expect, it } from 'vitest';
import { readBatch } from '../../src/documents/batch/read.js';
import { type InputProblem, PairstopError } from '../../src/errors.js';
import type { Batch } from '../../src/terms.js';

/** The contract's example of `pairstop/batch@1`, comments left out. */
export const EXAMPLE = `{
  "schema": "pairstop/batch@1",
  "id": "lakeside-spring",
  "units": "in",
  "saw": { "kerf": "3/32", "recut": "1/16", "stopStep": "1/32", "clampBelow": "6" },
  "mouldings": [ { "id": "ash-cap", "face": "1 1/4", "rabbet": "1/4", "reversible": false, "endTrim": "1/2", "keepOver": "18" } ],
  "frames":  [ { "id": "A-101", "moulding": "ash-cap", "quantity": 12, "measuredBy": "glass",
                 "width": "16", "height": "20", "play": "1/8", "playMax": "3/16", "match": "stop" } ],
  "sticks":  [ { "id": "r17", "moulding": "ash-cap", "length": "61 1/4", "quantity": 1, "flaws": [["20", "23 1/2"]], "value": 0 } ],
  "offers":  [ { "id": "ash-10", "moulding": "ash-cap", "length": "10'", "price": 23.4, "available": 200, "pack": 1,
                 "breaks": [ { "from": 25, "price": 21.9 } ] } ],
  "gauges":  [ { "id": "G-20", "length": "20 5/8" } ],
  "options": { "timeLimit": 30, "mergeStops": false, "seed": 1 }
}`;

/** A value of any shape, to be spoiled. */
export type Loose = { [key: string]: Loose } & Loose[] & (string | number | boolean | null);

/** A batch of every kind of line, in millimetres, as plain values. */
export function sample(): Loose {
  const text = JSON.stringify({
    schema: 'pairstop/batch@1',
    id: 'studio-walls',
    units: 'mm',
    mouldings: [
      { id: 'oak', face: 30, rabbet: 6 },
      { id: 'flat', face: 40, rabbet: 0, reversible: true },
    ],
    frames: [
      { id: 'F1', moulding: 'oak', width: 297, height: 420, play: 3, playMax: 4 },
      { id: 'F2', moulding: 'flat', quantity: 2, sides: 6, side: 200, measuredBy: 'outside' },
      { id: 'F3', moulding: 'oak', width: 210, height: 297, match: 'frame' },
    ],
    sticks: [
      {
        id: 'r1',
        moulding: 'oak',
        length: 2400,
        flaws: [
          [1000, 1100],
          [200, 250],
        ],
      },
      { id: 'r2', moulding: 'flat', length: 1800, quantity: 3, value: 4.5 },
    ],
    offers: [
      { id: 'o1', moulding: 'oak', length: 3000, price: 12 },
      {
        id: 'o2',
        moulding: 'flat',
        length: 2400,
        price: 9.5,
        available: 40,
        pack: 10,
        breaks: [
          { from: 20, price: 9 },
          { from: 10, price: 9.25 },
        ],
      },
    ],
    gauges: [{ id: 'G1', length: 330 }],
    options: { seed: 7 },
  });
  return JSON.parse(text) as Loose;
}

/** What reading `text` comes to; an error of any other kind fails the test, showing the text. */
export function outcomeOf(text: string | Uint8Array): Batch | PairstopError {
  try {
    return readBatch(text);
  } catch (error) {
    if (error instanceof PairstopError) return error;
    throw new Error(`reading broke on ${String(text).slice(0, 2_000)}`, { cause: error });
  }
}

export function refusalOf(text: string | Uint8Array): PairstopError {
  const outcome = outcomeOf(text);
  if (outcome instanceof PairstopError) return outcome;
  throw new Error('the text was accepted');
}

/** A refusal says something, briefly, and nothing a terminal would obey. */
export function soundRefusal(error: PairstopError): void {
  expect(error.problems.length).toBeGreaterThan(0);
  const unsound = error.problems.filter(
    ({ path, given, allowed }) =>
      given.length === 0 ||
      given.length > 600 ||
      allowed.length === 0 ||
      /[\p{Cc}\p{Cs}\u202a-\u202e]/u.test(`${path}${given}`),
  );
  expect(unsound).toEqual([]);
}

/** The problems `text` is refused for; an empty list where it is accepted. */
export function complaints(text: string | Uint8Array): readonly InputProblem[] {
  const outcome = outcomeOf(text);
  return outcome instanceof PairstopError ? outcome.problems : [];
}

/** The sample after `spoil`, as text. */
export function spoiled(spoil: (batch: Loose) => void): string {
  const batch = sample();
  spoil(batch);
  return JSON.stringify(batch);
}

/** Sets (or with undefined removes) `batch.list[index].key`. */
export function set(list: string, index: number, values: Record<string, unknown>): (batch: Loose) => void {
  return (batch) => {
    const line = batch[list]?.[index];
    if (line === undefined) throw new Error(`the sample has no ${list}[${index}]`);
    Object.assign(line, values);
  };
}

/** A rule, how to break it, and the one problem that must be reported: where, what was given, what is allowed. */
export type Refusal = readonly [
  rule: string,
  spoil: (batch: Loose) => void,
  path: string,
  given: string,
  allowed: RegExp,
];

/** Each rule broken alone is reported alone. */
export function refusesEach(refusals: readonly Refusal[]): void {
  it.each(refusals)('%s', (_rule, spoil, path, given, allowed) => {
    expect(complaints(spoiled(spoil))).toMatchObject([
      { path, given, allowed: expect.stringMatching(allowed) as string },
    ]);
  });
}
