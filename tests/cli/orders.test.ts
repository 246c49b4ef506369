/** An office's order through the command: CSV in, example files, one frame's rails, outcomes for programs. */

import { mkdir, mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Ajv2020 } from 'ajv/dist/2020.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { answerJsonSchema } from '../../src/documents/answer/schema.js';
import { readBatch } from '../../src/documents/batch/read.js';
import { frameRailsJsonSchema } from '../../src/documents/rails/schema.js';
import { type Ended, runCli, STACK } from '../tools/cli.js';

let folder = '';
const file = (name: string): string => join(folder, name);

const FILES = {
  'frames.csv':
    '\uFEFFOrder;Moulding;Qty;Width (cm);Height (cm);Measured by\r\nA-1;ash;2;40,5;50;glass\r\nA-2;ash;1;30;20;outside\r\n',
  'mouldings.csv': 'id;face (mm);rabbet (mm);end trim (mm)\r\nash;30;6,5;10\r\n',
  'offers.csv': 'id,moulding,length,price,supplier\nash-24,ash,2.4 m,18.50,mill\nash-30,ash,3 m,22,yard\n',
  'suppliers.csv': 'id\nmill\nyard\n',
  'saw.csv': 'setting;value\r\nunits;mm\r\nkerf;2,4\r\n',
};

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'pairstop-orders-'));
  await mkdir(file('order'));
  for (const [name, text] of Object.entries(FILES)) await writeFile(file(`order/${name}`), text);
  const [head, ...rows] = FILES['frames.csv'].split('\r\n');
  await writeFile(file('wrong.csv'), [head, 'A-0;ash;two;40,5;50;glass', ...rows].join('\r\n'));
});

afterAll(async () => {
  await rm(folder, { recursive: true, force: true });
});

const ajv = new Ajv2020();
const isAnswer = ajv.compile(answerJsonSchema());

/** The command's outcome, which is JSON whatever happened. */
function answerOf({
  out,
  code,
}: Ended): { readonly code?: string; readonly message?: string; readonly problems?: unknown } & Record<
  string,
  unknown
> {
  const answer = JSON.parse(out) as { exit: number; error: object | null; result: object | null };
  expect({ fits: isAnswer(answer), errors: isAnswer.errors }).toEqual({ fits: true, errors: null });
  expect(answer.exit).toBe(code);
  return { ...answer.error, ...answer.result };
}

