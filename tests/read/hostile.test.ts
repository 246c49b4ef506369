/** Text nobody meant as a batch: refused clearly, never a crash, a hang or a polluted prototype. */
import { describe, expect, it } from 'vitest';
import { checkBatch, readBatch } from '../../src/documents/batch/read.js';
import { PairstopError } from '../../src/errors.js';
import { BATCH_BYTES, BATCH_VALUES, DEPTH, KEYS_PER_OBJECT, LINES } from '../../src/read/limits.js';
import { complaints, EXAMPLE, refusalOf, soundRefusal } from './samples.js';

describe('text that is not JSON within bounds', () => {
  it.each<[string, string | Uint8Array, string, RegExp]>([
    ['nothing', '', 'empty text', /RFC 8259/],
    ['white space', ' \n ', 'empty text', /RFC 8259/],
    ['half a batch', EXAMPLE.slice(0, 300), 'JSON', /RFC 8259/],
    ['NaN', EXAMPLE.replace('12', 'NaN'), "Unexpected token 'N'", /RFC 8259/],
    ['a comment', `${EXAMPLE} // done`, 'non-whitespace', /RFC 8259/],
    ['a raw control character', EXAMPLE.replace('A-101', 'A\u0000'), 'control character', /RFC 8259/],
    ['bytes that are not UTF-8', new Uint8Array([0x7b, 0xff, 0x7d]), 'not UTF-8', /UTF-8/],
    ['one byte too many', ' '.repeat(BATCH_BYTES + 1), 'bytes', /at most 94371840 bytes/],
    ['too many bytes in few characters', '€'.repeat(BATCH_BYTES / 2), 'bytes', /at most 94371840 bytes/],
    ['too many bytes', new Uint8Array(BATCH_BYTES + 1), 'bytes', /at most 94371840 bytes/],
    ['a million open lists', '['.repeat(1_000_000), 'deeper nesting', /at most 32 levels/],
    ['a million open objects', '{"a":'.repeat(1_000_000), 'deeper nesting', /at most 32 levels/],
    ['too many values', `[${'0,'.repeat(BATCH_VALUES)}0]`, 'more values', /at most 4000000 values/],
    ['a long key', `{"${'k'.repeat(1_000_000)}":1}`, 'a key of 1000000 characters', /at most 128 characters/],
  ])('refuses %s', (_, text, given, allowed) => {
    const error = refusalOf(text);
    expect(error.code).toBe('PS_JSON');
    expect(error.problems[0]?.given).toContain(given);
    expect(error.problems[0]?.allowed).toMatch(allowed);
    soundRefusal(error);
  });

  it('says the line and column where JSON ends', () => {
    const lines = EXAMPLE.split('\n');
    const row = lines.findIndex((line) => line.includes('"gauges"'));
    const column = (lines[row] ?? '').indexOf('"id"');
    const broken = (put: string) =>
      lines
        .map((line, i) => (i === row ? line.slice(0, column) + put + line.slice(column) : line))
        .join('\n');
    for (const put of ['NaN', "'", '\u0001']) {
      expect(refusalOf(broken(put)).problems[0]?.given).toContain(`(line ${row + 1}, column ${column + 1})`);
    }
  });

  it('refuses an object with too many keys, however it is closed', () => {
    const keys = (count: number) => Array.from({ length: count }, (_, i) => `"k${i}":1`).join(',');
    expect(refusalOf(`{"saw":{${keys(KEYS_PER_OBJECT + 1)}}}`)).toMatchObject({
      code: 'PS_JSON',
      problems: [{ path: 'saw', given: 'an object with more keys' }],
    });
    expect(refusalOf(`{${keys(KEYS_PER_OBJECT)}}`).code).toBe('PS_BATCH');
  });

  it('allows the depth it says', () => {
    const nested = (depth: number) => `${'['.repeat(depth)}${']'.repeat(depth)}`;
    expect(refusalOf(nested(DEPTH)).code).toBe('PS_BATCH');
    expect(refusalOf(nested(DEPTH + 1)).code).toBe('PS_JSON');
  });

  it.each([
    [
      'the same key twice',
      EXAMPLE.replace('"play"', '"width": "8", "play"'),
      'frames[0].width',
      'the same key again',
    ],
    [
      'the same key, spelt with an escape',
      EXAMPLE.replace('"play"', '"\\u0077idth": "8", "play"'),
      'frames[0].width',
      'the same key again',
    ],
    [
      '__proto__',
      EXAMPLE.replace('"play"', '"__proto__": {"polluted": 1}, "play"'),
      'frames[0].__proto__',
      'a key that would alter objects',
    ],
    [
      '__proto__ with an escape',
      EXAMPLE.replace('"play"', '"__pr\\u006fto__": {"polluted": 1}, "play"'),
      'frames[0].__proto__',
      'a key that would alter objects',
    ],
    [
      'constructor',
      EXAMPLE.replace('"saw"', '"constructor": {"prototype": {"polluted": 1}}, "saw"'),
      'constructor',
      'a key that would alter objects',
    ],
  ])('refuses %s', (_, text, path, given) => {
    const error = refusalOf(text);
    expect(error.code).toBe('PS_JSON');
    expect(error.problems[0]).toMatchObject({ path, given });
    expect(Reflect.get({}, 'polluted')).toBeUndefined();
  });

  it('does not take braces and quotes inside texts for structure', () => {
    const id = `"{[\\"}],:${'['.repeat(100)}\\\\`;
    expect(readBatch(JSON.stringify({ ...(JSON.parse(EXAMPLE) as object), id })).id).toBe(id);
  });
});

