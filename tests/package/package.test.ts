/**
 * The package as another program gets it: packed, unpacked elsewhere beside the packages it says it depends on, compiled
 * against with everything strict, and run.
 */
import { execFileSync, spawnSync } from 'node:child_process';
import {
  copyFileSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { sourceFiles } from '../house/source.js';
import { bundleCard } from '../tools/card-bundle.js';

const root = fileURLToPath(new URL('../..', import.meta.url));
const tsc = join(root, 'node_modules/typescript/bin/tsc');
const demo = 'node_modules/pairstop/src/demo/lakeside-spring.json';

interface Manifest {
  readonly name: string;
  readonly version: string;
  readonly bin: { readonly pairstop: string };
  readonly dependencies: Readonly<Record<string, string>>;
}

const manifest = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8')) as Manifest;

let dir: string;
/** Where the package is installed. */
let installed: string;

function node(args: readonly string[], cwd = dir): string {
  const quiet = { ...process.env, NO_COLOR: '1' };
  delete (quiet as Partial<Record<string, string>>).PAIRSTOP_COMPILED;
  const ended = spawnSync(process.execPath, args, { cwd, env: quiet, encoding: 'utf8' });
  if (ended.status !== 0) throw new Error(`${args.join(' ')}\n${ended.stdout}${ended.stderr}`);
  return ended.stdout;
}

/** Built apart, so that nobody who uses this checkout's `dist` meanwhile is disturbed; packed by npm's own rules. */
function packed(): string {
  const stage = join(dir, 'stage');
  mkdirSync(join(stage, 'src/demo'), { recursive: true });
  for (const file of ['package.json', 'README.md', 'LICENSE'])
    copyFileSync(join(root, file), join(stage, file));
  for (const file of readdirSync(join(root, 'src/demo'))) {
    copyFileSync(join(root, 'src/demo', file), join(stage, 'src/demo', file));
  }
  node([tsc, '-p', join(root, 'tsconfig.build.json'), '--outDir', join(stage, 'dist'), '--noCheck']);
  bundleCard(join(stage, 'dist/src'));
  const dist = join(stage, 'dist');
  symlinkSync(join(root, 'node_modules'), join(stage, 'node_modules'), 'dir');
  const into = [`--outbase=${dist}`, `--outdir=${dist}`];
  const bundled = (by: string, files: readonly string[]): void => {
    const paths = files.map((file) => join(dist, file));
    execFileSync('npm', ['run', '-s', by, '--', ...into, ...paths], { cwd: root });
  };
  bundled('build:solver', ['workers/solve.js']);
  bundled('build:commands', ['src/cli/main.js', 'src/door/heavy/thread.js', 'workers/worker.js']);
  rmSync(join(stage, 'node_modules'));
  const npm = ['pack', '--ignore-scripts', '--silent', '--pack-destination', dir];
  return join(dir, execFileSync('npm', npm, { cwd: stage, encoding: 'utf8' }).trim());
}

beforeAll(() => {
  dir = mkdtempSync(join(tmpdir(), 'pairstop-package-'));
  const tarball = packed();
  const modules = join(dir, 'node_modules');
  installed = join(modules, 'pairstop');
  mkdirSync(installed, { recursive: true });
  execFileSync('tar', ['-xzf', tarball, '-C', installed, '--strip-components=1']);
  // What a package manager would fetch, and only what the package names: one it forgot to name is not found.
  for (const name of [...Object.keys(manifest.dependencies), '@types/node']) {
    mkdirSync(dirname(join(modules, name)), { recursive: true });
    symlinkSync(join(root, 'node_modules', name), join(modules, name), 'dir');
  }
  writeFileSync(join(dir, 'package.json'), JSON.stringify({ type: 'module', private: true }));
}, 120_000);

afterAll(() => rmSync(dir, { recursive: true, force: true }));

const PROGRAM = `
import { readFileSync } from 'node:fs';
import {
  type Batch, batchJsonSchema, type BatchDocument, catalogue, type CheckReport, checkBatch, checkPlan, type Comparison,
  comparisonSvg, compareBatch, type ErrorCode, type Exact, formatLength, type InputProblem, type JsonSchema, type Notice,
  notices, PairstopError, parseLength, type Plan, planBatch, readBatch, readTold, type Recut, recutBatch, type SawCheck,
  sawCheck, showComparison, showPlan, showRecut, showSawCheck, submitBatch, type Submission, type Client, createClient,
  type ClientOptions, type PlanBatchOptions, VERSION,
} from 'pairstop';

const batch: Batch = readBatch(readFileSync(process.argv[2]!));
const options: PlanBatchOptions = { processes: 1, onProgress: ({ planned }) => void planned };
const plan: Plan = await planBatch(batch, options);
const report: CheckReport = checkPlan(batch, plan);
const rail = plan.mouldings[0]!.stops[0]!.pairs[0]!.rails[0]!;
const recut: Recut = await recutBatch({ batch, plan, lost: [rail], told: readTold(rail) });
const length: Exact = parseLength('16 3/8', 'in');
const gap: SawCheck = sawCheck(batch, { gap: 300 });
const schema: JsonSchema = batchJsonSchema();
const told: readonly Notice[] = plan.notices;
const small: BatchDocument = {
  schema: 'pairstop/batch@1',
  id: 'small',
  units: 'in',
  mouldings: [{ id: 'ash', face: 1 , rabbet: '1/4' }],
  frames: [{ id: 'A', moulding: 'ash', width: 8, height: 10 }],
  offers: [{ id: 'ash-8', moulding: 'ash', length: "8'", price: 12 }, { id: 'ash-10', moulding: 'ash', length: "10'", price: 14 }],
  options: { timeLimit: 5 },
};
const comparison: Comparison = await compareBatch(checkBatch(small), { processes: 1 });
let refused: ErrorCode | null = null;
let problems: readonly InputProblem[] = [];
try {
  checkBatch({ ...small, frames: [] });
} catch (error) {
  if (error instanceof PairstopError) [refused, problems] = [error.code, error.problems];
}
// Only their types: there is no Redis here.
export type Queue = readonly [Client, ClientOptions, Submission, typeof submitBatch, typeof createClient];
console.log(JSON.stringify({
  ok: report.ok,
  rails: report.verified.rails,
  exact: [Number(length.num), Number(length.den)],
  text: formatLength(415_925, 'in'),
  lost: recut.lost.length,
  gap: gap.gap,
  schema: Object.keys(schema).length > 3,
  known: told.every(({ code }) => code in notices),
  buys: comparison.mouldings[0]!.recommendation.offers,
  refused,
  about: refused !== null && catalogue[refused].exit,
  problems: problems.length,
  pages: [showPlan(batch, plan), showRecut(batch, recut), showSawCheck(batch, gap), showComparison(checkBatch(small), comparison), comparisonSvg(comparison)].map((page) => page.length > 200),
  version: VERSION,
}));
`;

describe('the packed package', () => {
  it('compiles into a strict program, and runs in it', () => {
    writeFileSync(join(dir, 'program.ts'), PROGRAM);
    const strict = [
      '--strict',
      '--noUncheckedIndexedAccess',
      '--exactOptionalPropertyTypes',
      '--verbatimModuleSyntax',
    ];
    const module = [
      '--module',
      'nodenext',
      '--target',
      'es2023',
      '--types',
      'node',
      '--skipLibCheck',
      'false',
    ];
    node([tsc, ...strict, ...module, 'program.ts']);
    const told = JSON.parse(node(['program.js', demo])) as Record<string, unknown>;
    expect(told).toEqual({
      ok: true,
      rails: expect.any(Number) as number,
      exact: [415_925, 1],
      text: '16 3/8"',
      lost: 1,
      gap: 0.3,
      schema: true,
      known: true,
      buys: expect.any(Array) as string[],
      refused: 'PS_BATCH',
      about: 2,
      problems: expect.any(Number) as number,
      pages: [true, true, true, true, true],
      version: manifest.version,
    });
    expect(told.rails).toBeGreaterThan(50);
    expect(told.problems).toBeGreaterThan(0);
  }, 120_000);

  it('has a command that plans the demo', () => {
    const command = join(installed, manifest.bin.pairstop);
    expect(readFileSync(command, 'utf8')).toMatch(/^#!\/usr\/bin\/env node\n/);
    expect(node([command, '--version']).trim()).toBe(manifest.version);
    expect(node([command, 'plan', demo, '--sheet', 'sheet.html', '--labels', 'labels.html'])).toMatch(
      /^Cut plan: lakeside-spring .*\n=+\n/,
    );
    // With the card's script in it, though nothing here could bundle one.
    expect(readFileSync(join(dir, 'sheet.html'), 'utf8')).toContain('cut-so-far.json');
    expect(readFileSync(join(dir, 'labels.html'), 'utf8')).toContain('data-label="A1T"');
  }, 60_000);

  it('exports every type that its own exports speak of', () => {
    const files = new Map<string, string>();
    const folder = join(installed, 'dist/src');
    for (const name of readdirSync(folder, { recursive: true, encoding: 'utf8' })) {
      if (name.endsWith('.d.ts')) files.set(name, readFileSync(join(folder, name), 'utf8'));
    }
    const ours = new Set(
      sourceFiles().flatMap(({ text }) =>
        [...text.matchAll(/^export (?:abstract )?(?:type|interface|class) (\w+)/gm)].map(
          (match) => match[1]!,
        ),
      ),
    );
    const blocks = [...files].flatMap(([name, text]) =>
      text.split(/^(?=export |declare |interface |type )/m).map((block) => ({ name, block })),
    );
    const exported = new Map<string, Set<string> | null>();
    for (const [, names, all, from] of files
      .get('index.d.ts')!
      .matchAll(/^export (?:type )?(?:\{([^}]*)\}|(\*)) from '\.\/(.*)\.js'/gm)) {
      const own =
        all === undefined ? new Set(names!.split(',').map((one) => one.replace('type ', '').trim())) : null;
      exported.set(`${from}.d.ts`, own);
    }
    const declares = /^(?:export )?(?:declare )?(?:abstract )?(?:interface|type|class|function|const) (\w+)/;
    const spoken = blocks.flatMap(({ name, block }) => {
      const known = exported.get(name);
      const declared = declares.exec(block)?.[1];
      if (known === undefined || declared === undefined) return [];
      if (known === null ? !block.startsWith('export') : !known.has(declared)) return [];
      const code = block.replaceAll(/\/\*.*?\*\/|'[^']*'|#\w+.*?;/gs, '');
      return [...code.matchAll(/\b[A-Z]\w+/g)].map(([word]) => ({ declared, word }));
    });
    const passedOn = [...files].flatMap(([name, text]) =>
      exported.get(name) === null
        ? [...text.matchAll(/^export type \{([^}]*)\} from/gm)].flatMap((match) =>
            match[1]!.trim().split(/, */),
          )
        : [],
    );
    const names = new Set([...spoken.map(({ declared }) => declared), ...passedOn]);
    const missing = spoken.filter(({ word }) => ours.has(word) && !names.has(word));
    expect(names.size).toBeGreaterThan(60);
    expect([...new Set(missing.map(({ declared, word }) => `${declared} speaks of ${word}`))]).toEqual([]);
  });

  it('carries the sources its maps speak of, and nothing that is not for use', () => {
    const all = readdirSync(installed, { recursive: true, encoding: 'utf8' });
    const files = all.filter((name) => statSync(join(installed, name)).isFile());
    expect(files.filter((name) => /(^|\/)(tests?|bench)\//.test(name))).toEqual([]);
    const maps = files.filter((name) => name.endsWith('.map'));
    for (const name of maps) {
      const map = JSON.parse(readFileSync(join(installed, name), 'utf8')) as {
        sources: [];
        sourcesContent?: [];
      };
      expect({ name, sources: map.sourcesContent?.length }).toEqual({ name, sources: map.sources.length });
    }
  });
});