describe('an order in CSV', () => {
  it('is planned from a folder, and means the batch that `batch` writes', async () => {
    const [folderPlan, written] = [
      await runCli(['plan', file('order'), '--json']),
      await runCli(['batch', file('order'), '--out', file('order.json')]),
    ];
    expect([folderPlan.err, written.err]).toEqual(['', '']);
    const batch = readBatch(await readFile(file('order.json')));
    expect(batch).toMatchObject({
      id: 'order',
      units: 'mm',
      frames: [{ id: 'A-1', quantity: 2 }, { id: 'A-2' }],
    });
    await writeFile(file('plan.json'), folderPlan.out);
    const check = await runCli(['check', file('order.json'), file('plan.json'), '--json']);
    expect(answerOf(check)).toMatchObject({ ok: true });
  });

  it('is planned from files of any place and from standard input', async () => {
    const beside = ['mouldings', 'offers', 'suppliers', 'saw'].flatMap((name) => [
      `--${name}`,
      file(`order/${name}.csv`),
    ]);
    const { code, out, err } = await runCli(['batch', '-', ...beside, '--id', 'mine'], FILES['frames.csv']);
    expect({ code, err }).toEqual({ code: 0, err: '' });
    expect(JSON.parse(out)).toMatchObject({
      id: 'mine',
      frames: [{ id: 'A-1', width: '40.5 cm' }, {}],
      offers: [{}, {}],
    });
  });

  it('is refused by file, line and column, for a person and for a program', async () => {
    const args = [
      'plan',
      file('wrong.csv'),
      '--mouldings',
      file('order/mouldings.csv'),
      '--saw',
      file('order/saw.csv'),
    ];
    const person = await runCli(args);
    expect(person.code).toBe(2);
    expect(person.err).toContain(`${file('wrong.csv')} line 2, Qty: given "two"; allowed: `);
    expect(person.err).not.toMatch(STACK);
    const program = answerOf(await runCli([...args, '--json']));
    expect(program).toMatchObject({
      code: 'PS_BATCH',
      problems: [{ file: file('wrong.csv'), line: 2, column: 'Qty', given: '"two"' }],
    });
  });

  it('a frame that nothing can hold is told by its line, or skipped', async () => {
    const frames = 'id,width (m),height (m)\nA,5,0.4\nB,0.4,0.5\n';
    const args = [
      'plan',
      '-',
      '--mouldings',
      file('order/mouldings.csv'),
      '--offers',
      file('order/offers.csv'),
      '--suppliers',
      file('order/suppliers.csv'),
    ];
    const refused = await runCli(args, frames);
    expect(refused.code).toBe(2);
    expect(refused.err).toContain('standard input line 2, width (m): given frame "A"');
    const skipped = await runCli([...args, '--skip-impossible'], frames);
    expect(skipped.code).toBe(3);
    expect(skipped.out).toContain('SKIPPED of ash: 1 frame that nothing can hold, A/1');
  });

  it('is planned with a chosen purchase: some offers, one supplier, as compared', async () => {
    const bought = async (...more: readonly string[]): Promise<unknown> => {
      const { out, err } = await runCli(['plan', file('order'), '--json', ...more]);
      expect(err).toBe('');
      const plan = JSON.parse(out) as { buy: { offer: string }[] };
      return plan.buy.map(({ offer }) => offer).sort();
    };
    expect(await bought('--offers', 'ash-30')).toEqual(['ash-30']);
    expect(await bought('--supplier', 'mill')).toEqual(['ash-24']);
    await runCli(['compare', file('order'), '--out', file('lengths.json'), '--no-break-even']);
    const { mouldings } = JSON.parse(await readFile(file('lengths.json'), 'utf8')) as {
      mouldings: { recommendation: { offers: string[] } }[];
    };
    expect(await bought('--as-compared', file('lengths.json'))).toEqual(
      mouldings[0]!.recommendation.offers.toSorted(),
    );
    const unknown = answerOf(await runCli(['plan', file('order'), '--offers', 'ash-3', '--json']));
    expect(unknown).toMatchObject({
      code: 'PS_USAGE',
      message: expect.stringContaining('the nearest is ash-30'),
    });
  });

  it('a folder with a file of an unknown name is refused, and options for CSV beside JSON too', async () => {
    await mkdir(file('strange'));
    await writeFile(file('strange/farmes.csv'), FILES['frames.csv']);
    expect(answerOf(await runCli(['batch', file('strange'), '--json']))).toMatchObject({
      code: 'PS_CSV',
      message: expect.stringContaining('the nearest is frames.csv'),
    });
    expect(answerOf(await runCli(['plan', file('order.json'), '--units', 'mm', '--json']))).toMatchObject({
      code: 'PS_USAGE',
    });
  });
});

describe('pairstop new', () => {
  it('writes files that plan as they are, and overwrites nothing', async () => {
    for (const units of ['in', 'mm']) {
      const made = await runCli(['new', file(`new-${units}`), '--units', units, '--json']);
      expect(answerOf(made)).toMatchObject({
        files: expect.arrayContaining(['frames.csv', 'saw.csv', 'order.json']),
      });
      const csv = await runCli(['plan', file(`new-${units}`), '--json']);
      const json = await runCli(['plan', file(`new-${units}/order.json`), '--json']);
      expect(csv).toMatchObject({ code: 0, err: '' });
      expect(csv.out).toBe(json.out);
    }
    await writeFile(file('new-in/frames.csv'), 'mine');
    const again = answerOf(await runCli(['new', file('new-in'), '--json']));
    expect(again).toMatchObject({
      code: 'PS_FILE',
      problems: expect.arrayContaining([expect.objectContaining({ path: file('new-in/frames.csv') })]),
    });
    expect(await readFile(file('new-in/frames.csv'), 'utf8')).toBe('mine');
  });
});

