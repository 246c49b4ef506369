/** `pairstop recut` as a process. */
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { recutSchema } from '../../src/documents/recut/schema.js';
import { planned } from '../plan/kit.js';
import { runCli, STACK } from '../tools/cli.js';

const BATCH = {
  schema: 'pairstop/batch@1',
  id: 'small',
  units: 'in',
  saw: { clampBelow: '11' },
  mouldings: [{ id: 'ash', face: 1, rabbet: '1/4' }],
  frames: [{ id: 'A', moulding: 'ash', quantity: 2, width: 8, height: 10 }],
  offers: [{ id: 'ash-8', moulding: 'ash', length: "8'", price: 17.5, available: 2 }],
} as const;

let folder = '';
let batch = '';
let plan = '';

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'pairstop-recut-'));
  batch = join(folder, 'batch.json');
  plan = join(folder, 'plan.json');
  await writeFile(batch, JSON.stringify(BATCH));
  await writeFile(plan, JSON.stringify(await planned(BATCH)));
});

afterAll(async () => {
  await rm(folder, { recursive: true, force: true });
});

describe('pairstop recut', () => {
  it('prints where the lost rail comes from now, what is left to cut, and the cautions', async () => {
    const { code, out, err } = await runCli(['recut', batch, plan, '--lost', 'A/1/top']);
    expect([code, err]).toEqual([0, '']);
    for (const text of [
      'Recut: small',
      'Lost: A/1/top.',
      "in the plan's order",
      'Nothing else moves.',
      'CLAMP OR JIG, do not hold',
      'At the saw',
    ]) {
      expect(out).toContain(text);
    }
  });

  it('writes the document, which fits the schema it prints', async () => {
    const out = join(folder, 'recut.json');
    const told = join(folder, 'cut.txt');
    await writeFile(told, '# what has been cut\nstop 11 5/8\n');
    const args = ['recut', batch, plan, '--lost', 'A/1/left,A/2/left', '--cut-so-far', told, '--out', out];
    const ended = await runCli(args);
    expect(ended).toMatchObject({ code: 0, err: '' });
    expect(ended.out).toContain('Taken as cut: what the file says, and the lost rails.');
    const document = recutSchema.parse(JSON.parse(await readFile(out, 'utf8')));
    expect(document).toMatchObject({ lost: ['A/1/left', 'A/2/left'], cutSoFar: 'told' });
    // The next mishap goes on from here.
    const next = await runCli(['recut', batch, out, '--lost', 'A/1/left', '--json']);
    expect(next).toMatchObject({ code: 0, err: '' });
    expect(recutSchema.parse(JSON.parse(next.out)).lost).toEqual(['A/1/left']);
    const schema = await runCli(['schema', 'recut']);
    expect(JSON.parse(schema.out)).toHaveProperty('properties.mouldings');
  });

  it('exits with 3 when nothing left can replace it, saying what would', async () => {
    const short = join(folder, 'short.json');
    const one = {
      ...BATCH,
      offers: [{ ...BATCH.offers[0], available: 1 }],
      frames: [{ ...BATCH.frames[0], width: 12 }],
    };
    await writeFile(short, JSON.stringify(one));
    const made = join(folder, 'short-plan.json');
    await writeFile(made, JSON.stringify(await planned(one)));
    const lost = 'A/1/right,A/1/left,A/1/top,A/1/bottom';
    const ended = await runCli(['recut', short, made, '--lost', lost]);
    expect(ended).toMatchObject({ code: 3, err: '' });
    expect(ended.out).toMatch(/SHORT of ash: A\/1 not completed/);
    expect(ended.out).toMatch(/17\.50 at\s+the\s+offers' prices/);
  });

  it('refuses what it cannot use, each with its code and what is allowed', async () => {
    const told = join(folder, 'bad.txt');
    await writeFile(told, 'stop 99\n');
    const other = join(folder, 'other.json');
    await writeFile(other, JSON.stringify({ ...BATCH, id: 'other' }));
    const refusals = [
      [
        ['recut', batch, plan, '--lost', 'B/1/top'],
        2,
        '--lost: given "B/1/top"; allowed: a rail that this plan cuts',
      ],
      [['recut', batch, plan, '--lost', ','], 2, '--lost: given nothing'],
      [
        ['recut', batch, plan, '--lost', 'A/1/top', '--cut-so-far', told],
        2,
        'line 1: given "stop 99"; allowed: a stop',
      ],
      [['recut', other, plan, '--lost', 'A/1/top'], 2, 'the plan of "small"'],
      [['recut', plan, batch, '--lost', 'A/1/top'], 2, 'PS_BATCH'],
      [['recut', '-', '-', '--lost', 'A/1/top'], 2, 'PS_USAGE'],
      [['recut', batch, plan], 2, '--lost: given nothing; allowed: the rails that were lost'],
    ] as const;
    for (const [args, code, text] of refusals) {
      const ended = await runCli(args);
      expect(ended).toMatchObject({ code, out: '' });
      expect(ended.err).toContain(text);
      expect(ended.err).not.toMatch(STACK);
    }
  }, 180_000);
});
