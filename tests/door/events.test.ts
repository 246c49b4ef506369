/** Progress as it comes: one watch a batch however many listen, resumed by id, ended at the end. */
import { request } from 'node:http';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { batchOf } from '../tools/batches.js';
import { ask, closeDoor, type DoorSetting, openDoor } from '../tools/door.js';
import { until } from '../tools/service.js';

let setting: DoorSetting;

beforeAll(async () => {
  setting = await openDoor({ timing: { heartbeat: 200 } });
});

afterAll(() => closeDoor(setting));

interface Heard {
  readonly status: () => number;
  readonly text: () => string;
  readonly ended: Promise<void>;
  readonly leave: () => void;
}

function listen(id: string, headers: Readonly<Record<string, string>> = {}): Heard {
  let [status, text] = [0, ''];
  const asked = request(new URL(`/v1/batches/${id}/events`, setting.door.url), { headers });
  const ended = new Promise<void>((resolve, reject) => {
    asked.on('response', (response) => {
      status = response.statusCode ?? 0;
      response.setEncoding('utf8').on('data', (chunk: string) => {
        text += chunk;
      });
      response.on('end', resolve);
      response.on('error', () => resolve());
    });
    asked.on('error', reject);
  });
  asked.end();
  return { status: () => status, text: () => text, ended, leave: () => asked.destroy() };
}

function eventsIn(text: string): { readonly id: string; readonly event: string; readonly state: string }[] {
  return text.split('\n\n').flatMap((block) => {
    const field = (name: string): string => new RegExp(`^${name}: (.*)$`, 'm').exec(block)?.[1] ?? '';
    if (field('data') === '') return [];
    return [
      {
        id: field('id'),
        event: field('event'),
        state: (JSON.parse(field('data')) as { state: string }).state,
      },
    ];
  });
}

describe('the events of a batch', () => {
  it('come to everyone who listens, with signs of life between, and end with the batch', async () => {
    await ask(setting.door, 'POST', '/v1/batches', { body: batchOf('watched', ['wait-1500']) });
    const listeners = Array.from({ length: 20 }, () => listen('watched'));
    await Promise.all(listeners.map(({ ended }) => ended));
    for (const one of listeners) {
      const events = eventsIn(one.text());
      expect(events.at(-1)).toMatchObject({ event: 'done', state: 'done' });
      expect(events.every(({ event, state }) => event === state)).toBe(true);
      expect(new Set(events.map(({ id }) => id)).size).toBe(events.length);
      expect(one.text()).toMatch(/^: alive$/m);
      expect(one.text()).toMatch(/^retry: \d+\n\n/);
    }
    expect(new Set(listeners.map((one) => eventsIn(one.text()).at(-1)?.id)).size).toBe(1);
  });

  it('are heard over one connection to Redis, however many listen to however many batches', async () => {
    const redis = setting.redis.connect();
    const subscribed = async (): Promise<number> => {
      const clients = (await redis.client('LIST')) as string;
      return clients.split('\n').filter((line) => / sub=[1-9]/.test(line) && !line.includes('cancelled'))
        .length;
    };
    const ids = ['a', 'b', 'c', 'd', 'e'];
    // The worker of this Redis hears of cancelled batches over a connection of its own.
    const before = await subscribed();
    for (const id of ids) {
      await ask(setting.door, 'POST', '/v1/batches', {
        body: batchOf(id, ['wait-3000'], { urgency: 'tonight' }),
      });
    }
    const listeners = ids.flatMap((id) => Array.from({ length: 10 }, () => listen(id)));
    await until('all listen', () => listeners.every((one) => eventsIn(one.text()).length > 0));
    expect((await subscribed()) - before).toBeLessThanOrEqual(1);
    const channels = (await redis.pubsub('CHANNELS', 'pairstop:store:*')) as string[];
    expect(channels.sort()).toEqual(ids.map((id) => `pairstop:store:b-${id}:events`));
    for (const id of ids) await ask(setting.door, 'DELETE', `/v1/batches/${id}`);
    await Promise.all(listeners.map(({ ended }) => ended));
    for (const one of listeners) expect(eventsIn(one.text()).at(-1)?.event).toBe('cancelled');
    await until(
      'nobody listens',
      async () => (await redis.pubsub('CHANNELS', 'pairstop:store:*')).length === 0,
    );
    redis.disconnect();
  });

  it('are not told again to whoever has had them; after the last there is nothing more', async () => {
    await ask(setting.door, 'POST', '/v1/batches', {
      body: batchOf('resumed', ['mute-3'], { timeLimit: 60 }),
    });
    await ask(setting.door, 'GET', '/v1/batches/resumed', { headers: { prefer: 'wait=1' } });
    const first = listen('resumed');
    await until('it is told', () => eventsIn(first.text()).some(({ event }) => event === 'running'));
    first.leave();
    await first.ended.catch(() => {});
    const had = eventsIn(first.text()).at(-1)!;
    const second = listen('resumed', { 'last-event-id': had.id });
    await until('it lives', () => second.text().includes(': alive'));
    expect(eventsIn(second.text()).map(({ id }) => id)).not.toContain(had.id);
    await ask(setting.door, 'DELETE', '/v1/batches/resumed');
    await second.ended;
    const last = eventsIn(second.text()).at(-1)!;
    expect(last.event).toBe('cancelled');
    const third = listen('resumed', { 'last-event-id': last.id });
    await third.ended;
    expect([third.status(), third.text()]).toEqual([204, '']);
  });

  it('of an unknown batch are a problem, not a stream', async () => {
    const got = await ask(setting.door, 'GET', '/v1/batches/never/events');
    expect([got.status, got.body.code]).toEqual([404, 'PS_UNKNOWN']);
  });
});
