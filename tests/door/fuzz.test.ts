/** Requests made of the OpenAPI document and spoiled at random: no fault, no hang, catalogued codes only. */
import { Agent } from 'node:http';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { ask, closeDoor, type DoorSetting, openDoor } from '../tools/door.js';
import { type FuzzDocument, fuzzRequests, judge } from '../tools/fuzz.js';

const REQUESTS = 400;
const AT_ONCE = 8;
let setting: DoorSetting;

beforeAll(async () => {
  setting = await openDoor({ concurrent: 1_000 });
});

afterAll(() => closeDoor(setting));

describe('spoiled requests', () => {
  it.each([1, 2])('are answered or refused, seed %i', async (seed) => {
    const { body } = await ask(setting.door, 'GET', '/v1/openapi.json');
    const requests = fuzzRequests(body as unknown as FuzzDocument, seed, REQUESTS);
    const agent = new Agent({ keepAlive: true, maxSockets: AT_ONCE });
    const faults: string[] = [];
    let at = 0;
    const work = async (): Promise<void> => {
      for (let one = requests[at++]; one !== undefined; one = requests[at++]) {
        const fault = await judge(setting.door.url, agent, one);
        if (fault !== null)
          faults.push(`${one.method} ${one.path.slice(0, 80)} ${JSON.stringify(one.headers)}: ${fault}`);
      }
    };
    await Promise.all(Array.from({ length: AT_ONCE }, work));
    agent.destroy();
    expect(faults).toEqual([]);
    expect(setting.door.lines.filter(({ level }) => level >= 50)).toEqual([]);
    expect((await ask(setting.door, 'GET', '/ready')).status).toBe(200);
  });
});
