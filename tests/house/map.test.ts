/** The map for the next engineer names what there is: files, folders, words of the code, commands, and its own headings. */
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { expect, it } from 'vitest';

const root = fileURLToPath(new URL('../..', import.meta.url));
const page = readFileSync(`${root}/DEVELOPERS.md`, 'utf8');
const prose = page.replaceAll(/^```.*?^```/gms, '');
const FOLDERS = ['src', 'tests', 'bench', 'workers', '.ci'] as const;
const MADE = /^(dist\/|\.\.\/)/;

const paths = FOLDERS.flatMap((folder) =>
  readdirSync(`${root}/${folder}`, { recursive: true, encoding: 'utf8' }).map(
    (path) => `/${folder}/${path.replaceAll('\\', '/')}`,
  ),
);
const code = [...paths, '/package.json', '/docker-compose.yml']
  .filter((path) => /\.(ts|tsx|mjs|json|yml)$/.test(path))
  .map((path) => readFileSync(`${root}${path}`, 'utf8'))
  .join('\n');

const quoted = [...new Set([...prose.matchAll(/`([^`\n]+)`/g)].map((match) => match[1]!))];
const filesNamed = quoted.filter(
  (text) => /^[\w./-]+\.(ts|tsx|mjs|py|js|jsonl)$/.test(text) && !MADE.test(text),
);
const wordsNamed = quoted.filter(
  (text) => /^[A-Za-z_]\w*(\.[a-z]\w*)?$/.test(text) && !filesNamed.includes(text),
);
const foldersNamed = [...page.matchAll(/^\| ((?:`[a-z]+`(?:, )?)+) \|/gm)]
  .flatMap((match) => match[1]!.split(', '))
  .map((text) => text.replaceAll('`', ''));

it('names files that are there', () => {
  expect(filesNamed.length).toBeGreaterThan(100);
  expect(filesNamed.filter((name) => !paths.some((path) => path.endsWith(`/${name}`)))).toEqual([]);
});

it('has a line for each folder of src, and no other', () => {
  const folders = readdirSync(`${root}/src`, { withFileTypes: true })
    .filter((entry) => entry.isDirectory() && entry.name !== 'demo')
    .map(({ name }) => name);
  const mapped = foldersNamed.filter((name) => existsSync(`${root}/src/${name}`));
  expect([...new Set(mapped)].sort()).toEqual(folders.sort());
});

it('names words that the code has', () => {
  expect(wordsNamed.length).toBeGreaterThan(80);
  const unknown = wordsNamed.filter(
    (word) =>
      !new RegExp(`\\b${word.split('.').at(-1)}\\b`).test(code) &&
      !paths.some((path) => path.endsWith(`/${word}`)),
  );
  expect(unknown).toEqual([]);
});

it('names commands of package.json', () => {
  const { scripts } = JSON.parse(readFileSync(`${root}/package.json`, 'utf8')) as {
    readonly scripts: Readonly<Record<string, string>>;
  };
  const named = [...prose.matchAll(/`(?:npm run |… )?((?:bench|build):[a-z]+)/g)].map((match) => match[1]!);
  expect(named.length).toBeGreaterThan(15);
  expect(named.filter((name) => !Object.hasOwn(scripts, name))).toEqual([]);
});

it('links to headings that it has', () => {
  const headings = [...page.matchAll(/^#+ (.*)$/gm)].map((match) =>
    match[1]!
      .toLowerCase()
      .replaceAll(/[^\w -]/g, '')
      .replaceAll(' ', '-'),
  );
  const links = [...page.matchAll(/\]\(#([^)]*)\)/g)].map((match) => match[1]!);
  expect(links.length).toBeGreaterThan(10);
  expect(links.filter((link) => !headings.includes(link))).toEqual([]);
  expect(headings.length).toBe(new Set(headings).size);
});
