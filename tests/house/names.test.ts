/** One word, one thing: a type name is known without the file around it. */
import { expect, it } from 'vitest';
import { sourceFiles } from './source.js';

const DECLARED = /^(?:export )?(?:declare )?(?:abstract )?(?:type|interface|class|enum) ([A-Za-z]\w*)/gm;

const declared = sourceFiles().flatMap(({ path, text }) =>
  [...text.matchAll(DECLARED)].map((match) => ({ path, name: match[1]! })),
);

it('gives every type, exported or not, a name that no other type of the house has', () => {
  const files = new Map<string, string[]>();
  for (const { name, path } of declared) files.set(name, [...(files.get(name) ?? []), path]);
  const twice = [...files].filter(([, paths]) => paths.length > 1);
  expect(declared.length).toBeGreaterThan(300);
  expect(twice.map(([name, paths]) => `${name}: ${paths.join(', ')}`)).toEqual([]);
});

it('renames no type as it is imported', () => {
  const renamed = sourceFiles().flatMap(({ path, text }) =>
    [...text.matchAll(/^(?:import|export) (?:type )?\{[^}]*\b([A-Z]\w*) as [A-Z]\w*[^}]*\}/gm)].map(
      (match) => `${path}: ${match[1]}`,
    ),
  );
  expect(renamed).toEqual([]);
});
