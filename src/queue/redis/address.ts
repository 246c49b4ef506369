/** Where a shop's Redis is and how it is reached: by URL, through Sentinels, with a certificate of one's own. */
import { readFileSync } from 'node:fs';
import { PairstopError } from '../../errors.js';

export interface SentinelHost {
  readonly host: string;
  readonly port: number;
}

/** Beyond what a URL can say. */
export interface RedisAddress {
  /** With Sentinels its host and port are not used; user, password, database and TLS are. */
  readonly url: string;
  /** PEM texts: the authority that signed the server's certificate; the client's own certificate and key. */
  readonly ca?: string;
  readonly cert?: string;
  readonly key?: string;
  readonly sentinels?: readonly SentinelHost[];
  /** Name the Sentinels know the master by. */
  readonly master?: string;
  readonly sentinelPassword?: string;
}

export const URL_ALLOWED = 'redis://[user:password@]host:port[/db], or rediss:// for TLS';

/** `redis://host:port/db` without user and password. */
export function redisName(address: string | RedisAddress): string {
  const { url, sentinels, master } = addressOf(address);
  if (sentinels !== undefined) return `${master} by Sentinel ${sentinels.map(hostName).join(', ')}`;
  try {
    const { protocol, hostname, port, pathname } = new URL(url);
    return `${protocol}//${hostname}:${port === '' ? '6379' : port}${pathname === '/' ? '' : pathname}`;
  } catch {
    return 'redis://?';
  }
}

function hostName({ host, port }: SentinelHost): string {
  return `${host}:${port}`;
}

export function addressOf(address: string | RedisAddress): RedisAddress {
  return typeof address === 'string' ? { url: address } : address;
}

/** Whether a connection can be opened by it, as far as the text tells. */
export function isRedisUrl(url: unknown): url is string {
  if (typeof url !== 'string' || !/^rediss?:\/\/[^\s]+$/.test(url)) return false;
  try {
    const { username, password, pathname } = new URL(url);
    decodeURIComponent(username + password);
    return /^(\/\d{0,6})?$/.test(pathname);
  } catch {
    return false;
  }
}

/** `host:port,host:port`; the port of a Sentinel is 26379 unless given. Null for anything else. */
export function sentinelsFrom(text: string): readonly SentinelHost[] | null {
  const hosts = text.split(',').map((part): SentinelHost | null => {
    const [, host, port = '26379'] =
      /^\s*([A-Za-z0-9_.-]+|\[[0-9a-fA-F:]+\])(?::(\d{1,5}))?\s*$/.exec(part) ?? [];
    return host === undefined ? null : { host: host.replace(/^\[|\]$/g, ''), port: Number(port) };
  });
  return hosts.some((host) => host === null) ? null : hosts.flatMap((host) => host ?? []);
}

/** Settings that say how Redis is reached, apart from REDIS_URL; undefined where one is not set. */
export interface AddressSettings {
  readonly caFile: string | undefined;
  readonly certFile: string | undefined;
  readonly keyFile: string | undefined;
  readonly sentinels: string | undefined;
  readonly master: string | undefined;
  readonly sentinelPassword: string | undefined;
}

function pem(setting: string, path: string): string {
  try {
    const text = readFileSync(path, 'utf8');
    if (text.includes('-----BEGIN ')) return text;
  } catch {
    // Refused below.
  }
  throw new PairstopError(
    'PS_SETTING',
    `${setting}: given ${JSON.stringify(path)}; allowed: a PEM file that can be read`,
  );
}

/** Reads the files. Throws PS_SETTING. */
export function readAddress(url: string, settings: AddressSettings): RedisAddress {
  const { caFile, certFile, keyFile, sentinels, master, sentinelPassword } = settings;
  if ((certFile === undefined) !== (keyFile === undefined)) {
    throw new PairstopError(
      'PS_SETTING',
      'PAIRSTOP_REDIS_CERT, PAIRSTOP_REDIS_KEY: given one of them; allowed: both or neither',
    );
  }
  if (!url.startsWith('rediss:') && (caFile ?? certFile) !== undefined) {
    throw new PairstopError(
      'PS_SETTING',
      'PAIRSTOP_REDIS_CA, PAIRSTOP_REDIS_CERT: given for a redis:// URL; allowed: with rediss://, which encrypts',
    );
  }
  const hosts = sentinels === undefined ? undefined : sentinelsFrom(sentinels);
  if (hosts === null) {
    throw new PairstopError(
      'PS_SETTING',
      `PAIRSTOP_SENTINELS: given ${JSON.stringify(sentinels)}; allowed: host:port, several with commas`,
    );
  }
  return {
    url,
    ...(caFile === undefined ? {} : { ca: pem('PAIRSTOP_REDIS_CA', caFile) }),
    ...(certFile === undefined ? {} : { cert: pem('PAIRSTOP_REDIS_CERT', certFile) }),
    ...(keyFile === undefined ? {} : { key: pem('PAIRSTOP_REDIS_KEY', keyFile) }),
    ...(hosts === undefined ? {} : { sentinels: hosts, master: master ?? 'mymaster' }),
    ...(hosts === undefined || sentinelPassword === undefined ? {} : { sentinelPassword }),
  };
}
