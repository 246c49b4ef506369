/**
 * JSON from people and strangers. `JSON.parse` alone recurses without a bound, silently keeps the last of two equal
 * keys and lets a `__proto__` key through. So the text is scanned once first: size, depth, number of
 * values, and the keys of every object. The scan does not judge the grammar; `JSON.parse` (RFC 8259) does that.
 */
import { isUtf8 } from 'node:buffer';
import type { PairstopError } from '../errors.js';
import { DEPTH, KEY_LENGTH, KEYS_PER_OBJECT } from './limits.js';
import { InputProblems, pathText, refusal } from './problems.js';

export interface JsonLimits {
  readonly bytes: number;
  readonly values: number;
}

const FORBIDDEN = new Set(['__proto__', 'constructor', 'prototype']);

const QUOTE = 0x22;
const BACKSLASH = 0x5c;
const COMMA = 0x2c;
const OPEN_ARRAY = 0x5b;
const CLOSE_ARRAY = 0x5d;
const OPEN_OBJECT = 0x7b;
const CLOSE_OBJECT = 0x7d;

function refuse(given: string, allowed: string, path = ''): PairstopError {
  return refusal('PS_JSON', 'the text cannot be read as JSON', [{ path, given, allowed }], 1);
}

function decode(text: string | Uint8Array, bytes: number): string {
  const allowed = `UTF-8 text of at most ${bytes} bytes`;
  // A string of n UTF-16 units is at least n bytes of UTF-8, so the cheap test comes first.
  if (text.length > bytes) throw refuse(`${text.length} bytes or more`, allowed);
  if (typeof text === 'string') {
    const size = Buffer.byteLength(text);
    if (size > bytes) throw refuse(`${size} bytes`, allowed);
    return text.startsWith('\uFEFF') ? text.slice(1) : text;
  }
  if (!isUtf8(text)) throw refuse('bytes that are not UTF-8', allowed);
  const whole = Buffer.from(text.buffer, text.byteOffset, text.byteLength).toString();
  return whole.startsWith('\uFEFF') ? whole.slice(1) : whole;
}

/** Index of the closing quote of the string that opens at `open`, or the text's length. */
function stringEnd(text: string, open: number): number {
  for (let i = open + 1; i < text.length; i++) {
    const code = text.charCodeAt(i);
    if (code === BACKSLASH) i += 1;
    else if (code === QUOTE) return i;
  }
  return text.length;
}

/** The key between two quotes, escapes undone; null where `JSON.parse` will refuse it anyway. */
function keyAt(text: string, open: number, close: number): string | null {
  const raw = text.slice(open + 1, close);
  if (!raw.includes('\\')) return raw;
  try {
    return String(JSON.parse(`"${raw}"`));
  } catch {
    return null;
  }
}

interface JsonLevel {
  /** Keys met so far; null in an array. */
  readonly keys: Set<string> | null;
  at: string | number;
  expectsKey: boolean;
}

function pathOf(levels: readonly JsonLevel[]): (string | number)[] {
  return levels.map((level) => level.at);
}

function takeKey(levels: readonly JsonLevel[], level: JsonLevel, key: string, problems: InputProblems): void {
  level.at = key;
  level.expectsKey = false;
  const keys = level.keys;
  if (keys === null) return;
  if (FORBIDDEN.has(key))
    problems.add(pathOf(levels), 'any key but this one', 'a key that would alter objects');
  else if (keys.has(key)) problems.add(pathOf(levels), 'each key once', 'the same key again');
  keys.add(key);
}

/** Bounds are refused at once; keys that cannot be trusted are gathered. */
function scan(text: string, limits: JsonLimits): InputProblems {
  const problems = new InputProblems(undefined);
  const levels: JsonLevel[] = [];
  let top: JsonLevel | undefined;
  let values = 0;
  for (let i = 0; i < text.length && !problems.full; i++) {
    switch (text.charCodeAt(i)) {
      case QUOTE: {
        const end = stringEnd(text, i);
        if (top?.keys !== null && top?.expectsKey) {
          const where = () => pathText(pathOf(levels.slice(0, -1)));
          if (end - i > KEY_LENGTH * 6) {
            throw refuse(
              `a key of ${end - i - 1} characters`,
              `keys of at most ${KEY_LENGTH} characters`,
              where(),
            );
          }
          if (top.keys.size >= KEYS_PER_OBJECT) {
            throw refuse('an object with more keys', `at most ${KEYS_PER_OBJECT} keys in an object`, where());
          }
          const key = keyAt(text, i, end);
          if (key !== null) takeKey(levels, top, key, problems);
        }
        i = end;
        break;
      }
      case OPEN_ARRAY:
      case OPEN_OBJECT: {
        if (levels.length >= DEPTH) {
          throw refuse('deeper nesting', `at most ${DEPTH} levels`, pathText(pathOf(levels)).slice(0, 200));
        }
        const object = text.charCodeAt(i) === OPEN_OBJECT;
        top = { keys: object ? new Set() : null, at: object ? '' : 0, expectsKey: object };
        levels.push(top);
        values += 1;
        break;
      }
      case CLOSE_ARRAY:
      case CLOSE_OBJECT:
        levels.pop();
        top = levels.at(-1);
        break;
      case COMMA:
        values += 1;
        if (values > limits.values)
          throw refuse('more values', `at most ${limits.values} values in a document`);
        if (top === undefined) break;
        if (top.keys !== null) top.expectsKey = true;
        else if (typeof top.at === 'number') top.at += 1;
        break;
      default:
    }
  }
  return problems;
}