describe('pairstop rails', () => {
  const isRails = ajv.compile(frameRailsJsonSchema());

  it('16 x 20 glass in a face of 1 1/4 with a rabbet of 1/4, by hand', async () => {
    const { code, out } = await runCli(['rails', '16x20', '--face', '1 1/4', '--rabbet', '1/4']);
    expect(code).toBe(0);
    // 16 + 1/8 − 1/2 + 2 1/2 = 18 1/8 and 22 1/8; 2 · (18 1/8 + 22 1/8) = 80 1/2.
    expect(out).toMatch(/18 1\/8".*top \+ bottom[\s\S]*22 1\/8".*right \+ left/);
    expect(out).toMatch(
      /outside +18 1\/8" x 22 1\/8"[\s\S]*rabbet +16 1\/8" x 20 1\/8"[\s\S]*sight +15 5\/8" x 19 5\/8"/,
    );
    expect(out).toMatch(/rails together +80 1\/2"/);
  });

  it('305 x 407 mm with a face of 66, no rabbet and no play takes 2(w + h) + 8 faces: 1952 mm (geometry)', async () => {
    const args = [
      'rails',
      '305x407',
      '--units',
      'mm',
      '--face',
      '66',
      '--rabbet',
      '0',
      '--play',
      '0',
      '--kerf',
      '0',
      '--json',
    ];
    const answer = JSON.parse((await runCli(args)).out) as { railLength: number; oneRun: number };
    expect({ fits: isRails(answer), errors: isRails.errors }).toEqual({ fits: true, errors: null });
    expect(answer).toMatchObject({
      railLength: 1952,
      oneRun: 1952,
      sizes: { outside: [437, 539], sight: [305, 407] },
    });
  });

  it('a number without a unit counts in the unit that the others name, and in neither where they name both', async () => {
    const lengths = async (...args: readonly string[]): Promise<unknown> => {
      const ended = await runCli(['rails', ...args, '--json']);
      return ended.code === 0
        ? (JSON.parse(ended.out) as { sizes: { outside: unknown } }).sizes.outside
        : answerOf(ended);
    };
    // 400 + 3.175 − 12 + 60, and up to half a millimetre; the play is 1/8 in.
    expect(await lengths('400x500mm', '--face', '30', '--rabbet', '6')).toEqual([451.5, 551.5]);
    expect(await lengths('400x500', '--face', '30 mm', '--rabbet', '6 mm')).toEqual([451.5, 551.5]);
    expect(await lengths('16x20in', '--face', '32 mm', '--rabbet', '6')).toMatchObject({
      code: 'PS_USAGE',
      message: expect.stringContaining('--rabbet: given "6", which says no unit') as string,
    });
  });

  it('takes the moulding from a file, and tells what is wrong by its option', async () => {
    const listed = await runCli([
      'rails',
      '6 sides of 9 in',
      '--mouldings',
      file('order/mouldings.csv'),
      '--json',
    ]);
    expect(JSON.parse(listed.out)).toMatchObject({
      rails: [{ angle: 30, sides: expect.arrayContaining(['side6']) }],
    });
    const wrong = answerOf(await runCli(['rails', '16x20', '--face', '1', '--rabbet', '2', '--json']));
    expect(wrong).toMatchObject({ code: 'PS_USAGE', problems: [{ path: '--rabbet' }] });
  });
});

describe('--json', () => {
  it.each([
    [['plan', 'no-such.json', '--json'], 'PS_FILE', 1],
    [['plan', '--json'], 'PS_USAGE', 2],
    [['nothing', '--json'], 'PS_USAGE', 2],
    [['recut', 'a', 'b', '--lost', 'x', '--json'], 'PS_FILE', 1],
    [['schema', 'nothing', '--json'], 'PS_USAGE', 2],
  ])('%j answers a refusal in JSON too', async (args, code, exit) => {
    const ended = await runCli(args);
    expect(ended.code).toBe(exit);
    expect(answerOf(ended)).toMatchObject({ code });
  });
});
