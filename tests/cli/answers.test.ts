/** `--json` of every command: a document with a JSON Schema of its own, or the answer that says how the command ended. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Ajv2020, type ValidateFunction } from 'ajv/dist/2020.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { JSON_SCHEMAS } from '../../src/documents/json-schemas.js';
import { KINDS } from '../../src/documents/kinds.js';
import { batchOf } from '../tools/batches.js';
import { type Ended, runCli } from '../tools/cli.js';
import { TestRedis } from '../tools/redis.js';
import { type TestWorker, testWorker } from '../tools/service.js';
import { shopBatch } from '../tools/shop.js';

let redis: TestRedis;
let worker: TestWorker;
let dir: string;
const at = (name: string): string => join(dir, name);

beforeAll(async () => {
  redis = await TestRedis.start();
  worker = await testWorker(redis.url);
  dir = mkdtempSync(join(tmpdir(), 'pairstop-answers-'));
  const write = (name: string, value: unknown): void => writeFileSync(at(name), JSON.stringify(value));
  write('one.json', batchOf('one', ['ash']));
  write('other.json', batchOf('one', ['oak']));
  write('long.json', { ...batchOf('long', ['ash']), offers: [] });
  write('wrong.json', { ...batchOf('one', ['ash']), units: 'yd' });
  write('shop.json', shopBatch('shop', ['ash']));
  writeFileSync(at('rack.csv'), 'id,moulding,length (mm)\nr1,ash,1750\nr2,ash,1750\n');
  writeFileSync(at('count.txt'), 'r3\n');
});

afterAll(async () => {
  await worker.stop();
  await redis.end();
  rmSync(dir, { recursive: true, force: true });
});

const ajv = new Ajv2020({ strict: false, allErrors: true, validateFormats: false });
const schemas = new Map<string, ValidateFunction>();

/** Holds standard output against the JSON Schema it names; gives that name. */
function documentOf({ out }: Ended): string {
  const document: unknown = JSON.parse(out);
  const name = String(Reflect.get(document as object, 'schema'));
  const kind = KINDS.find((one) => name === `pairstop/${one}@1`);
  if (kind === undefined) return `no document: ${out.slice(0, 200)}`;
  const validate = schemas.get(kind) ?? ajv.compile(JSON_SCHEMAS[kind]());
  schemas.set(kind, validate);
  return validate(document) ? kind : `${kind}: ${ajv.errorsText(validate.errors)}`;
}

type Row = readonly [command: string, exit: number, prints: string];

