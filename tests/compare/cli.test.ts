/** `pairstop compare` as a process: what it prints, writes and exits with. */
import { mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { checkComparisonDocument } from '../../src/documents/comparison/read.js';
import { runCli, STACK } from '../tools/cli.js';

const SMALL = {
  schema: 'pairstop/batch@1',
  id: 'small',
  units: 'mm',
  mouldings: [{ id: 'oak', face: 30, rabbet: 6 }],
  frames: [{ id: 'A', moulding: 'oak', quantity: 3, width: 300, height: 400 }],
  offers: [
    { id: 'oak-24', moulding: 'oak', length: 2400, price: 20 },
    { id: 'oak-30', moulding: 'oak', length: 3000, price: 24 },
  ],
};

let folder: string;

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'pairstop-compare-'));
});

afterAll(() => rm(folder, { recursive: true }));

async function file(name: string, content: unknown): Promise<string> {
  const path = join(folder, name);
  await writeFile(path, typeof content === 'string' ? content : JSON.stringify(content));
  return path;
}

describe('pairstop compare', () => {
  it('prints the recommendation first, writes document and chart, exit 0', async () => {
    const [out, svg] = [join(folder, 'lengths.json'), join(folder, 'chart.svg')];
    const batch = await file('small.json', SMALL);
    const flags = ['--max-length', '2.5 m', '--short-by', '5 mm', '--spare', '1 in 10', '--grow', '1,2'];
    const { code, out: page, err } = await runCli(['compare', batch, '--out', out, '--svg', svg, ...flags]);
    expect([code, err]).toEqual([0, '']);
    expect(page).toMatch(/^oak: buy .* proven: no purchase costs less/s);
    const comparison = checkComparisonDocument(JSON.parse(await readFile(out, 'utf8')));
    const [oak] = comparison.mouldings;
    expect(oak?.whatIf.map(({ what, length }) => [what, length])).toEqual([
      ['maxLength', 2500],
      ['shortBy', 5],
    ]);
    expect(oak?.spare?.share).toBe(0.1);
    expect(oak?.growth.map(({ times }) => times)).toEqual([1, 2]);
    expect(await readFile(svg, 'utf8')).toMatch(/^<svg .*<\/svg>\n$/s);
    expect((await readdir(folder)).filter((name) => name.includes('.part'))).toEqual([]);
  });

  it('is checked under the conditions it was asked under, and says so where they are left out', async () => {
    const [out, batch] = [join(folder, 'asked.json'), await file('asked-of.json', SMALL)];
    const flags = ['--max-length', '2.5 m', '--short-by', '5 mm', '--spare', '1 in 10', '--grow', '1,2'];
    await runCli(['compare', batch, '--no-break-even', '--out', out, ...flags]);
    const alike = await runCli(['check', batch, out, ...flags]);
    expect([alike.code, alike.out]).toEqual([0, expect.stringMatching(/: nothing wrong\n$/)]);
    const without = await runCli(['check', batch, out]);
    expect(without.code).toBe(1);
    expect(without.out).toMatch(/whatIf\[0\].* is checked with the same options\.\n$/s);
  });

  it('reads standard input and prints JSON', async () => {
    const { code, out } = await runCli(['compare', '-', '--json', '--no-break-even'], JSON.stringify(SMALL));
    expect(code).toBe(0);
    const comparison = checkComparisonDocument(JSON.parse(out));
    expect(comparison.mouldings[0]?.breakEven).toEqual([]);
  });

  it('exits 3 where all offers together are not enough', async () => {
    const few = { ...SMALL, offers: [{ ...SMALL.offers[0], available: 1 }] };
    const { code, out } = await runCli(['compare', await file('few.json', few)]);
    expect(code).toBe(3);
    expect(out).toContain('no purchase of what is offered makes this order');
  });

  it.each([
    [
      'nothing offered',
      { ...SMALL, offers: [], sticks: [{ id: 'r', moulding: 'oak', length: 6000 }] },
      [],
      /PS_OFFERS.*offers: given no offers; allowed: at least one offer of "oak"/s,
    ],
    [
      'a frame nothing can hold',
      { ...SMALL, offers: [{ ...SMALL.offers[0], length: 300 }] },
      [],
      /PS_BATCH.*frames\[0\]/s,
    ],
    [
      'a share that is none',
      SMALL,
      ['--spare', 'some'],
      /PS_BATCH.*options\.spare.*given "some".*"5 %", "1 in 20" or 0\.05/s,
    ],
    ['a length that is none', SMALL, ['--max-length', 'long'], /PS_BATCH.*options\.maxLength/s],
    ['no multiple', SMALL, ['--grow', '1,x'], /PS_USAGE.*--grow: given "1,x"; allowed: whole numbers/s],
    ['no JSON', '{', [], /PS_JSON/],
  ])('refuses %s with exit 2, in words', async (name, content, flags, words) => {
    const { code, out, err } = await runCli(['compare', await file(`${name}.json`, content), ...flags]);
    expect([code, out]).toEqual([2, '']);
    expect(err).toMatch(words);
    expect(err).not.toMatch(STACK);
  });

  it('has its schema printed', async () => {
    const { code, out } = await runCli(['schema', 'comparison']);
    expect(code).toBe(0);
    expect(JSON.parse(out)).toMatchObject({
      type: 'object',
      properties: { schema: { const: 'pairstop/comparison@1' } },
    });
  });
});
