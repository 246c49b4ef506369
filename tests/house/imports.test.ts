/** Imports point down one order of floors, so that a reader can begin at the bottom and never meets what comes later. */
import { describe, expect, it } from 'vitest';
import { circlesOf, filesByFolder, importsOf, loadedBy, sourceFiles, topOf } from './source.js';

/** From the ground up. A file of one of these imports only from those before it, and from its own. */
const FLOORS = [
  // What everything stands on.
  [
    'errors',
    'version',
    'place',
    'lengths',
    'terms',
    'notices',
    'text',
    'read',
    'csv',
    'documents',
    'words',
    'orders',
  ],
  // How a batch becomes a plan.
  ['rails', 'solve', 'stock', 'merge', 'layout', 'runs', 'stops', 'plan'],
  // What else is asked of a batch or a plan.
  ['compare', 'check', 'saw', 'recut', 'rack', 'night', 'show', 'sheet'],
  // Processes, Redis, the command line.
  ['processes', 'queue', 'door', 'cli', 'index'],
].flat();

/** A folder of more files is not taken in at a glance. */
const FILES_MOST = 15;
/** What a check may share with what it checks. */
const CHECK_SHARES = new Set(['errors', 'lengths', 'terms', 'notices', 'read', 'documents']);
/** Folders that are handed whatever they need: they take no file, clock or process of Node themselves. */
const PURE = new Set([
  ...[
    'lengths',
    'text',
    'csv',
    'words',
    'orders',
    'rails',
    'solve',
    'stock',
    'merge',
    'layout',
    'runs',
    'stops',
  ],
  ...['plan', 'compare', 'check', 'saw', 'recut', 'night', 'show'],
]);
/** What a reader of any text may know. */
const READ_KNOWS = new Set(['errors', 'lengths', 'terms', 'text']);

const files = sourceFiles();
const steps = files.flatMap((file) =>
  importsOf(file).map((to) => ({ from: file.path, to, own: topOf(file.path), other: topOf(to) })),
);

describe('the house', () => {
  it('has a floor for every folder', () => {
    const tops = [...new Set(files.map(({ path }) => topOf(path)))].sort();
    expect(tops).toEqual([...FLOORS].sort());
    expect(steps.length).toBeGreaterThan(500);
  });

  it('imports downwards only', () => {
    const up = steps.filter(
      ({ own, other }) => own !== other && FLOORS.indexOf(other) >= FLOORS.indexOf(own),
    );
    expect(up.map(({ from, to }) => `${from} imports ${to}`)).toEqual([]);
  });

  it('has no circle, not even of types', () => {
    expect(circlesOf(files)).toEqual([]);
    const [a, b, c] = ['import type { B } from "./b.js"', 'import "./c.js"', 'import "./b.js"'].map(
      (line, i) => ({
        path: `x/${'abc'[i]}.ts`,
        text: line.replaceAll('"', "'"),
      }),
    );
    expect(circlesOf([a!, b!, c!])).toEqual([['x/b.ts', 'x/c.ts']]);
  });

  it('has a checker that shares no stage of planning, and a reader that knows no document', () => {
    const shared = steps.filter(
      ({ own, other }) =>
        own !== other &&
        ((own === 'check' && !CHECK_SHARES.has(other)) || (own === 'read' && !READ_KNOWS.has(other))),
    );
    expect(shared.map(({ from, to }) => `${from} imports ${to}`)).toEqual([]);
  });

  it('plans with what it is handed, and takes nothing from Node itself', () => {
    const taken = files
      .filter(({ path }) => PURE.has(topOf(path)))
      .flatMap(({ path, text }) =>
        [...text.matchAll(/\b(?:from|import|require)\s*\(?\s*'(node:[^']+|fs|vm|path|module|process)'/g)].map(
          (match) => `${path} imports ${match[1]}`,
        ),
      );
    expect(taken).toEqual([]);
    expect(FLOORS.filter((floor) => PURE.has(floor)).length).toBe(PURE.size);
  });

  it('uses the engine by its faces, the files that stand in its own folder', () => {
    const inside = steps.filter(
      ({ own, other, to }) => own !== 'solve' && other === 'solve' && to.split('/').length > 2,
    );
    expect(inside.map(({ from, to }) => `${from} imports ${to}`)).toEqual([]);
  });

  it('submits a batch without loading the planner', () => {
    const loaded = [...loadedBy('queue/client/client.ts', files)];
    expect(loaded).toContain('stock/refusals.ts');
    expect(loaded.filter((path) => /^(solve\/engine|plan\/|compare\/|runs\/)/.test(path))).toEqual([]);
  });

  it('keeps its folders small', () => {
    const full = [...filesByFolder()].filter(([, count]) => count > FILES_MOST);
    expect(full).toEqual([]);
  });
});
