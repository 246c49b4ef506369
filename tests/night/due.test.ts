/** When a day is over in the shop's zone. Offsets of the zones: IANA time zone database, as Node has it. */
import { describe, expect, it } from 'vitest';
import { checkBatch } from '../../src/documents/batch/read.js';
import { compose } from '../../src/night/compose.js';
import { dueMoment } from '../../src/night/due.js';
import { orderOf } from './orders.js';

const at = (text: string): number => Date.parse(text);

describe('a date without a time', () => {
  it('ends at the end of that day in the zone', () => {
    expect(dueMoment('2026-11-30', 'UTC')).toBe(at('2026-12-01T00:00:00Z'));
    expect(dueMoment('2026-11-30', 'Europe/Berlin')).toBe(at('2026-12-01T00:00:00+01:00'));
    expect(dueMoment('2026-11-30', 'America/Chicago')).toBe(at('2026-12-01T00:00:00-06:00'));
    // Clocks are changed in the night before, or the day is the one on which they are.
    expect(dueMoment('2026-10-24', 'Europe/Berlin')).toBe(at('2026-10-25T00:00:00+02:00'));
    expect(dueMoment('2026-10-25', 'Europe/Berlin')).toBe(at('2026-10-26T00:00:00+01:00'));
    expect(dueMoment('2026-03-29', 'Europe/Berlin')).toBe(at('2026-03-30T00:00:00+02:00'));
  });

  it('leaves a moment as it is, and says nothing where nothing is said', () => {
    expect(dueMoment('2026-11-30T12:00:00Z', 'America/Chicago')).toBe(at('2026-11-30T12:00:00Z'));
    expect(dueMoment(null, 'UTC')).toBe(Number.POSITIVE_INFINITY);
  });

  it('is later than a moment or earlier, by the zone of the shop', () => {
    const day = { ...orderOf('day'), due: '2026-11-30' };
    const moment = { ...orderOf('moment'), due: '2026-12-01T02:00:00Z' };
    const members = [day, moment].map((document) => ({ document, batch: checkBatch(document) }));
    const first = (zone: string): readonly string[] => {
      const [only] = compose(members, () => 'night', zone);
      const rank = new Map(only!.document.frames.map(({ id, priority }) => [id, priority ?? 0]));
      const of = (id: string): number =>
        Math.min(...[...rank].flatMap(([line, own]) => (line.startsWith(`${id}/`) ? [own] : [])));
      return ['day', 'moment'].sort((a, b) => of(a) - of(b));
    };
    expect(first('UTC')).toEqual(['day', 'moment']);
    expect(first('America/Chicago')).toEqual(['moment', 'day']);
  });
});
