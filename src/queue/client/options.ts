/** What a client is given by a program, checked: types are no help to a caller in plain JavaScript. */
import type { Telemetry } from 'bullmq';
import { type InputProblem, PairstopError } from '../../errors.js';
import type { WorkKind } from '../../processes/solver/tasks.js';
import { show } from '../../read/problems.js';
import { addressOf, isRedisUrl, type RedisAddress, URL_ALLOWED } from '../redis/address.js';
import { redisAddress, whoRuns } from '../settings.js';

const SECOND = 1_000;
const DAY = 86_400 * SECOND;
const LONGEST_PATIENCE = DAY;
const LONGEST_RETENTION = 3_650 * DAY;
const PREFIX = /^[A-Za-z0-9_.{}-]{1,64}$/;

export interface ClientOptions {
  /** `redis://` or `rediss://` URL, or more than a URL can say; by default REDIS_URL and the settings beside it. */
  readonly connection?: string | RedisAddress;
  /** The shop's prefix; by default PAIRSTOP_PREFIX, or "pairstop". */
  readonly prefix?: string;
  /** Milliseconds any call may wait for Redis; by default 10 s. */
  readonly patience?: number;
  /** Who submits and cancels, for the audit trail; by default PAIRSTOP_WHO, or user and machine. */
  readonly who?: string;
  /** Milliseconds batches submitted here are kept once finished; by default 30 days. */
  readonly retention?: number;
  /** Joins what becomes of a batch to the caller's own trace: bullmq-otel's, for instance. By default none. */
  readonly telemetry?: Telemetry;
}

/** Checked, with every default. */
export type ClientSettings = Required<Omit<ClientOptions, 'telemetry'>> & Pick<ClientOptions, 'telemetry'>;

function isNumber(value: unknown, least: number, most: number): boolean {
  return typeof value === 'number' && value >= least && value <= most;
}

function fromEnvironment(name: string): string | undefined {
  const text = process.env[name];
  return text === '' ? undefined : text;
}

/** Throws PS_SETTING, naming every option that is wrong and never a password. */
export function readOptions(options: ClientOptions): ClientSettings {
  if (typeof options !== 'object' || options === null) {
    // Likely the URL by itself, password and all.
    const given = options === null ? 'null' : `a ${typeof options}`;
    throw new PairstopError('PS_SETTING', `client options: given ${given}; allowed: an object`);
  }
  const read: ClientSettings = {
    connection: options.connection ?? redisAddress(process.env),
    prefix: options.prefix ?? fromEnvironment('PAIRSTOP_PREFIX') ?? 'pairstop',
    patience: options.patience ?? 10 * SECOND,
    retention: options.retention ?? 30 * DAY,
    who: options.who ?? fromEnvironment('PAIRSTOP_WHO') ?? whoRuns(),
    ...(options.telemetry === undefined ? {} : { telemetry: options.telemetry }),
  };
  const problems: InputProblem[] = [];
  const need = (sound: boolean, path: string, given: string, allowed: string): void => {
    if (!sound) problems.push({ path, given, allowed });
  };
  // A URL may hold a password.
  const { connection } = read;
  const isObject = typeof connection === 'object' && connection !== null;
  const url = isObject || typeof connection === 'string' ? addressOf(connection).url : connection;
  need(isRedisUrl(url), 'connection', 'something else', URL_ALLOWED);
  need(
    typeof read.who === 'string' && read.who.length <= 100,
    'who',
    show(read.who),
    'at most 100 characters',
  );
  const prefix = '1 to 64 of letters, digits, _ . - { }';
  need(typeof read.prefix === 'string' && PREFIX.test(read.prefix), 'prefix', show(read.prefix), prefix);
  const ms = (path: 'patience' | 'retention', most: number): void =>
    need(isNumber(read[path], 1, most), path, show(read[path]), `milliseconds from 1 to ${most}`);
  ms('patience', LONGEST_PATIENCE);
  ms('retention', LONGEST_RETENTION);
  if (problems.length === 0) return read;
  const lines = problems.map(({ path, given, allowed }) => `${path}: given ${given}; allowed: ${allowed}`);
  throw new PairstopError('PS_SETTING', `client options are not understood\n${lines.join('\n')}`, problems);
}

function refuse(what: string, given: unknown, allowed: string): PairstopError {
  return new PairstopError('PS_USAGE', `${what}: given ${show(given)}; allowed: ${allowed}`);
}

/** Throws PS_USAGE for anything that could not be a batch's id. */
export function requireId(id: unknown): asserts id is string {
  if (typeof id !== 'string' || /\p{Surrogate}/u.test(id)) {
    throw refuse('id', id, "a batch's id, well-formed text");
  }
}

export function requireWork(work: unknown): asserts work is WorkKind {
  if (work !== 'plan' && work !== 'compare') throw refuse('work', work, 'plan, compare');
}

export function requireRevision(revision: unknown): void {
  if (Number.isSafeInteger(revision) && Number(revision) > 0) return;
  throw refuse('revision', revision, 'a whole number from 1');
}

/** Throws PS_USAGE: a wait of no number would never end. */
export function requireWait(name: string, wait: unknown): void {
  if (!isNumber(wait, 0, Number.MAX_SAFE_INTEGER)) throw refuse(name, wait, 'milliseconds from 0');
}