/** The parsed text; throws PS_JSON for anything that is not sound JSON within `limits`. */
export function parseJson(given: string | Uint8Array, limits: JsonLimits): unknown {
  const text = decode(given, limits.bytes);
  const keys = scan(text, limits);
  try {
    const value = JSON.parse(text) as unknown;
    // An inch mark too few or too many makes nonsense of all keys after it, so the grammar is judged first.
    keys.throwIfAny('PS_JSON', 'the JSON has keys that cannot be trusted');
    return value;
  } catch (error) {
    if (!(error instanceof SyntaxError)) throw error;
    if (text.trim() === '') throw refuse('empty text', 'JSON as in RFC 8259');
    const at = stoppedAt(text, error.message);
    const slip = at === null ? null : slipAt(text, at);
    const given =
      (slip?.given ?? oneLine(error.message)) + (at === null ? '' : lineText(text, slip?.at ?? at));
    throw refuse(given, slip?.allowed ?? 'JSON as in RFC 8259');
  }
}

/** Characters of context the engine shows before the faulty one. */
const CONTEXT = 10;

/** Where the engine's message says it stopped: by position, or by an excerpt that occurs once. Null if it says neither. */
function stoppedAt(text: string, message: string): number | null {
  const position = /at position (\d+)/.exec(message);
  const excerpt = /(\.\.\.)?"([\s\S]+?)"(?:\.\.\.)? is not valid JSON$/.exec(message);
  let at = -1;
  if (position !== null) at = Number(position[1]);
  else if (excerpt?.[1] !== undefined && excerpt[2] !== undefined) {
    const found = text.indexOf(excerpt[2]);
    if (found === text.lastIndexOf(excerpt[2])) at = found + CONTEXT;
  }
  return at < 0 ? null : at;
}

function lineText(text: string, at: number): string {
  const before = text.slice(0, at).split('\n');
  return ` (line ${before.length}, column ${(before.at(-1)?.length ?? 0) + 1})`;
}

interface Slip {
  readonly at: number;
  readonly given: string;
  readonly allowed: string;
}

/** A length that ends where a quotation mark closed the text: `"16 3/8"`, of which the mark was meant for inches. */
const LENGTH_BEFORE = /"[^"\n]*\d\s*"$/;

/** The two slips people make: an inch mark in a text, and a comma left out. Null for any other fault. */
function slipAt(text: string, at: number): Slip | null {
  const before = text.slice(Math.max(0, at - 1_000), at);
  const gap = /\s*$/.exec(before)?.[0] ?? '';
  const ended = before.slice(0, before.length - gap.length);
  const [last, next] = [ended.at(-1) ?? '', text[at] ?? ''];
  const end = at - gap.length;
  // The mark closed the text, and the true closing mark, or what follows it in the text, stands next to it.
  if (gap === '' && LENGTH_BEFORE.test(ended) && !/[,:}\]\s]/.test(next)) {
    return {
      at: end - 1,
      given: 'an inch mark that ends the text',
      allowed:
        'within a text an inch mark is written \\" , as in "8\' 2 1/2\\""; or leave it out, or write in',
    };
  }
  if (/["\d\]}el]/.test(last) && /["{[\d]/.test(next)) {
    return { at: end, given: 'two values with no comma between', allowed: 'a comma after the first' };
  }
  return null;
}

/** The engine's message repeats a little of the text, which may hold anything. */
function oneLine(message: string): string {
  return message.replace(/[\p{C}\p{Zl}\p{Zp}]+/gu, ' ').slice(0, 200);
}
