/** The commands of the door: serve, keys. */
import type { Command } from 'commander';
import type { ApiKey, KeyRing } from '../door/keys/keys.js';
import { PairstopError } from '../errors.js';
import { show } from '../read/problems.js';
import { answer, EXIT_DONE, EXIT_OTHER } from './ending.js';

interface ServeOptions {
  readonly port?: string;
  readonly host?: string;
  readonly alone?: string;
}

async function serve({ port, host, alone }: ServeOptions): Promise<number> {
  const { doorSettings } = await import('../door/settings.js');
  const { createLog, endProcess } = await import('../queue/log.js');
  const environment = {
    ...process.env,
    ...(port === undefined ? {} : { PAIRSTOP_DOOR_PORT: port }),
    ...(host === undefined ? {} : { PAIRSTOP_DOOR_HOST: host }),
  };
  const settings = doorSettings(environment);
  const { log, stream } = createLog(settings.logLevel);
  if (alone !== undefined) {
    const { serveAlone } = await import('../door/alone/alone.js');
    return endProcess(await serveAlone(alone, settings, environment, log), stream);
  }
  const { serveDoorUntilStopped } = await import('../door/serve.js');
  // A library's timer must not keep the process of a closed door.
  return endProcess(await serveDoorUntilStopped(settings, log), stream);
}

const DAY = 86_400_000;

interface AddOptions {
  readonly name: string;
  readonly scopes: string;
  readonly shop?: string;
  readonly days?: string;
  readonly rate?: string;
  readonly json?: boolean;
}

function numberOf(option: string, text: string | undefined, most: number): number | null {
  if (text === undefined) return null;
  const number = Number(text);
  if (Number.isInteger(number) && number >= 1 && number <= most) return number;
  throw new PairstopError(
    'PS_USAGE',
    `${option}: given ${show(text)}; allowed: a whole number from 1 to ${most}`,
  );
}

async function withKeys<T>(work: (ring: KeyRing, prefix: string) => Promise<T>): Promise<T> {
  const { doorSettings } = await import('../door/settings.js');
  const { Session } = await import('../queue/client/session.js');
  const { KeyRing } = await import('../door/keys/keys.js');
  const { redis, prefix, retention, timing } = doorSettings(process.env);
  const session = new Session({ connection: redis, prefix, patience: timing.patience, retention });
  try {
    return await work(new KeyRing(session, prefix), prefix);
  } finally {
    await session.close();
  }
}

const NAME = /^(?!\s)[^\p{Cc}\p{Cf}\p{Cs}\p{Zl}\p{Zp}]{1,80}(?<!\s)$/u;
const SHOP = /^[A-Za-z0-9_.{}-]{1,64}$/;

async function addKey(options: AddOptions): Promise<number> {
  const { SCOPES } = await import('../door/keys/keys.js');
  const { name, json } = options;
  const scopes = options.scopes.split(',').map((text) => text.trim());
  const known = SCOPES.filter((scope) => scopes.includes(scope));
  if (known.length !== new Set(scopes).size) {
    throw new PairstopError(
      'PS_USAGE',
      `--scopes: given ${show(options.scopes)}; allowed: ${SCOPES.join(', ')}, with commas between`,
    );
  }
  if (!NAME.test(name)) {
    throw new PairstopError('PS_USAGE', `--name: given ${show(name)}; allowed: 1 to 80 printable characters`);
  }
  if (options.shop !== undefined && !SHOP.test(options.shop)) {
    throw new PairstopError(
      'PS_USAGE',
      `--shop: given ${show(options.shop)}; allowed: 1 to 64 of letters, digits, _ . - { }`,
    );
  }
  const days = numberOf('--days', options.days, 36_500);
  const rate = numberOf('--rate', options.rate, 1_000_000);
  return withKeys(async (ring, prefix) => {
    const { key, text } = await ring.make({
      name,
      shop: options.shop ?? prefix,
      scopes: known,
      ends: days === null ? null : Date.now() + days * DAY,
      rate,
    });
    const facts = factsOf(key);
    const exit = await answer('keys', json, EXIT_DONE, { key: text, ...facts }, `${text}\n`);
    if (json !== true)
      process.stderr.write(
        `key ${key.id} of shop ${key.shop}: ${known.join(', ')}. It is shown this once.\n`,
      );
    return exit;
  });
}

/** Without its hash. */
function factsOf({ id, name, shop, scopes, made, ends, rate }: ApiKey): Omit<ApiKey, 'hash'> {
  return { id, name, shop, scopes, made, ends, rate };
}

function day(ms: number | null): string {
  return ms === null ? 'never' : new Date(ms).toISOString().slice(0, 10);
}

async function listKeys({ json }: { readonly json?: boolean }): Promise<number> {
  return withKeys(async (ring) => {
    const keys = (await ring.list()).map(factsOf);
    const lines = keys.map(
      ({ id, name, shop, scopes, made, ends }) =>
        `${id}  ${name}: ${scopes.join(', ')}; shop ${shop}; made ${day(made)}, ends ${day(ends)}`,
    );
    const text = lines.length === 0 ? 'no keys\n' : `${lines.join('\n')}\n`;
    return answer('keys', json, EXIT_DONE, { keys }, text);
  });
}

async function revokeKey(id: string, { json }: { readonly json?: boolean }): Promise<number> {
  return withKeys(async (ring) => {
    const revoked = await ring.revoke(id);
    const text = revoked ? `${id}: revoked\n` : `${show(id)}: there is no such key\n`;
    return answer('keys', json, revoked ? EXIT_DONE : EXIT_OTHER, { id, revoked }, text);
  });
}

export function addDoorCommands(program: Command, end: (code: number) => void): void {
  program
    .command('serve')
    .summary('serve over HTTP')
    .description(
      'Serves HTTP until SIGTERM; GET /docs says how to call it. Without any key it listens to this machine only. With --alone it also starts Redis and a worker, which yields to the door (PAIRSTOP_WORKER_NICE, here 10), and keeps everything in one folder. Settings come from the environment.',
    )
    .option('--port <port>', 'the port to listen on (8780)')
    .option('--host <address>', 'the address to listen on (127.0.0.1)')
    .option('--alone <folder>', 'start all that one shop needs, and keep its data in this folder')
    .action(async (options: ServeOptions) => end(await serve(options)));
  const keys = program.command('keys').summary('make, list and revoke the keys of callers');
  keys
    .command('add')
    .summary('make a key; it is printed only once')
    .requiredOption('--name <name>', 'whose key it is')
    .option('--scopes <scopes>', 'what it may do: read, submit, operate', 'read,submit')
    .option('--shop <prefix>', "the shop whose batches it reaches (the door's own)")
    .option('--days <days>', 'how many days it is valid (no end)')
    .option('--rate <requests>', 'most requests in ten seconds (what the door allows)')
    .option('--json', 'print it as JSON')
    .action(async (options: AddOptions) => end(await addKey(options)));
  keys
    .command('list')
    .summary('list the keys, without their secrets')
    .option('--json', 'as JSON')
    .action(async (options: { json?: boolean }) => end(await listKeys(options)));
  keys
    .command('revoke')
    .summary('revoke a key, at once')
    .argument('<id>', 'as listed')
    .option('--json', 'as JSON')
    .action(async (id: string, options: { json?: boolean }) => end(await revokeKey(id, options)));
  for (const command of keys.commands) command.exitOverride().configureHelp({ helpWidth: 100 });
}
