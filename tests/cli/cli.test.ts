/** The command end to end, as a process: what it prints, writes and exits with. */
import { mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { readBatch } from '../../src/documents/batch/read.js';
import { readPlan } from '../../src/documents/plan/read.js';
import { DEMO, type Ended, runCli } from '../tools/cli.js';

const SMALL = {
  schema: 'pairstop/batch@1',
  id: 'small',
  units: 'in',
  mouldings: [{ id: 'ash', face: 1, rabbet: '1/4' }],
  frames: [{ id: 'A', moulding: 'ash', quantity: 2, width: 8, height: 10 }],
  offers: [{ id: 'ash-8', moulding: 'ash', length: "8'", price: 17.5 }],
};

function text(batch: object): string {
  return JSON.stringify(batch);
}

let folder = '';

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'pairstop-cli-'));
});

afterAll(async () => {
  await rm(folder, { recursive: true, force: true });
});

/** What a person sees when something is wrong: readable lines, never a stack trace. */
function expectReadable({ err }: Ended, code: string): void {
  expect(err).toContain(`PS_${code}`);
  expect(err).not.toMatch(/^\s+at .+:\d+:\d+/m);
}

describe('pairstop plan', () => {
  it('plans the demo: the page on standard output, the plan in a file that holds', async () => {
    const out = join(folder, 'demo.json');
    const ended = await runCli(['plan', DEMO, '--out', out]);
    expect(ended).toMatchObject({ code: 0, err: '' });
    expect(ended.out).toContain('Cut plan: lakeside-spring');
    expect(readPlan(await readFile(out)).status).toBe('complete');
    const checked = await runCli(['check', DEMO, out]);
    expect(checked.code).toBe(0);
    expect(checked.out).toContain('nothing wrong');
    expect((await readdir(folder)).filter((name) => name.endsWith('.part'))).toEqual([]);
  }, 120_000);

  it('reads standard input and prints the plan as JSON', async () => {
    const ended = await runCli(['plan', '-', '--json'], text(SMALL));
    expect(ended.code).toBe(0);
    expect(readPlan(ended.out).batch).toBe('small');
    expect(await runCli(['plan', '-', '--out', '-'], text(SMALL))).toEqual(ended);
  });

  it('exits with 3 when stock is short, the plan of the rest written', async () => {
    const out = join(folder, 'short.json');
    const offers = [{ ...SMALL.offers[0], available: 1 }];
    const frames = [{ ...SMALL.frames[0], quantity: 3 }];
    const ended = await runCli(['plan', '-', '--out', out], text({ ...SMALL, offers, frames }));
    expect(ended.code).toBe(3);
    expect(ended.out).toContain('SHORT of ash');
    const plan = readPlan(await readFile(out));
    expect(plan.status).toBe('short');
    expect(plan.mouldings[0]?.sticks).toHaveLength(1);
  });

  it('refuses a bad batch with every problem, its path, what was given and what is allowed', async () => {
    const frames = [{ ...SMALL.frames[0], width: -8, colour: 'red' }];
    const ended = await runCli(['plan', '-'], text({ ...SMALL, frames, units: 'ft' }));
    expect(ended).toMatchObject({ code: 2, out: '' });
    expectReadable(ended, 'BATCH');
    expect(ended.err).toMatch(/units: given "ft"; allowed: .*"in" or "mm"/);
    expect(ended.err).toContain('frames[0].width of "A": given -8; allowed: ');
    expect(ended.err).toContain('frames[0].colour');
  });

  it('refuses frames that nothing can hold', async () => {
    const frames = [{ ...SMALL.frames[0], width: 200 }];
    const ended = await runCli(['plan', '-'], text({ ...SMALL, frames }));
    expect(ended.code).toBe(2);
    expectReadable(ended, 'BATCH');
    expect(ended.err).toMatch(/frames\[0\]\.width: given frame "A", which needs a rail, .* clear/);
  });

  it('refuses what is not JSON, and names a file that cannot be read or written', async () => {
    const broken = await runCli(['plan', '-'], '{"a":');
    expect(broken.code).toBe(2);
    expectReadable(broken, 'JSON');
    const missing = await runCli(['plan', join(folder, 'nowhere.json')]);
    expect(missing.code).toBe(1);
    expectReadable(missing, 'FILE');
    const unwritable = await runCli(['plan', '-', '--out', join(folder, 'no', 'plan.json')], text(SMALL));
    expect(unwritable.code).toBe(1);
    expectReadable(unwritable, 'FILE');
  });
});

describe('pairstop check', () => {
  it('exits with 1 and says where a plan is wrong', async () => {
    const batch = join(folder, 'batch.json');
    await writeFile(batch, text(SMALL));
    const made = await runCli(['plan', batch, '--json']);
    const plan = readPlan(made.out);
    const spoiled = { ...plan, totals: { ...plan.totals, cuts: plan.totals.cuts + 1 } };
    const ended = await runCli(['check', batch, '-'], text(spoiled));
    expect(ended.code).toBe(1);
    expect(ended.out).toContain('CHECK_TOTALS totals.cuts');
  });

  it('takes only one document from standard input', async () => {
    const ended = await runCli(['check', '-', '-'], text(SMALL));
    expect(ended.code).toBe(2);
    expectReadable(ended, 'USAGE');
  });
});

describe('pairstop', () => {
  it('prints the schemas', async () => {
    const ended = await runCli(['schema', 'batch']);
    expect(ended.code).toBe(0);
    expect(JSON.parse(ended.out)).toHaveProperty('properties.frames');
    expect((await runCli(['schema', 'frame'])).code).toBe(2);
  });

  it('exits with 2 for a command line it does not understand, with 0 for help', async () => {
    expect((await runCli(['plan'])).code).toBe(2);
    expect((await runCli(['cut'])).code).toBe(2);
    expect((await runCli(['plan', 'a', '--fast'])).code).toBe(2);
    const help = await runCli(['--help']);
    expect(help.code).toBe(0);
    for (const command of ['plan', 'check', 'schema']) expect(help.out).toContain(command);
  });

  it('gives the version of the package', async () => {
    const file = new URL('../../package.json', import.meta.url);
    const { version } = JSON.parse(await readFile(file, 'utf8')) as { readonly version: string };
    expect((await runCli(['--version'])).out.trim()).toBe(version);
  });
});

describe('the demo', () => {
  it('is what the README promises: three mouldings, about sixty frames, a flaw, a ring, a match', async () => {
    const batch = readBatch(await readFile(DEMO));
    expect(batch.mouldings).toHaveLength(3);
    expect(batch.mouldings.some((moulding) => moulding.reversible)).toBe(true);
    expect(batch.frames.reduce((sum, line) => sum + line.quantity, 0)).toBe(60);
    expect(batch.frames.some((line) => line.match === 'frame')).toBe(true);
    expect(batch.frames.some((line) => line.shape.kind === 'regular')).toBe(true);
    expect(batch.sticks.some((stick) => stick.flaws.length > 0)).toBe(true);
    expect(batch.offers.every((offer) => offer.price > 0)).toBe(true);
  });
});
