/** After a mishap: what is free on the rack helps, and is reserved as the recut is kept; batches with sticks of their own. */
import type { Redis } from 'ioredis';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import type { Plan } from '../../src/documents/plan/types.js';
import type { Recut } from '../../src/documents/recut/types.js';
import type { Client } from '../../src/queue/client/client.js';
import { keysOf } from '../../src/queue/names.js';
import { changeOf } from '../../src/rack/change.js';
import type { RackStore } from '../../src/rack/store/rack-store.js';
import { added, audited, BY, happen, rackAt } from '../tools/rack.js';
import { type OpenService, openService } from '../tools/service.js';
import { shopBatch, shopPieces } from '../tools/shop.js';

let service: OpenService;
let raw: Redis;
let client: Client;
let rack: RackStore;

beforeAll(async () => {
  service = await openService({ nowSlots: 2 });
  ({ raw, client } = service);
  rack = rackAt(raw, 'pairstop');
});

afterAll(() => service.end());

async function planned(document: BatchDocument): Promise<Plan> {
  await client.submit(document);
  return client.result(document.id, { wait: 50_000 });
}

const stateOf = (id: string): Promise<string | null> => raw.hget(keysOf('pairstop').rack.states, id);
const refsOf = ({ mouldings }: Plan | Recut): string[] =>
  mouldings.flatMap(({ sticks }) => sticks.flatMap(({ source, ref }) => (source === 'rack' ? [ref] : [])));

async function balanced(): Promise<void> {
  const { ok, findings } = await audited(rack);
  expect({ ok, findings }).toEqual({ ok: true, findings: [] });
}

describe('a recut of a batch planned from the rack', () => {
  it('draws on a free piece instead of buying, and reserves it with what is kept beside', async () => {
    await happen(rack, [], shopPieces('elm', 2).map(added));
    const plan = await planned(shopBatch('one', ['elm']));
    const [mine = ''] = refsOf(plan);
    const other = mine === 'elm-1' ? 'elm-2' : 'elm-1';
    const recut = await client.rack.recut('one', {
      lost: ['elm/1/top'],
      keep: (made) =>
        Promise.resolve({ key: 'kept', value: Buffer.from(JSON.stringify(made)), lasts: 60_000 }),
    });
    expect(recut).toMatchObject({ status: 'complete', buy: [] });
    expect(new Set(refsOf(recut))).toEqual(new Set([mine, other]));
    expect(recut.rack?.map(({ id }) => id)).toEqual([mine, other]);
    expect(await stateOf(other)).toBe('reserved one');
    expect(JSON.parse((await raw.get('kept')) ?? '')).toEqual(recut);
    await balanced();

    // Asked again, it is the same; and the next batch has to buy.
    expect(await client.rack.recut('one', { lost: ['elm/1/top'] })).toEqual(recut);
    expect((await planned(shopBatch('next', ['elm']))).buy).toHaveLength(1);
    const before = (await client.service()).toSaw!;
    const { sawing } = await client.status('one');
    const cutting = await client.rack.cut('one', { recut });
    expect(cutting).toMatchObject({ spoiled: 1, rails: 4, own: [] });
    const { plans, seconds } = (await client.service()).toSaw!;
    expect([plans, seconds]).toEqual([before.plans - 1, before.seconds - sawing!]);
    await balanced();
  }, 60_000);

  it('gives one free piece to one of two, and back when it is not needed any more', async () => {
    await happen(rack, [], shopPieces('ash', 3).map(added));
    await planned(shopBatch('left', ['ash']));
    await planned(shopBatch('right', ['ash']));
    const both = await Promise.all(
      ['left', 'right'].map((batch) => client.rack.recut(batch, { lost: ['ash/1/top'] })),
    );
    expect(both.reduce((sum, { buy }) => sum + buy.length, 0)).toBe(1);
    const [lucky] = ['left', 'right'].filter((_, i) => both[i]?.buy.length === 0);
    const held = await rack.held(lucky ?? '');
    expect(held).toHaveLength(2);
    await balanced();
    // The rail was not so bad after all: another loss, which the piece in hand can replace by itself.
    await client.cancel(lucky ?? '');
    expect(await rack.held(lucky ?? '')).toEqual([]);
    await balanced();
  }, 60_000);

  it('with a flaw and a spoiled rail used again is cut from the rack, and the wood balances', async () => {
    await happen(rack, [], shopPieces('ash-re', 2, 2_600).map(added));
    await planned(shopBatch('reuse', ['ash-re']));
    const told = (text: string) => [{ path: 'test', text }];
    const mishap = {
      lost: ['ash-re/1/left'],
      reuse: told('ash-re/1/left'),
      flaws: told('ash-re-1/1:2500mm-2510mm'),
    };
    const made = await client.rack.recut('reuse', mishap).catch(async () => {
      // Whichever of the two pieces was taken.
      const flaws = told('ash-re-2/1:2500mm-2510mm');
      return client.rack.recut('reuse', { ...mishap, flaws });
    });
    const [piece] = made.reused ?? [];
    expect(piece).toMatchObject({ rail: 'ash-re/1/left', ends: ['mitred', 'mitred'] });
    const cutting = await client.rack.cut('reuse', { recut: made });
    // What is left of the spoiled rail comes in as found, beside what the stick leaves.
    expect(cutting.offcuts.map(({ length }) => length)).toContain(Math.round(piece!.length * 1_000));
    await balanced();
  }, 60_000);

  it('writes what is kept beside a change with it, or neither', async () => {
    await happen(rack, [], shopPieces('yew', 1).map(added));
    const [free] = await rack.pieces(['yew-1']);
    const beside = { key: 'beside', value: Buffer.from('x'), lasts: 60_000 };
    const reserve = (batch: string) =>
      changeOf({ pieces: [free!], expected: [] }, [{ kind: 'reserved', batch, pieces: ['yew-1'] }], BY);
    expect(await rack.commit(reserve('a'), 'mark-a')).toBe('done');
    expect(await rack.commit(reserve('b'), 'mark-b', beside)).toBe('differs');
    expect(await raw.get('beside')).toBeNull();
    const nothing = changeOf({ pieces: [], expected: [] }, [], BY);
    expect(await rack.commit(nothing, 'mark-c', beside)).toBe('done');
    expect(await raw.get('beside')).toBe('x');
    await balanced();
  });
});

