/** Clients made from the OpenAPI document, and with a standard library alone, go the whole round. */
import { execFile } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { batchOf } from '../tools/batches.js';
import { ask, closeDoor, type DoorSetting, makeKey, openDoor } from '../tools/door.js';

const run = promisify(execFile);
const here = (name: string): string => fileURLToPath(new URL(name, import.meta.url));

let setting: DoorSetting;
let folder: string;

beforeAll(async () => {
  setting = await openDoor();
  folder = mkdtempSync(join(tmpdir(), 'pairstop-clients-'));
  symlinkSync(here('../../node_modules'), join(folder, 'node_modules'));
  writeFileSync(join(folder, 'package.json'), '{"type":"module"}');
});

afterAll(async () => {
  await closeDoor(setting);
  rmSync(folder, { recursive: true, force: true });
});

describe('a client generated from the OpenAPI document', () => {
  it('compiles strictly and goes the whole round', async () => {
    const { text } = await ask(setting.door, 'GET', '/v1/openapi.json');
    writeFileSync(join(folder, 'openapi.json'), text);
    await run(process.execPath, [
      here('clients/generate.mjs'),
      join(folder, 'openapi.json'),
      join(folder, 'door.ts'),
    ]);
    writeFileSync(join(folder, 'round.ts'), readFileSync(here('clients/round.ts.txt')));
    const tsc = here('../../node_modules/typescript/bin/tsc');
    const strict = [
      '--strict',
      '--exactOptionalPropertyTypes',
      '--noUncheckedIndexedAccess',
      '--skipLibCheck',
    ];
    const modern = ['--module', 'nodenext', '--target', 'es2023', '--lib', 'es2023,dom', '--types', 'node'];
    const compiled = await run(process.execPath, [tsc, ...strict, ...modern, join(folder, 'round.ts')], {
      cwd: folder,
    }).catch((error: { stdout?: string }) => ({ stdout: error.stdout ?? 'failed' }));
    expect(compiled.stdout).toBe('');
    const batch = JSON.stringify(batchOf('generated', ['ash']));
    const { stdout } = await run(process.execPath, [join(folder, 'round.js'), setting.door.url, batch]);
    expect(stdout.trim().split('\n')).toEqual([
      '202 waiting /v1/batches/generated/plan',
      'done',
      'done complete',
      expect.stringMatching(/^pairstop\/plan@1 \d+$/),
      'Cut plan:',
      'true',
      '422 PS_BATCH units',
      '409 PS_ENDED',
    ]);
  });
});

describe("a program with Python's standard library", () => {
  it('goes the whole round, with a key', async () => {
    const order = join(folder, 'order.json');
    writeFileSync(order, JSON.stringify(batchOf('by python', ['ash'])));
    const { text } = await makeKey(setting.redis.url);
    const { stdout } = await run('python3', [here('clients/round.py'), setting.door.url, order, text]);
    expect(stdout.trim().split('\n')).toEqual([
      '202 waiting',
      'done',
      expect.stringMatching(/^complete \d+/),
      'Cut plan:',
      '422 PS_BATCH',
      '404 PS_UNKNOWN',
    ]);
  });
});