describe('JSON that is no batch', () => {
  it.each(['null', 'true', '0', '1e999', '""', '[]', '[{}]', '{}', '{"frames":{}}', '"\\ud800"', '[[[[]]]]'])(
    'refuses %s',
    (text) => {
      const error = refusalOf(text);
      expect(error.code).toBe('PS_BATCH');
      soundRefusal(error);
    },
  );

  it.each<[string, unknown]>([
    ['a text of a megabyte', 'x'.repeat(1_000_000)],
    ['spaces', ' '.repeat(50_000)],
    ['digits', '1'.repeat(50_000)],
    ['fractions', '1/'.repeat(25_000)],
    ['lone surrogates', '\udc00\ud800'],
    ['a list of lists', [[[]]]],
    ['an object', { num: '1', den: '1' }],
    ['null', null],
    ['1e308', 1e308],
    ['-1', -1],
  ])('refuses %s in every field', (_, hostile) => {
    const paths: (string | number)[][] = [];
    const visit = (value: unknown, path: (string | number)[]) => {
      if (path.length > 0) paths.push(path);
      if (typeof value !== 'object' || value === null) return;
      const keys = Array.isArray(value) ? value.keys() : Object.keys(value);
      for (const key of keys) visit(Reflect.get(value, key), [...path, key]);
    };
    visit(JSON.parse(EXAMPLE), []);
    expect(paths.length).toBeGreaterThan(40);
    for (const path of paths) {
      const batch = JSON.parse(EXAMPLE) as object;
      const last = path.at(-1) ?? '';
      const holder = path.slice(0, -1).reduce<object>((at, key) => Reflect.get(at, key) as object, batch);
      Reflect.set(holder, last, hostile);
      const error = refusalOf(JSON.stringify(batch));
      soundRefusal(error);
    }
  });

  it('looks at the length of a list before its items', () => {
    const text = EXAMPLE.replace('"gauges":  [', `"gauges": [${'0,'.repeat(LINES)}`);
    expect(complaints(text)).toEqual([
      { path: 'gauges', given: `a list of ${LINES + 1}`, allowed: 'a list of at most 100000 gauge sticks' },
    ]);
  });

  it('takes objects with keys of their own only, when handed objects', () => {
    const inherits = Object.create(JSON.parse(EXAMPLE) as object) as object;
    expect(() => checkBatch(inherits)).toThrow(/schema: given nothing/);
    for (const value of [undefined, Symbol('x'), 3n, () => 1, new Map(), Number.NaN]) {
      expect(() => checkBatch(value)).toThrow(PairstopError);
    }
  });
});