describe('a batch with sticks of its own', () => {
  const own = (id: string): BatchDocument => {
    const { rack: _rack, ...plain } = shopBatch(id, ['oak'], { offers: false });
    return { ...plain, sticks: [{ id: 'r9', moulding: 'oak', length: 2_300, ends: ['sawn', 'raw'] }] };
  };

  it('is not cut in silence: the refusal says what may be done', async () => {
    await planned(own('mine'));
    await expect(client.rack.cut('mine')).rejects.toThrow(
      /planned from sticks of its own.*--offcuts puts what its sticks leave on the rack/,
    );
    await expect(client.rack.recut('mine', { lost: ['oak/1/top'] })).rejects.toThrow(/sticks of its own/);
  });

  it('puts its offcuts on the rack when told to, once, with the balance right', async () => {
    const plan = await client.result('mine');
    const left = plan.mouldings[0]?.sticks[0]?.left.find(({ use }) => use === 'offcut');
    const first = await client.rack.cut('mine', { offcuts: true, place: 'wall' });
    expect(first).toMatchObject({ rails: 0, used: [], own: ['r9/1'], entered: [] });
    expect(first.offcuts).toMatchObject([
      {
        id: 'mine/o1',
        length: Math.round((left?.piece?.length ?? 0) * 1_000),
        ends: ['mitred', 'raw'],
        place: 'wall',
        from: { kind: 'offcut', batch: 'mine', of: 'r9/1' },
      },
    ]);
    expect(await stateOf('mine/o1')).toBe('free');
    await balanced();
    const again = await client.rack.cut('mine', { offcuts: true });
    expect(again).toMatchObject({ offcuts: [], entered: ['mine/o1'] });
    await balanced();
    const audit = await client.rack.audit();
    expect(audit.balances.find(({ moulding }) => moulding === 'oak')).toMatchObject({
      came: first.offcuts[0]?.length,
      rails: 0,
      lying: first.offcuts[0]?.length,
      off: 0,
    });
  });

  it('waits with an offcut until its stick is done', async () => {
    await planned(own('slow'));
    const part = await client.rack.cut('slow', { offcuts: true, told: [{ path: '1', text: 'oak/1/right' }] });
    expect(part).toMatchObject({ offcuts: [], own: ['r9/1'] });
    const all = await client.rack.cut('slow', { offcuts: true });
    expect(all.offcuts).toHaveLength(1);
    await balanced();
  });

  it('may stand beside a moulding from the rack', async () => {
    await happen(rack, [], shopPieces('fir', 1).map(added));
    const plan = await planned({
      ...shopBatch('mixed', ['fir', 'gum'], { offers: false }),
      sticks: [{ id: 'r9', moulding: 'gum', length: 2_300 }],
    });
    expect(plan.status).toBe('complete');
    const cutting = await client.rack.cut('mixed');
    expect(cutting).toMatchObject({ rails: 4, used: ['fir-1'], own: ['r9/1'], entered: [] });
    expect((await client.rack.cut('mixed', { offcuts: true })).offcuts).toMatchObject([{ moulding: 'gum' }]);
    await balanced();
  });
});
