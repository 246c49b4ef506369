/** Settings of the door, from the environment beside the worker's. */
import * as z from 'zod';
import { type InputProblem, PairstopError } from '../errors.js';
import { type Environment, type QueueSettings, workerSettings } from '../queue/settings.js';
import { show } from '../read/problems.js';
import { isNetwork } from './webhooks/networks.js';

const MB = 2 ** 20;
const SECOND = 1_000;

export interface DoorSettings extends QueueSettings {
  readonly host: string;
  /** 0: any that is free. */
  readonly port: number;
  /** Most bytes of a body, unpacked. */
  readonly bodyMost: number;
  /** Most bytes of all bodies at once. */
  readonly bodiesMost: number;
  /** Requests a key may make in ten seconds, at one moment, and event streams it may hold open. */
  readonly rate: number;
  readonly concurrent: number;
  readonly streams: number;
  /** Batches that may wait before new ones are refused. */
  readonly depth: number;
  /** Web pages that may call, by their origin. */
  readonly origins: readonly string[];
  /** Networks of the shop's own that webhooks may go to, as `10.1.0.0/16`. */
  readonly networks: readonly string[];
  readonly timing: DoorTiming;
}

/** Milliseconds. */
export interface DoorTiming {
  /** A request's head, and all of it, must have come by then. */
  readonly head: number;
  readonly request: number;
  /** A connection on which nothing moves is cut off. */
  readonly idle: number;
  /** Between signs of life of an event stream. */
  readonly heartbeat: number;
  /** How long a call may wait for Redis before 503. */
  readonly patience: number;
  /** How long stopping may take. */
  readonly stop: number;
  /** How often ended batches are looked for whose end was not heard. */
  readonly sweep: number;
  /** Pauses before a webhook is tried again. */
  readonly retries: readonly number[];
  /** How long one attempt at a webhook may take. */
  readonly attempt: number;
}

const MINUTE = 60 * SECOND;
const HOUR = 60 * MINUTE;

export const DOOR_TIMING: DoorTiming = {
  head: 15 * SECOND,
  request: 5 * MINUTE,
  idle: 60 * SECOND,
  heartbeat: 15 * SECOND,
  patience: 5 * SECOND,
  stop: 8 * SECOND,
  sweep: 10 * SECOND,
  retries: [5 * SECOND, 30 * SECOND, 5 * MINUTE, 30 * MINUTE, 2 * HOUR, 5 * HOUR, 8 * HOUR, 8.5 * HOUR],
  attempt: 15 * SECOND,
};

function whole(least: number, most: number, standard: number) {
  return z.coerce
    .number()
    .int()
    .min(least)
    .max(most)
    .default(standard)
    .describe(`a whole number from ${least} to ${most}`);
}

function words(what: string, allowed: string, isOne: (word: string) => boolean) {
  return z
    .string()
    .default('')
    .transform((text) => text.split(/[\s,]+/).filter((word) => word !== ''))
    .refine((all) => all.every(isOne))
    .describe(`${what} with commas between, each ${allowed}`);
}

function isOrigin(text: string): boolean {
  return URL.canParse(text) && new URL(text).origin === text;
}

const schema = z.object({
  PAIRSTOP_DOOR_HOST: z
    .string()
    .min(1)
    .max(255)
    .default('127.0.0.1')
    .describe('an address or name to listen on'),
  PAIRSTOP_DOOR_PORT: whole(0, 65_535, 8780),
  PAIRSTOP_DOOR_BODY_MB: whole(1, 90, 90),
  PAIRSTOP_DOOR_BODIES_MB: whole(1, 65_536, 256),
  PAIRSTOP_DOOR_RATE: whole(1, 1_000_000, 1_000),
  PAIRSTOP_DOOR_CONCURRENT: whole(1, 100_000, 100),
  PAIRSTOP_DOOR_STREAMS: whole(1, 100_000, 1_000),
  PAIRSTOP_DOOR_DEPTH: whole(1, 10_000_000, 10_000),
  PAIRSTOP_DOOR_ORIGINS: words('origins', 'as https://shop.example', isOrigin),
  PAIRSTOP_DOOR_NETWORKS: words('networks', 'as 10.1.0.0/16 or fd00::/8', isNetwork),
});

/** Throws PS_SETTING, naming every setting that is wrong. */
export function doorSettings(environment: Environment): DoorSettings {
  const { redisUrl, redis, who, prefix, retention, startWait, allowVolatile, payload, logLevel } =
    workerSettings(environment);
  const given = Object.fromEntries(
    Object.keys(schema.shape).flatMap((name) => {
      const value = environment[name];
      return value === undefined || value === '' ? [] : [[name, value]];
    }),
  );
  const { data: env, error } = schema.safeParse(given);
  if (env === undefined) {
    const problems = error.issues.map(({ path }): InputProblem => {
      const name = String(path[0]);
      const field = Object.entries(schema.shape).find(([key]) => key === name)?.[1];
      return { path: name, given: show(environment[name]), allowed: field?.description ?? 'a known setting' };
    });
    const lines = problems.map((one) => `${one.path}: given ${one.given}; allowed: ${one.allowed}`);
    throw new PairstopError('PS_SETTING', `settings are not understood\n${lines.join('\n')}`, problems);
  }
  return {
    redisUrl,
    redis,
    who,
    prefix,
    retention,
    startWait,
    allowVolatile,
    payload,
    logLevel,
    host: env.PAIRSTOP_DOOR_HOST,
    port: env.PAIRSTOP_DOOR_PORT,
    bodyMost: env.PAIRSTOP_DOOR_BODY_MB * MB,
    bodiesMost: env.PAIRSTOP_DOOR_BODIES_MB * MB,
    rate: env.PAIRSTOP_DOOR_RATE,
    concurrent: env.PAIRSTOP_DOOR_CONCURRENT,
    streams: env.PAIRSTOP_DOOR_STREAMS,
    depth: env.PAIRSTOP_DOOR_DEPTH,
    origins: env.PAIRSTOP_DOOR_ORIGINS,
    networks: env.PAIRSTOP_DOOR_NETWORKS,
    timing: DOOR_TIMING,
  };
}
