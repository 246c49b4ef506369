/** The sheet, labels and lists of a plan; recuts and their sheets; orders in CSV. */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { batchOf } from '../tools/batches.js';
import { ask, closeDoor, type DoorSetting, openDoor } from '../tools/door.js';

let setting: DoorSetting;

beforeAll(async () => {
  setting = await openDoor();
  await door('POST', '/v1/batches', { body: batchOf('papers', ['ash']), headers: { prefer: 'wait=40' } });
});

afterAll(() => closeDoor(setting));

const door = (method: string, path: string, given: Parameters<typeof ask>[3] = {}) =>
  ask(setting.door, method, path, given);

describe('the papers of a plan', () => {
  it('are the sheet, which may run its own script and ask this door; labels; lists', async () => {
    const sheet = await door('GET', '/v1/batches/papers/sheet');
    expect(sheet.headers.get('content-type')).toBe('text/html; charset=utf-8');
    expect(sheet.headers.get('content-security-policy')).toContain("connect-src 'self'");
    expect(sheet.text).toContain('/v1/batches/papers/recuts');
    const plan = await door('GET', '/v1/batches/papers/plan', { headers: { accept: 'text/html' } });
    expect(plan.text).toBe(sheet.text);
    const again = await door('GET', '/v1/batches/papers/sheet', {
      headers: { 'if-none-match': sheet.headers.get('etag')! },
    });
    expect(again.status).toBe(304);
    const labels = await door('GET', '/v1/batches/papers/labels?size=63x38&grid=3x7');
    expect([labels.status, labels.text.slice(0, 15)]).toEqual([200, '<!doctype html>']);
    const wrong = await door('GET', '/v1/batches/papers/labels?size=wide');
    expect([wrong.status, wrong.body.code]).toEqual([400, 'PS_USAGE']);
    const buy = await door('GET', '/v1/batches/papers/lists/buy');
    expect(buy.headers.get('content-type')).toBe('text/csv; charset=utf-8');
    expect(buy.text).toMatch(/^.*moulding.*\r?\n.*ash-/i);
    const all = await door('GET', '/v1/batches/papers/lists');
    expect(all.body.schema).toBe('pairstop/lists@1');
    const cutting = await door('GET', '/v1/batches/papers/plan', { headers: { accept: 'text/csv' } });
    expect(cutting.text).toBe((await door('GET', '/v1/batches/papers/lists/cutting')).text);
    expect((await door('GET', '/v1/batches/papers/lists/none')).status).toBe(400);
    expect((await door('GET', '/v1/batches/never/sheet')).status).toBe(404);
  });
});

describe('a recut of its plan', () => {
  it('is kept, has a sheet, and may be recut again', async () => {
    const first = await door('POST', '/v1/batches/papers/recuts', { body: { lost: ['ash/0/1/top'] } });
    expect([first.status, first.body.status]).toEqual([201, 'complete']);
    const self = first.headers.get('location')!;
    expect(first.body).toMatchObject({ self, sheet: `${self}?form=html` });
    const kept = await door('GET', self);
    expect(kept.body).toEqual(first.body.recut);
    const sheet = await door('GET', first.body.sheet as unknown as string);
    expect(sheet.text).toContain(`${self}/recuts`);
    expect((await door('GET', `${self}?form=text`)).text).toContain('ash/0/1/top');
    const second = await door('POST', `${self}/recuts`, { body: { lost: ['ash/0/1/top'] } });
    expect(second.status).toBe(201);
    expect(second.headers.get('location')).not.toBe(self);
    expect((await door('GET', '/v1/batches/papers/recuts/none')).body.code).toBe('PS_UNKNOWN');
  });
});

describe('an order in CSV', () => {
  const headers = { 'content-type': 'text/csv' };

  it('is taken as the batch it says, and refused by line', async () => {
    const csv = [
      'id,moulding,quantity,width (mm),height (mm)',
      'A-1,ash,2,300,400',
      '',
      '[mouldings]',
      'id,face (mm),rabbet (mm)',
      'ash,30,6',
      '',
      '[offers]',
      'id,moulding,length (mm),price',
      'ash-24,ash,2400,20',
    ].join('\r\n');
    const taken = await door('POST', '/v1/batches?id=from-a-sheet&units=mm', {
      body: csv,
      headers: { ...headers, prefer: 'wait=40' },
    });
    expect(taken.body).toMatchObject({ schema: 'pairstop/plan@1', batch: 'from-a-sheet' });
    const wrong = await door('POST', '/v1/batches?id=wrong&units=mm', {
      body: csv.replace('300', '3x'),
      headers,
    });
    expect(wrong.status).toBe(422);
    expect(wrong.body.problems?.[0]).toMatchObject({
      path: 'frames[0].width',
      line: 2,
      column: 'width (mm)',
    });
    expect((await door('POST', '/v1/rails', { body: csv, headers })).status).toBe(415);

    // Corrected and handed in again: refused, unless it is said to replace what was there.
    const corrected = csv.replace('300', '310');
    const path = '/v1/batches?id=from-a-sheet&units=mm';
    expect((await door('POST', path, { body: corrected, headers })).body.code).toBe('PS_CONFLICT');
    const replaced = await door('POST', `${path}&replace=true`, { body: corrected, headers });
    expect([replaced.status, replaced.body.outcome, replaced.body.revision]).toEqual([202, 'replaced', 2]);
    const now = await door('GET', '/v1/batches/from-a-sheet/document');
    expect(now.status === 409 ? 'not yet' : now.body.frames?.[0]?.width).toMatch(/not yet|310/);
    const plan = await door('GET', '/v1/batches/from-a-sheet/plan', { headers: { prefer: 'wait=40' } });
    expect([plan.status, plan.body.batch]).toEqual([200, 'from-a-sheet']);
    expect((await door('GET', '/v1/batches/from-a-sheet/document')).text).toContain('310');
  });
});
