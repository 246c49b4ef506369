/** `pairstop saw` as a process. */
import { mkdtemp, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { sawSchema } from '../../src/documents/saw/schema.js';
import { DEMO, runCli, STACK } from '../tools/cli.js';

let folder = '';

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'pairstop-saw-'));
});

afterAll(async () => {
  await rm(folder, { recursive: true, force: true });
});

describe('pairstop saw', () => {
  it('prints tolerances, the formula, the sketch, the test ring and the cautions', async () => {
    const { code, out, err } = await runCli(['saw', DEMO]);
    expect([code, err]).toEqual([0, '']);
    for (const text of [
      'Saw check: lakeside-spring',
      'no more than 1/64" (0.016")',
      'ash-cap, 45°: each of 8 cuts within 0.063°',
      'walnut-swan, 30°: each of 12 cuts within',
      'gap = 2·F / cos(θ + ε) · sin(n·ε)',
      'Test ring for 30°',
      'At the saw',
    ]) {
      expect(out).toContain(text);
    }
    expect(out).not.toContain('Measured');
  });

  it('exits with 1 when a measured angle is not true enough, with 0 when it is', async () => {
    const bad = await runCli(['saw', DEMO, '--angle', '45.2,30']);
    expect(bad.code).toBe(1);
    expect(bad.out).toContain(
      'NOT GOOD ash-cap, 45°: the last joint opens at the sight edge by 0.050" (over 3/64")',
    );
    expect(bad.out).toContain('The saw cuts 0.200° past 45°: turn it back by that');
    const good = await runCli(['saw', DEMO, '--angle', '45.2', '--gap', '1/8 in']);
    expect(good.code).toBe(0);
    expect(good.out).toContain('no angle was given near 30°');
  });

  it('writes the document, which fits the schema it prints', async () => {
    const out = join(folder, 'saw.json');
    expect((await runCli(['saw', DEMO, '--gap', '0.5 mm', '--out', out])).code).toBe(0);
    const document: unknown = JSON.parse(await readFile(out, 'utf8'));
    expect(sawSchema.parse(document)).toMatchObject({ schema: 'pairstop/saw@1', gap: 0.5, holds: null });
    const printed = await runCli(['saw', DEMO, '--gap', '0.5 mm', '--json']);
    expect(JSON.parse(printed.out)).toEqual(document);
    const schema = await runCli(['schema', 'saw']);
    expect(JSON.parse(schema.out)).toHaveProperty('properties.tests');
  });

  it('refuses what it cannot use, each with its code and what is allowed', async () => {
    const refusals = [
      [['saw', DEMO, '--gap', 'thin'], 2, 'PS_LENGTH'],
      [['saw', DEMO, '--gap', '0'], 2, 'PS_GAP'],
      [['saw', DEMO, '--gap', "3'"], 2, 'PS_GAP'],
      [['saw', DEMO, '--angle', 'square'], 2, 'PS_ANGLE'],
      [['saw', DEMO, '--angle', '22.5'], 2, 'PS_ANGLE'],
      [['saw', '-', '--angle', '45'], 2, 'PS_JSON'],
      [['saw', join(folder, 'nowhere.json')], 1, 'PS_FILE'],
    ] as const;
    for (const [args, code, told] of refusals) {
      const ended = await runCli(args);
      expect(ended).toMatchObject({ code, out: '' });
      expect(ended.err).toContain(told);
      expect(ended.err).not.toMatch(STACK);
    }
    expect((await runCli(['saw'])).err).toContain("missing required argument 'order'");
  }, 180_000);
});
