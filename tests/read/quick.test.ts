/** What is read without zod's own steps, and defaults that are read once, are what the schemas themselves make of them. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { z } from 'zod';
import { BATCH_SCHEMAS } from '../../src/documents/batch/schema.js';
import {
  choiceField,
  countField,
  idField,
  lengthField,
  moneyField,
  quickReaderOf,
} from '../../src/read/fields.js';
import { InputProblems } from '../../src/read/problems.js';
import { walk } from '../../src/read/walk.js';

const FIELDS = {
  id: idField('an id'),
  inches: lengthField('in', 794, 100_000_000),
  millimetres: lengthField('mm', 0, 100_000_000),
  count: countField(0, 500, 'pieces'),
  money: moneyField('a price'),
  choice: choiceField(['raw', 'sawn'], 'an end'),
};

const given = fc.oneof(
  fc.string({ unit: 'binary', maxLength: 140 }),
  fc.constantFrom('16 3/8', '8\' 2 1/2"', '405 mm', '1/0', '16 9/8', 'raw', 'sawn', ' raw', '\ud800', ''),
  fc.double(),
  fc.integer({ min: -3, max: 600 }),
  fc.nat(1_000_000_000).map((n) => n / 100),
  fc.constantFrom(-0, 0.03125, 1e21, 2 ** 53, Number.NaN, Number.POSITIVE_INFINITY),
  fc.constantFrom(null, true, [], {}, [1]),
);

describe('a field', () => {
  for (const [name, schema] of Object.entries(FIELDS)) {
    it(`of the kind ${name} is read as its schema reads it`, () => {
      fc.assert(
        fc.property(given, (value) => {
          const judged = z.safeParse(schema, value);
          expect(quickReaderOf(schema)(value)).toStrictEqual(judged.success ? judged.data : undefined);
        }),
        { seed: 17, numRuns: 500 },
      );
    });
  }
});

describe('defaults', () => {
  const written = {
    schema: 'pairstop/batch@1',
    id: 'bare',
    mouldings: [{ id: 'm', face: 1, rabbet: 0 }],
    frames: [{ id: 'f', moulding: 'm', width: 10, height: 12 }],
    sticks: [{ id: 's', moulding: 'm', length: 60 }],
    offers: [{ id: 'o', moulding: 'm', length: 100 }],
  };

  it.each(['in', 'mm'] as const)('of a batch in %s are what the schema makes of them', (units) => {
    const document = { ...written, units };
    const problems = new InputProblems(document);
    const { whole } = walk(BATCH_SCHEMAS[units], document, problems);
    expect(problems.total).toBe(0);
    expect(whole).toEqual(BATCH_SCHEMAS[units].parse(document));
  });

  it('are shared by all documents, and nobody can change them', () => {
    const read = () => walk(BATCH_SCHEMAS.in, { ...written, units: 'in' }, new InputProblems(null)).whole!;
    const [one, other] = [read(), read()];
    expect(one.saw).toBe(other.saw);
    expect(() => Object.assign(one.saw, { bench: 1 })).toThrow(TypeError);
    expect(() => Object.assign(one.saw.kerf, { num: 1n })).toThrow(TypeError);
    expect(one.mouldings).not.toBe(other.mouldings);
  });
});
