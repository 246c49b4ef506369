/** In which units the rack answers a person: those the shop uses, unless it is asked for others. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { unitsIn } from '../../src/lengths/parse.js';
import { createClient } from '../../src/queue/client/client.js';
import { runCli } from '../tools/cli.js';
import { TestRedis } from '../tools/redis.js';
import { testWorker } from '../tools/service.js';
import { shopBatch, shopPieces } from '../tools/shop.js';

let redis: TestRedis;
let folder: string;

beforeAll(async () => {
  redis = await TestRedis.start();
  folder = mkdtempSync(join(tmpdir(), 'pairstop-units-'));
});

afterAll(async () => {
  await redis.end();
  rmSync(folder, { recursive: true, force: true });
});

/** A command of the rack in a shop of its own; fails with what it said. */
function shop(prefix: string): (...args: readonly string[]) => Promise<string> {
  return async (...args) => {
    const env = { REDIS_URL: redis.url, PAIRSTOP_PREFIX: prefix };
    const { code, out, err } = await runCli(['rack', ...args], '', env);
    if (code !== 0) throw new Error(`rack ${args.join(' ')}: exit ${code}: ${err}${out}`);
    return out;
  };
}

const length = (text: string): readonly string[] => ['--moulding', 'ash', '--length', text];

describe('the units of a shop', () => {
  it('are metric where its pieces were entered so', async () => {
    const rack = shop('metric');
    expect(await rack('add', 'r1', ...length('3 m'))).toBe('r1: entered, 3000 mm\n');
    expect(await rack('list')).toContain('3000 mm');
    await rack('add', 'r2', ...length('2550'), '--units', 'mm');
    expect(await rack('edit', 'r2', '--length', '254.5 cm')).toContain('2545 mm');
    expect(await rack('history', 'r2')).toContain('2550 mm');
    expect(await rack('audit')).toContain('5545 mm');
    expect(await rack('list', '--units', 'in')).toContain('118 1/8"');
    await expect(rack('move', 'r1', '--place', 'wall', '--units', 'yd')).rejects.toThrow('allowed: in, mm');
    expect(await rack('list')).not.toContain('wall');
  });

  it('stay inches for one piece in metres among others, and for a bare number in any shop', async () => {
    const rack = shop('inches');
    await rack('add', 'r1', ...length('61 1/4'));
    await rack('add', 'r2', ...length('10 ft'));
    await rack('add', 'r3', ...length('3 m'));
    expect(await rack('list')).toContain('61 1/4"');
    expect(await shop('metric')('add', 'r3', ...length('60'))).toBe('r3: entered, 60"\n');
    expect(await shop('metric')('list')).toContain('1524 mm');
  });

  it('are those of the first table, and no later one changes them', async () => {
    const path = join(folder, 'rack.csv');
    writeFileSync(path, 'id,moulding,length\na,ash,2900 mm\nb,ash,2.4 m\nc,ash,60 in\n');
    const metric = shop('table');
    await metric('import', path);
    expect(await metric('list')).toContain('2900 mm');
    // What is exported is in millimetres, whatever the shop uses.
    await shop('inches')('export', '--csv', '--out', path);
    const rack = shop('moved');
    await rack('add', 'r0', ...length('12 1/2'));
    await rack('import', path);
    expect(await rack('list')).toContain('61 1/4"');
  });

  it('count what was delivered and left over in the units of its batch', async () => {
    const worker = await testWorker(redis.url);
    const client = createClient({ connection: redis.url });
    try {
      expect(await client.rack.units()).toBe('in');
      await client.rack.add(shopPieces('pine', 1), { units: 'in' });
      for (const id of ['one', 'two']) {
        await client.submit(shopBatch(id, ['pine']));
        await client.result(id, { wait: 50_000 });
      }
      await client.rack.receive('two');
      expect(await client.rack.units()).toBe('in');
      const { offcuts } = await client.rack.cut('two');
      expect(offcuts.length).toBeGreaterThan(0);
      expect(await client.rack.units()).toBe('mm');
    } finally {
      await client.close();
      await worker.stop();
    }
  });
});

it.each([
  ['16 3/8', null],
  ['2550', null],
  ['.5', null],
  ['16 3/8"', 'in'],
  ["8' 2 1/2", 'in'],
  ['10 ft', 'in'],
  ['3 inches', 'in'],
  ['3 m', 'mm'],
  ['40.5cm', 'mm'],
  ['405 MM', 'mm'],
  ['two yards', null],
])('%s is written in %s', (text, units) => {
  expect(unitsIn(text)).toBe(units);
});
