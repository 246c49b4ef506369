/** Ten thousand spoiled batches: each is a sound batch still or a sound refusal. */
import { describe, expect, it } from 'vitest';
import { PairstopError } from '../../src/errors.js';
import { compare, exact } from '../../src/lengths/exact.js';
import type { Batch, FrameLine, RackEntry } from '../../src/terms.js';
import { type Loose, outcomeOf, sample, soundRefusal } from './samples.js';

/** Mulberry32: a small generator with a fixed seed, so that a failure comes back. */
function generator(seed: number): (below: number) => number {
  let state = seed;
  return (below) => {
    state = (state + 0x6d2b79f5) | 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) % below;
  };
}

const VALUES: readonly unknown[] = [
  null,
  true,
  -1,
  0,
  0.1,
  1e308,
  5e-324,
  2 ** 53,
  '',
  ' ',
  '0',
  '16 3/8',
  "8'",
  '1/0',
  '-3',
  'NaN',
  '\ud800',
  '\u0000',
  'x'.repeat(10_000),
  '9'.repeat(64),
  [],
  {},
  [[]],
  [1, 2],
  ['1', '2'],
  { from: 2, price: 1 },
  'oak',
  'F1',
  'mm',
  'in',
  4,
  12,
];
const KEYS = [
  'id',
  'moulding',
  'width',
  'sides',
  'side',
  'flaws',
  '__proto__',
  'constructor',
  'toString',
  'length',
  '\u0000',
  '0',
];
const CHARACTERS = '{}[]",:\\0123456789eE+-./ntu \u0000\ud800é'.split('');

/** Changes one place of the value: a field replaced, removed, added, doubled or moved. */
function mutateValue(batch: Loose, below: (n: number) => number): void {
  let holder: object = batch;
  for (let depth = below(5); depth > 0; depth--) {
    const inner = Object.values(holder).filter(
      (value) => typeof value === 'object' && value !== null,
    ) as object[];
    holder = inner[below(inner.length || 1)] ?? holder;
  }
  const keys = Object.keys(holder);
  const key = keys[below(keys.length || 1)] ?? 'id';
  const value: unknown = structuredClone(VALUES[below(VALUES.length)]);
  const other = keys[below(keys.length || 1)] ?? 'id';
  switch (below(6)) {
    case 0:
      Reflect.deleteProperty(holder, key);
      break;
    case 1:
      if (Array.isArray(holder)) break;
      Object.defineProperty(holder, KEYS[below(KEYS.length)] ?? 'id', {
        value,
        enumerable: true,
        configurable: true,
        writable: true,
      });
      break;
    case 2:
      Reflect.set(holder, key, Reflect.get(holder, other));
      break;
    case 3:
      if (Array.isArray(holder)) holder.push(...(holder as unknown[]));
      break;
    default:
      Reflect.set(holder, key, value);
  }
}

/** Changes a few characters of the text: one put in, taken out, replaced, or a stretch repeated. */
function mutateText(text: string, below: (n: number) => number): string {
  const at = below(text.length);
  const character = CHARACTERS[below(CHARACTERS.length)] ?? '';
  switch (below(5)) {
    case 0:
      return text.slice(0, at) + character + text.slice(at);
    case 1:
      return text.slice(0, at) + text.slice(at + 1 + below(3));
    case 2:
      return text.slice(0, at) + character + text.slice(at + 1);
    case 3:
      return text.slice(0, at) + text.slice(at, at + below(60)).repeat(1 + below(3)) + text.slice(at);
    default:
      return text.slice(0, at);
  }
}

const ZERO = exact(0n);

function soundFrame(frame: FrameLine, mouldings: ReadonlySet<string>): boolean {
  const { shape, quantity } = frame;
  const sizes = shape.kind === 'rectangle' ? [shape.width, shape.height] : [shape.side];
  return (
    mouldings.has(frame.moulding) &&
    Number.isSafeInteger(quantity) &&
    quantity > 0 &&
    sizes.every((size) => compare(size, ZERO) > 0)
  );
}

function soundFlaws({ flaws, length }: RackEntry): boolean {
  return flaws.every(([from, to], i) => from > (flaws[i - 1]?.[1] ?? -1) && to > from && to <= length);
}

/** What a checked batch promises, looked at anew. */
function soundBatch(batch: Batch): void {
  const mouldings = new Set(batch.mouldings.map((line) => line.id));
  const stock = [...batch.sticks, ...batch.offers];
  expect(mouldings.size).toBe(batch.mouldings.length);
  expect(batch.frames.length).toBeGreaterThan(0);
  expect(batch.frames.filter((frame) => !soundFrame(frame, mouldings))).toEqual([]);
  expect(stock.filter((line) => !mouldings.has(line.moulding) || !(line.length > 0))).toEqual([]);
  expect(batch.sticks.filter((stick) => !soundFlaws(stick))).toEqual([]);
}

describe('10,000 seeded mutations of a sound batch', () => {
  it.each([1, 2, 3, 4, 5])('are batches or refusals and nothing else (seed %i)', (seed) => {
    const below = generator(seed);
    let accepted = 0;
    let refused = 0;
    for (let run = 0; run < 2_000; run++) {
      const batch = sample();
      for (let n = 1 + below(3); n > 0; n--) mutateValue(batch, below);
      const whole = JSON.stringify(batch);
      const text = below(3) === 0 ? mutateText(whole, below) : whole;
      const outcome = outcomeOf(text);
      if (outcome instanceof PairstopError) {
        soundRefusal(outcome);
        refused += 1;
      } else {
        soundBatch(outcome);
        accepted += 1;
      }
    }
    expect(accepted).toBeGreaterThan(50);
    expect(refused).toBeGreaterThan(1_000);
    expect(Object.keys(Object.prototype)).toEqual([]);
  });
});