/** In this order: later lines rest on what earlier ones did. Files are named as they lie in the test's folder. */
const ROWS: readonly Row[] = [
  ['plan one.json --out plan.json', 0, 'plan'],
  ['plan long.json', 2, 'PS_BATCH'],
  ['plan wrong.json', 2, 'PS_BATCH'],
  ['plan nothing.json', 1, 'PS_FILE'],
  ['check one.json plan.json', 0, 'answer'],
  ['check other.json plan.json', 1, 'answer'],
  ['check one.json one.json', 2, 'PS_PLAN'],
  ['schema plan', 0, '-'],
  ['schema nothing', 2, 'PS_USAGE'],
  ['batch one.json', 0, 'batch'],
  ['batch wrong.json', 2, 'PS_BATCH'],
  ['batch nothing.json', 1, 'PS_FILE'],
  ['new folder', 0, 'answer'],
  ['new folder', 1, 'PS_FILE'],
  ['rails 16x20 --face 1 --rabbet 1/4', 0, 'rails'],
  ['rails 16 --face 1 --rabbet 1/4', 2, 'PS_USAGE'],
  ['compare one.json --no-break-even', 0, 'comparison'],
  ['compare one.json --labour', 0, 'hours'],
  ['compare long.json', 2, 'PS_BATCH'],
  ['saw one.json', 0, 'saw'],
  ['saw one.json --angle 45.9', 1, 'saw'],
  ['saw one.json --angle x', 2, 'PS_ANGLE'],
  ['recut one.json plan.json --lost ash/0/1/top', 0, 'recut'],
  ['recut one.json plan.json --lost none', 2, 'PS_RECUT'],
  ['worker --check', 0, 'answer'],
  ['submit one.json', 0, 'answer'],
  ['submit one.json --wait', 0, 'plan'],
  ['submit other.json', 2, 'PS_CONFLICT'],
  ['submit one.json --compare --wait', 0, 'comparison'],
  ['status', 0, 'answer'],
  ['status one', 0, 'answer'],
  ['status none', 1, 'PS_UNKNOWN'],
  ['result one', 0, 'plan'],
  ['result one --compare', 0, 'comparison'],
  ['result none', 1, 'PS_UNKNOWN'],
  ['cancel one', 1, 'answer'],
  ['cancel none', 1, 'PS_UNKNOWN'],
  ['list', 0, 'answer'],
  ['list --state done', 0, 'answer'],
  ['list --state lost', 2, 'PS_USAGE'],
  ['list --limit 0', 2, 'PS_USAGE'],
  ['workers', 0, 'answer'],
  ['retry one', 1, 'answer'],
  ['retry none', 1, 'PS_UNKNOWN'],
  ['audit', 0, 'answer'],
  ['audit --limit x', 2, 'PS_USAGE'],
  ['rights', 0, 'answer'],
  ['rack import rack.csv', 0, 'answer'],
  ['rack import nothing.csv', 1, 'PS_FILE'],
  ['rack add r3 --moulding ash --length 1750mm', 0, 'answer'],
  ['rack add r3 --moulding ash --length 1750mm', 2, 'PS_RACK'],
  ['rack edit r3 --length 1740mm', 0, 'answer'],
  ['rack move r3 --place wall', 0, 'answer'],
  ['rack list', 0, 'answer'],
  ['rack history r3', 0, 'answer'],
  ['rack history none', 2, 'PS_RACK'],
  ['rack count count.txt --place wall', 0, 'answer'],
  ['rack count count.txt', 1, 'answer'],
  ['rack export', 0, 'rack'],
  ['rack export --out shelf.json', 0, 'answer'],
  ['rack backup rack.jsonl', 0, 'answer'],
  ['rack restore rack.jsonl', 2, 'PS_RACK'],
  ['rack audit', 0, 'answer'],
  ['rack remove r3', 0, 'answer'],
  ['submit shop.json --wait', 0, 'plan'],
  ['cut shop --all', 0, 'answer'],
  ['cut one --all', 2, 'PS_RACK'],
  ['cut shop', 2, 'PS_USAGE'],
  ['rack receive shop', 2, 'PS_RACK'],
  ['night', 0, 'answer'],
  ['night status', 0, 'answer'],
  ['night close', 1, 'answer'],
  ['night set --close 22:00 --zone Europe/Berlin', 0, 'answer'],
  ['night set --close 25:00', 2, 'PS_USAGE'],
  ['night plan one.json', 0, 'plan'],
  ['quote one.json --against nothing', 0, 'quote'],
  ['quote wrong.json', 2, 'PS_BATCH'],
  ['keys add --name x', 0, 'answer'],
  ['keys add --name x --scopes y', 2, 'PS_USAGE'],
  ['keys list', 0, 'answer'],
  ['keys revoke none', 1, 'answer'],
  ['export shop.jsonl', 0, 'answer'],
  ['import nothing.jsonl', 1, 'PS_FILE'],
  ['import shop.jsonl', 2, 'PS_CONFLICT'],
  ['purge', 2, 'PS_USAGE'],
  ['purge one', 0, 'answer'],
  ['purge none', 1, 'answer'],
  ['nothing', 2, 'PS_USAGE'],
  ['rack nothing', 2, 'PS_USAGE'],
];

describe('--json', () => {
  it('prints a document with a schema, or how the command ended, refusals included', async () => {
    const wrong: unknown[] = [];
    for (const [command, exit, prints] of ROWS) {
      const args = command
        .split(' ')
        .map((word) => (/^\w+\.\w+$|^folder$/.test(word) && !/^\d/.test(word) ? at(word) : word));
      const ended = await runCli([...args, '--json'], '', { REDIS_URL: redis.url });
      const document = prints === '-' ? '-' : documentOf(ended);
      const answer = document === 'answer' ? (JSON.parse(ended.out) as Record<string, unknown>) : {};
      const refused = (answer.error as { readonly code: string } | null | undefined)?.code;
      const named = document !== 'answer' || (answer.command === args[0] && answer.exit === ended.code);
      const found = [command, ended.code, refused ?? document];
      if (found[1] !== exit || found[2] !== prints || !named) wrong.push([...found, ended.err.slice(0, 200)]);
    }
    expect(wrong).toEqual([]);
  }, 240_000);

  it('is tried here for every command there is', async () => {
    const words = async (args: readonly string[]): Promise<readonly string[]> => {
      const { out } = await runCli([...args, '--help']);
      const listed = out.slice(out.indexOf('\nCommands:')).matchAll(/^ {2}([a-z]+)/gm);
      return [...listed].map(([, word]) => word!).filter((word) => word !== 'help');
    };
    const tried = new Set(
      ROWS.flatMap(([line]) => [line.split(' ')[0]!, line.split(' ').slice(0, 2).join(' ')]),
    );
    const all: string[] = [];
    for (const word of await words([])) {
      const below = ['rack', 'keys', 'night'].includes(word) ? await words([word]) : [];
      all.push(...(below.length === 0 ? [word] : below.map((one) => `${word} ${one}`)));
    }
    // A service has no outcome.
    const services = new Set(['serve']);
    expect(all.length).toBeGreaterThan(30);
    expect(all.filter((one) => !tried.has(one) && !services.has(one))).toEqual([]);
  });
});
