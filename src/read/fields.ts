/** The kinds of field in a batch. Each describes what it allows; messages and the JSON Schema use the same words. */
import * as z from 'zod';
import { DURATION_FORMS, LONGEST_DURATION_TEXT, tryParseDuration } from '../lengths/durations.js';
import { compare, type Exact, exact } from '../lengths/exact.js';
import { formatLength } from '../lengths/format.js';
import { LENGTH_FORMS, LONGEST_LENGTH_TEXT, tryParseLength } from '../lengths/parse.js';
import type { Cents, Ms, Units } from '../terms.js';
import {
  HANDLING_MOST,
  ID_LENGTH,
  INSTANT_FIRST,
  INSTANT_LAST,
  INSTANT_LENGTH,
  MONEY,
  TAG_LENGTH,
} from './limits.js';

/**
 * What a schema makes of a sound value, without zod's own steps between: undefined for anything else, which the schema
 * then judges. Three quarters of the time of reading a small batch went into those steps.
 */
type QuickReader = (given: unknown) => unknown;

const quickReaders = z.registry<{ readonly read: QuickReader }>();
const noQuickReader: QuickReader = () => undefined;

export function quickReaderOf(schema: z.core.$ZodType): QuickReader {
  return quickReaders.get(schema)?.read ?? noQuickReader;
}

const lengthFields = z.registry<{ readonly length: true }>();

/** Whether a schema is that of a length, optional or not. */
export function isLengthField(schema: z.core.$ZodType): boolean {
  return lengthFields.has(schema);
}

/** What was likely meant by a text that is no length; empty where nothing is known. */
export function lengthHint(given: unknown): string {
  if (typeof given !== 'string' || !/^\s*\d+,\d+/.test(given)) return '';
  return `; write ${JSON.stringify(given.trim().replace(',', '.'))}, with a decimal point`;
}

/** A length between `least` and `most` micrometres, read exactly; `least` is 0, or just above; a bare number counts in `units`. */
export function lengthField(units: Units, least: number, most: number, note = '') {
  const upTo = formatLength(most, units);
  const range = least === 0 ? `0 to ${upTo}` : `above 0, up to ${upTo}`;
  const [low, high] = [exact(BigInt(least)), exact(BigInt(most))];
  const read = (given: unknown): Exact | undefined => {
    const length = tryParseLength(given, units);
    return length !== null && compare(length, low) >= 0 && compare(length, high) <= 0 ? length : undefined;
  };
  return z
    .union([z.number().min(0), z.string().max(LONGEST_LENGTH_TEXT)])
    .transform((given, context) => {
      const length = read(given);
      if (length !== undefined) return length;
      context.addIssue('not such a length');
      return z.NEVER;
    })
    .describe(`a length, ${range}${note}: ${LENGTH_FORMS[units]}`)
    .register(lengthFields, { length: true })
    .register(quickReaders, { read });
}

/** Invisible characters would make two ids look alike, or a label unreadable. */
const PRINTABLE = /^(?!\s)[^\p{Cc}\p{Cf}\p{Cs}\p{Zl}\p{Zp}]+(?<!\s)$/u;

export function idField(of: string) {
  return z
    .string()
    .min(1)
    .max(ID_LENGTH, { abort: true })
    .regex(PRINTABLE)
    .describe(`${of}: 1 to ${ID_LENGTH} printable characters, no space at either end`)
    .register(quickReaders, {
      read: (given) =>
        typeof given === 'string' && given.length <= ID_LENGTH && PRINTABLE.test(given) ? given : undefined,
    });
}

/** A whole number. */
export function countField(least: number, most: number, of: string) {
  return z
    .int()
    .min(least)
    .max(most)
    .describe(`${of}: a whole number, ${least} to ${most}`)
    .register(quickReaders, {
      read: (given) =>
        Number.isSafeInteger(given) && Number(given) >= least && Number(given) <= most ? given : undefined,
    });
}

function centsIn(given: number): Cents | undefined {
  const parts = /^(\d+)(?:\.(\d{1,2}))?$/.exec(String(given));
  return parts === null ? undefined : Number(parts[1]) * 100 + Number((parts[2] ?? '').padEnd(2, '0'));
}

