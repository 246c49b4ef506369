/** Batches over HTTP: handed in, watched, fetched in every form, cancelled. */
import { gunzipSync, gzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { checkPlan } from '../../src/check/check.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import { readPlan } from '../../src/documents/plan/read.js';
import type { BatchPage } from '../../src/queue/client/list.js';
import { showPlan } from '../../src/show/plan.js';
import { batchOf } from '../tools/batches.js';
import { ask, closeDoor, type DoorSetting, openDoor } from '../tools/door.js';

let setting: DoorSetting;

beforeAll(async () => {
  setting = await openDoor();
});

afterAll(() => closeDoor(setting));

const door = (method: string, path: string, given: Parameters<typeof ask>[3] = {}) =>
  ask(setting.door, method, path, given);

async function done(id: string): Promise<void> {
  const { body } = await door('GET', `/v1/batches/${encodeURIComponent(id)}`, {
    headers: { prefer: 'wait=30' },
  });
  expect(body.state).toBe('done');
}

describe('a batch', () => {
  it('is taken once, known afterwards, and refused with other content', async () => {
    const batch = batchOf('taken / once?', ['ash']);
    const first = await door('POST', '/v1/batches', { body: batch });
    expect(first.status).toBe(202);
    expect(first.headers.get('location')).toBe('/v1/batches/taken%20%2F%20once%3F');
    expect(first.body).toMatchObject({ id: batch.id, outcome: 'new', state: 'waiting' });
    await done(batch.id);
    const again = await door('POST', '/v1/batches', { body: batch });
    expect([again.status, again.body.outcome, again.body.state]).toEqual([200, 'same', 'done']);
    const other = await door('POST', '/v1/batches', { body: batchOf(batch.id, ['oak']) });
    expect([other.status, other.body.code]).toEqual([409, 'PS_CONFLICT']);
    const document = await door('GET', `${first.headers.get('location')}/document`);
    expect(document.body).toEqual(batch);
    const replaced = await door('POST', '/v1/batches?replace=true', { body: batchOf(batch.id, ['oak']) });
    expect([replaced.status, replaced.body.outcome, replaced.body.revision]).toEqual([202, 'replaced', 2]);
  });

  it('that was replaced is still there by its revision, in every form', async () => {
    const [first, second] = [batchOf('revised', ['ash']), batchOf('revised', ['ash', 'oak'])];
    await door('POST', '/v1/batches', { body: first });
    await done('revised');
    const before = await door('GET', '/v1/batches/revised/plan');
    await door('POST', '/v1/batches?replace=true', { body: second });
    await done('revised');
    const now = await door('GET', '/v1/batches/revised/plan');
    expect(now.text).not.toBe(before.text);
    const of = (path: string, revision: number) =>
      door('GET', `/v1/batches/revised${path}?revision=${revision}`);
    expect((await of('/plan', 1)).text).toBe(before.text);
    expect((await of('/plan', 2)).text).toBe(now.text);
    expect((await of('/plan', 1)).headers.get('etag')).not.toBe((await of('/plan', 2)).headers.get('etag'));
    expect((await of('', 1)).body).toMatchObject({
      state: 'done',
      revision: 1,
      mouldings: [{ moulding: 'ash' }],
    });
    expect((await of('', 2)).body).toMatchObject({ revision: 2 });
    expect((await of('/document', 1)).body).toEqual(first);
    for (const [path, own] of [
      ['/lists/cutting', 'oak'],
      ['/labels', 'oak'],
      ['/sheet', 'oak'],
    ] as const) {
      const [earlier, newest] = [await of(path, 1), await of(path, 2)];
      expect([path, earlier.status, newest.status]).toEqual([path, 200, 200]);
      expect([path, earlier.text.includes(own), newest.text.includes(own)]).toEqual([path, false, true]);
    }
    expect((await of('/lists', 1)).text).not.toBe((await of('/lists', 2)).text);
    // Its sheet has it recut as that revision, and so on from recut to recut.
    expect((await of('/sheet', 1)).text).toContain('/v1/batches/revised/recuts?revision=1');
    const lost = { body: { lost: ['ash/0/1/top'] } };
    const recut = await door('POST', '/v1/batches/revised/recuts?revision=1', lost);
    const self = recut.headers.get('location')!;
    expect([recut.status, self]).toEqual([
      201,
      expect.stringMatching(/\/recuts\/[\w-]+\?revision=1$/) as string,
    ]);
    const sheet = await door('GET', recut.body.sheet as unknown as string);
    expect([sheet.status, sheet.text.includes(`${self.replace('?', '/recuts?')}`)]).toEqual([200, true]);
    const again = await door('POST', self.replace('?', '/recuts?'), lost);
    expect([again.status, again.body.recut?.mouldings?.[1]]).toEqual([201, undefined]);
    for (const wrong of ['9', '0', 'x']) {
      const got = await door('GET', `/v1/batches/revised/plan?revision=${wrong}`);
      expect([wrong, got.status]).toEqual([wrong, wrong === '9' ? 404 : 400]);
    }
  });

  it('has its plan, which holds, in the form that is asked for', async () => {
    const batch = batchOf('forms', ['ash', 'oak']);
    await door('POST', '/v1/batches', { body: batch });
    await done('forms');
    const json = await door('GET', '/v1/batches/forms/plan');
    const plan = readPlan(json.text);
    expect(json.headers.get('content-type')).toBe('application/json');
    expect(checkPlan(checkBatch(batch), plan).findings).toEqual([]);
    const text = await door('GET', '/v1/batches/forms/plan', {
      headers: { accept: 'text/plain, */*;q=0.1' },
    });
    expect(text.headers.get('content-type')).toBe('text/plain; charset=utf-8');
    expect(text.text).toBe(showPlan(checkBatch(batch), plan));
    expect((await door('GET', '/v1/batches/forms/plan?form=text')).text).toBe(text.text);
    const none = await door('GET', '/v1/batches/forms/plan', { headers: { accept: 'image/png' } });
    expect([none.status, none.body.code]).toEqual([406, 'PS_ACCEPT']);
  });

  it('is not sent again to whoever has it, and compressed to whoever says so', async () => {
    await door('POST', '/v1/batches', { body: batchOf('tagged', ['ash']) });
    await done('tagged');
    const first = await door('GET', '/v1/batches/tagged/plan');
    const tag = first.headers.get('etag') ?? '';
    const known = await door('GET', '/v1/batches/tagged/plan', {
      headers: { 'if-none-match': `"x", ${tag}` },
    });
    expect([known.status, known.text]).toEqual([304, '']);
    const text = await door('GET', '/v1/batches/tagged/plan', {
      headers: { 'if-none-match': tag, accept: 'text/plain' },
    });
    expect(text.status).toBe(200);
    for (const encoding of ['gzip', 'br']) {
      const packed = await door('GET', '/v1/batches/tagged/plan', {
        headers: { 'accept-encoding': encoding },
      });
      expect(packed.headers.get('content-encoding')).toBe(encoding);
      expect(packed.text).toBe(first.text);
    }
    const plain = await door('GET', '/v1/batches/tagged/plan', {
      headers: { 'accept-encoding': 'identity' },
    });
    expect(plain.headers.get('content-encoding')).toBeNull();
  });

  it('may be sent gzipped', async () => {
    const body = gzipSync(JSON.stringify(batchOf('gzipped', ['ash'])));
    expect(gunzipSync(body).length).toBeGreaterThan(0);
    const taken = await door('POST', '/v1/batches', { body, headers: { 'content-encoding': 'gzip' } });
    expect([taken.status, taken.body.id]).toEqual([202, 'gzipped']);
  });

  it('is read in a thread when it is large, and refused in the same words', async () => {
    const frames = Array.from({ length: 2_000 }, (_, i) => ({
      id: `order line number ${i}`,
      moulding: 'ash',
      width: 300 + (i % 7),
      height: 400,
    }));
    const large = { ...batchOf('large', ['ash']), frames };
    expect(JSON.stringify(large).length).toBeGreaterThan(131_072);
    const refused = await door('POST', '/v1/batches', {
      body: { ...large, frames: [...large.frames, { id: 'x', moulding: 'none', width: -1, height: 3 }] },
    });
    expect([refused.status, refused.body.code]).toEqual([422, 'PS_BATCH']);
    expect(refused.body.problems).toContainEqual(
      expect.objectContaining({ path: 'frames[2000].width', given: '-1' }),
    );
    const taken = await door('POST', '/v1/batches', { body: { ...large, options: { timeLimit: 1 } } });
    expect([taken.status, taken.body.outcome]).toEqual([202, 'new']);
    const other = { ...large, options: { timeLimit: 2 } };
    expect((await door('POST', '/v1/batches', { body: other })).body.code).toBe('PS_CONFLICT');
    const replaced = await door('POST', '/v1/batches?replace=true', { body: other });
    expect([replaced.status, replaced.body.outcome, replaced.body.revision]).toEqual([202, 'replaced', 2]);
    expect((await door('DELETE', '/v1/batches/large')).body.state).toBe('cancelled');
  });

  it('answers with the plan where whoever asks would wait for it, and with its state where it takes longer', async () => {
    const quick = await door('POST', '/v1/batches', {
      body: batchOf('quick', ['ash']),
      headers: { prefer: 'wait=20' },
    });
    expect(quick.status).toBe(200);
    expect(quick.headers.get('preference-applied')).toBe('wait=20');
    expect(quick.headers.get('content-location')).toBe('/v1/batches/quick/plan');
    expect(readPlan(quick.text).batch).toBe('quick');
    const slow = await door('POST', '/v1/batches', {
      body: batchOf('slow', ['wait-4000']),
      headers: { prefer: 'respond-async, wait=1' },
    });
    expect([slow.status, slow.body.id]).toEqual([202, 'slow']);
    const pending = await door('GET', '/v1/batches/slow/plan');
    expect([pending.status, pending.body.code, pending.headers.get('retry-after')]).toEqual([
      409,
      'PS_PENDING',
      '1',
    ]);
    expect((await door('GET', '/v1/batches/slow/plan', { headers: { prefer: 'wait=20' } })).status).toBe(200);
  });

  it('is cancelled, stays so, and cannot be once it has ended', async () => {
    await door('POST', '/v1/batches', { body: batchOf('gone', ['mute-1'], { timeLimit: 60 }) });
    expect((await door('DELETE', '/v1/batches/gone')).body.state).toBe('cancelled');
    expect((await door('DELETE', '/v1/batches/gone')).status).toBe(200);
    expect((await door('GET', '/v1/batches/gone/plan')).body.code).toBe('PS_CANCELLED');
    await door('POST', '/v1/batches', { body: batchOf('ended', ['ash']) });
    await done('ended');
    const late = await door('DELETE', '/v1/batches/ended');
    expect([late.status, late.body.code]).toEqual([409, 'PS_ENDED']);
    expect((await door('DELETE', '/v1/batches/never')).status).toBe(404);
  });

  it('that failed says why, and has what could be planned', async () => {
    const batch = batchOf('failing', ['ash', 'exit-always'], { timeLimit: 5 });
    await door('POST', '/v1/batches', { body: batch });
    const { body } = await door('GET', '/v1/batches/failing', { headers: { prefer: 'wait=40' } });
    expect(body.state).toBe('failed');
    const plan = await door('GET', '/v1/batches/failing/plan');
    expect([plan.status, plan.body.code]).toEqual([409, 'PS_FAILED']);
    const partial = await door('GET', '/v1/batches/failing/plan?partial=true');
    expect(readPlan(partial.text).status).toBe('short');
  });
});

describe('a comparison', () => {
  it('is a job of its own, with a page and a chart', async () => {
    const batch = batchOf('compared', ['ash']);
    const taken = await door('POST', '/v1/comparisons', { body: batch, headers: { prefer: 'wait=30' } });
    expect(taken.body.schema).toBe('pairstop/comparison@1');
    const text = await door('GET', '/v1/comparisons/compared/result', { headers: { accept: 'text/plain' } });
    expect(text.text).toContain('ash-24');
    const svg = await door('GET', '/v1/comparisons/compared/result', {
      headers: { accept: 'image/svg+xml' },
    });
    expect(svg.headers.get('content-type')).toBe('image/svg+xml; charset=utf-8');
    expect(svg.text).toMatch(/^<svg/);
    expect((await door('GET', '/v1/batches/compared')).status).toBe(404);
  });
});

describe('what is worked out at once', () => {
  it('checks plans, saws and rails, and replaces lost rails', async () => {
    const batch = batchOf('worked', ['ash']);
    const plan = (await door('POST', '/v1/batches', { body: batch, headers: { prefer: 'wait=30' } })).body;
    const good = await door('POST', '/v1/checks', { body: { batch, plan } });
    expect([good.status, good.body.ok]).toEqual([200, true]);
    const wrong = structuredClone(plan) as unknown as {
      mouldings: { sticks: { rails: { length: number }[] }[] }[];
    };
    wrong.mouldings[0]!.sticks[0]!.rails[0]!.length += 1;
    const bad = await door('POST', '/v1/checks', { body: { batch, plan: wrong } });
    expect([bad.status, bad.body.ok]).toEqual([200, false]);
    const page = await door('POST', '/v1/checks', {
      body: { batch, plan },
      headers: { accept: 'text/plain' },
    });
    expect(page.text).toMatch(/nothing wrong\n$/);
    const saw = await door('POST', '/v1/saw-checks', { body: { batch, gap: 0.4, angles: [45.2] } });
    expect([saw.status, saw.body.schema, saw.body.holds]).toEqual([200, 'pairstop/saw@1', false]);
    const rails = await door('POST', '/v1/rails', { body: { batch } });
    // 300 + 3.175 of play less 2 x 6 of rabbet and 2 x 30 of face, up to the next half millimetre.
    expect(rails.body.frames?.[0]?.rails?.[0]).toEqual({
      sides: ['top', 'bottom'],
      length: 351.5,
      angle: 45,
    });
    const recut = await door('POST', '/v1/recuts', { body: { batch, plan, lost: ['ash/0/1/top'] } });
    expect([recut.status, recut.body.schema, recut.body.lost]).toEqual([
      200,
      'pairstop/recut@1',
      ['ash/0/1/top'],
    ]);
    const own = await door('POST', '/v1/batches/worked/recuts', { body: { lost: ['ash/0/1/top'] } });
    expect([own.status, own.body.recut]).toEqual([201, recut.body]);
    const checked = await door('POST', '/v1/checks', { body: { batch, plan, recut: recut.body } });
    expect([checked.status, checked.body.findings]).toEqual([200, []]);
    const moved = structuredClone(recut.body) as unknown as { totals: { moved: number } };
    moved.totals.moved += 1;
    const faulty = await door('POST', '/v1/checks', { body: { batch, recut: moved } });
    expect([faulty.body.ok, faulty.body.findings?.[0]?.code]).toEqual([false, 'CHECK_TOTALS']);
    const stick = (plan as unknown as { mouldings: { sticks: { stick: string }[] }[] }).mouldings[0]!
      .sticks[0]!.stick;
    const flaws = [`${stick}:100-101`];
    const around = await door('POST', '/v1/recuts', { body: { batch, plan, flaws, cutSoFar: [] } });
    const [part] = (
      around.body as unknown as { mouldings: { sticks: { stick: string; flaws?: unknown }[] }[] }
    ).mouldings;
    expect([around.status, part?.sticks.find((one) => one.stick === stick)?.flaws]).toEqual([
      200,
      [[100, 101]],
    ]);
    const notSaid = await door('POST', '/v1/recuts', { body: { batch, plan, flaws } });
    expect([notSaid.status, notSaid.body.problems?.[0]?.path]).toEqual([422, '--cut-so-far']);
    const refused = await door('POST', '/v1/recuts', { body: { batch, plan, lost: [] } });
    expect([refused.status, refused.body.problems?.[0]?.path]).toEqual([422, '--lost']);
  });
});

describe('the list of batches', () => {
  it('has each once, page by page, plans apart from comparisons', async () => {
    for (const id of ['listed-1', 'listed-2'])
      await door('POST', '/v1/batches', { body: batchOf(id, ['ash']) });
    const page = async (query: string) => {
      const { status, body } = await door('GET', `/v1/${query}`);
      expect(status).toBe(200);
      const { batches, next } = body as unknown as BatchPage;
      return { batches, next, ids: batches.map(({ id }) => id) };
    };
    expect((await page('batches?limit=1000')).ids.slice(0, 2)).toEqual(['listed-2', 'listed-1']);
    const first = await page('batches?limit=1');
    const second = await page(`batches?limit=1&after=${encodeURIComponent(first.next ?? '')}`);
    expect([...first.ids, ...second.ids]).toEqual(['listed-2', 'listed-1']);
    await done('listed-2');
    const since = first.batches[0]?.submitted;
    expect((await page(`batches?state=done&since=${since}`)).ids).toEqual(['listed-2']);
    expect((await page('comparisons?limit=1000')).ids).not.toContain('listed-1');
    const slip = await door('GET', '/v1/batches?state=lost');
    expect(slip.status).toBe(400);
  });
});
