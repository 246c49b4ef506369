/** A door for the tests: its own Redis and worker, any free port, quick timings. */

import { KeyRing, type NewKey } from '../../src/door/keys/keys.js';
import { type RunningDoor, startDoor } from '../../src/door/serve.js';
import { DOOR_TIMING, type DoorSettings, type DoorTiming, doorSettings } from '../../src/door/settings.js';
import { Session } from '../../src/queue/client/session.js';
import { TestRedis } from './redis.js';
import { keptLog, type LogLine, type TestWorker, testWorker } from './service.js';

export type DoorGiven = Partial<Omit<DoorSettings, 'timing'>> & { readonly timing?: Partial<DoorTiming> };

export function testDoorSettings(url: string, { timing, ...given }: DoorGiven = {}): DoorSettings {
  return {
    ...doorSettings({ REDIS_URL: url, PAIRSTOP_DOOR_PORT: '0' }),
    startWait: 10_000,
    rate: 1_000_000,
    ...given,
    timing: { ...DOOR_TIMING, ...timing },
  };
}

export interface TestDoor extends RunningDoor {
  readonly lines: readonly LogLine[];
}

export async function testDoor(url: string, given: DoorGiven = {}): Promise<TestDoor> {
  const { log, lines } = keptLog();
  return { ...(await startDoor(testDoorSettings(url, given), log)), lines };
}

export async function makeKey(
  url: string,
  given: Partial<NewKey> = {},
): Promise<{ id: string; text: string }> {
  const session = new Session({
    connection: url,
    prefix: 'pairstop',
    patience: 5_000,
    retention: 86_400_000,
  });
  try {
    const ring = new KeyRing(session, 'pairstop');
    const { key, text } = await ring.make({
      name: 'a test',
      shop: 'pairstop',
      scopes: ['read', 'submit'],
      ends: null,
      rate: null,
      ...given,
    });
    return { id: key.id, text };
  } finally {
    await session.close();
  }
}

export interface DoorSetting {
  readonly redis: TestRedis;
  readonly worker: TestWorker;
  readonly door: TestDoor;
}

export async function openDoor(given: DoorGiven = {}): Promise<DoorSetting> {
  const redis = await TestRedis.start();
  const worker = await testWorker(redis.url);
  return { redis, worker, door: await testDoor(redis.url, given) };
}

export async function closeDoor({ redis, worker, door }: DoorSetting): Promise<void> {
  await door.stop();
  await worker.stop();
  await redis.end();
}

/** JSON as it came: the tests say what they expect of it. */
export type Json = { readonly [key: string]: Json } & { readonly [index: number]: Json };

export interface Got {
  readonly status: number;
  readonly headers: Headers;
  readonly text: string;
  /** Of JSON. */
  readonly body: Json;
}

/** Asks, JSON by default; objects are sent as JSON. */
export async function ask(
  door: { readonly url: string },
  method: string,
  path: string,
  { body, headers = {} }: { body?: unknown; headers?: Readonly<Record<string, string>> } = {},
): Promise<Got> {
  const sent =
    typeof body === 'string'
      ? body
      : body instanceof Uint8Array
        ? new Uint8Array(body)
        : JSON.stringify(body);
  const response = await fetch(new URL(path, door.url), {
    method,
    redirect: 'manual',
    headers: { ...(body === undefined ? {} : { 'content-type': 'application/json' }), ...headers },
    ...(body === undefined ? {} : { body: sent }),
  });
  const text = await response.text();
  const json = /json/.test(response.headers.get('content-type') ?? '') && text !== '';
  return { status: response.status, headers: response.headers, text, body: json ? JSON.parse(text) : null };
}