/** Money in whole cents, by the number's shortest decimal text: 23.4 is 2340 cents, 0.125 is refused. */
export function moneyField(of: string) {
  return z
    .number()
    .min(0)
    .max(MONEY)
    .transform((given, context): Cents => {
      const cents = centsIn(given);
      if (cents !== undefined) return cents;
      context.addIssue('not whole cents');
      return z.NEVER;
    })
    .describe(`${of}: a number from 0 to ${MONEY} with at most 2 decimals`)
    .register(quickReaders, {
      read: (given) => (typeof given === 'number' && given <= MONEY ? centsIn(given) : undefined),
    });
}

export function choiceField<const T extends readonly [string, ...string[]]>(values: T, of: string) {
  const known = new Set<unknown>(values);
  return z
    .enum(values)
    .describe(`${of}: ${values.map((value) => `"${value}"`).join(' or ')}`)
    .register(quickReaders, { read: (given) => (known.has(given) ? given : undefined) });
}

export function flagField(of: string) {
  return z.boolean().describe(`${of}: true or false`);
}

export function numberField(least: number, most: number, of: string) {
  return z.number().min(least).max(most).describe(`${of}: a number from ${least} to ${most}`);
}

/** Any text except an empty one: ids in a plan are only compared with those of its batch. */
export function textField(most: number, of: string) {
  return z.string().min(1).max(most).describe(`${of}: 1 to ${most} characters`);
}

/** What is pencilled on a rail. No slash: a tag is never taken for the id of a rail or a frame. */
export function tagField() {
  return z
    .string()
    .max(TAG_LENGTH)
    .regex(/^[A-Z]+\d+(?:[TRBL]|-\d+)$/)
    .describe('the mark written on the rail, as in "A12T" or "C3-4"');
}

/** A duration of one step at the saw. */
export function durationField(of: string) {
  return z
    .union([z.number().min(0), z.string().max(LONGEST_DURATION_TEXT)])
    .transform((given, context): Ms => {
      const duration = tryParseDuration(given);
      if (duration !== null && duration <= HANDLING_MOST) return duration;
      context.addIssue('not such a duration');
      return z.NEVER;
    })
    .describe(`${of}: 0 s to 1 h, ${DURATION_FORMS}`);
}

const PERCENT = /^(\d{1,2}(?:\.\d{1,3})?) ?%$/;
const ONE_IN = /^(\d{1,6}) in (\d{1,6})$/;

/** A share above 0 and below 1: a number, or text, `5 %` or `1 in 20`. */
export function shareField(of: string) {
  return z
    .union([z.number().gt(0).lt(1), z.string().max(24)])
    .transform((given, context): number => {
      if (typeof given === 'number') return given;
      const text = given.trim();
      const percent = PERCENT.exec(text);
      const pieces = ONE_IN.exec(text);
      const share = percent ? Number(percent[1]) / 100 : pieces ? Number(pieces[1]) / Number(pieces[2]) : 0;
      if (share > 0 && share < 1) return share;
      context.addIssue('not such a share');
      return z.NEVER;
    })
    .describe(`${of}: a share above 0 and below 1, as in "5 %", "1 in 20" or 0.05`);
}

/** A moment, as milliseconds since 1970. */
export function instantField(of: string) {
  return z.iso
    .datetime({ offset: true })
    .max(INSTANT_LENGTH)
    .transform((given, context): number => {
      const moment = Date.parse(given);
      if (moment >= Date.parse(INSTANT_FIRST) && moment <= Date.parse(INSTANT_LAST)) return moment;
      context.addIssue('not such a moment');
      return z.NEVER;
    })
    .describe(`${of}: date and time as in RFC 3339 with Z or an offset, ${INSTANT_FIRST} to ${INSTANT_LAST}`);
}

/** A date, or a moment; the text as it was given. */
export function dueField(of: string) {
  return z
    .union([z.iso.date(), z.iso.datetime({ offset: true }).max(INSTANT_LENGTH)])
    .transform((given, context): string => {
      const moment = Date.parse(given);
      if (moment >= Date.parse(INSTANT_FIRST) && moment <= Date.parse(INSTANT_LAST)) return given;
      context.addIssue('not such a moment');
      return z.NEVER;
    })
    .describe(`${of}: a date as 2026-12-01, or date and time as in RFC 3339 with Z or an offset`);
}
