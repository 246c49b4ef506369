/** A rack as version 0.1.0 writes it stays readable: every kind of event, in the one file a backup is. */
import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { viewsOf } from '../../src/rack/audit.js';
import { readBackup } from '../../src/rack/backup.js';
import { balancesOf } from '../../src/rack/balance.js';
import { stateFrom } from '../../src/rack/store/reading.js';

const text = readFileSync(new URL('../fixtures/rack/0.1.backup', import.meta.url), 'utf8');

it('a rack of version 0.1.0 is read, and balances', () => {
  const { entries, present } = readBackup(text);
  expect(new Set(entries.map((entry) => /"kind":"(\w+)"/.exec(entry.text)?.[1])).size).toBe(10);
  // Added up by hand: two sticks and one bought of ash, one rail of 600 and two of 482.6 mm, an offcut of 412.75 mm.
  expect(balancesOf(present)).toEqual([
    {
      moulding: 'ash-cap',
      came: 1_555_750 + 1_133_475 + 2_430_000,
      rails: 600_000 + 2 * 482_600,
      waste: 177_800,
      gone: 1_133_475,
      lying: 412_750 + 2_430_000 - 600_000,
      offcuts: 412_750,
      off: 0,
    },
    {
      moulding: 'poplar-flat',
      came: 1_790_700,
      rails: 0,
      waste: 0,
      gone: 10_700,
      lying: 1_780_000,
      offcuts: 0,
      off: 0,
    },
  ]);
  expect([...present.expected.values()]).toMatchObject([{ offer: 'ash-8', count: 1 }]);
});

it('the states it is stored in are read as what they are', () => {
  const { present } = readBackup(text);
  const { states } = viewsOf(present);
  expect(states).toMatchObject({ r04: 'used monday', r07: 'gone', 'monday/o1': 'free' });
  for (const [id, state] of Object.entries(states)) {
    expect(stateFrom(state)).toEqual(present.pieces.get(id)?.state);
  }
  const negative = 'begun {"batch":"B","left":-1,"rails":[],"spoiled":[]}';
  for (const damaged of ['', 'lost', 'begun', 'begun {}', 'reserved', negative]) {
    expect(() => stateFrom(damaged)).toThrow(/damaged/);
  }
});
