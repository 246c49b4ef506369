/**
 * The rack in a real Redis, as a state machine: random changes by two clients, with races between them and Redis killed
 * in between. The model is the sum of what was done; after every step the audit balances and agrees with it.
 */
import { deepEqual } from 'node:assert/strict';
import fc from 'fast-check';
import type { Redis } from 'ioredis';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { viewsOf } from '../../src/rack/audit.js';
import { backupLines, readBackup } from '../../src/rack/backup.js';
import { changeOf } from '../../src/rack/change.js';
import { type Happening, signed } from '../../src/rack/events.js';
import { rackKeysOf } from '../../src/rack/store/keys.js';
import type { RackStore } from '../../src/rack/store/rack-store.js';
import { advance, emptyRack, type Present } from '../../src/rack/sum.js';
import { isLying } from '../../src/rack/terms.js';
import { added, audited, BY, happen, rackAt, rackPiece } from '../tools/rack.js';
import { TestRedis } from '../tools/redis.js';

let redis: TestRedis;
let clients: readonly [Redis, Redis];

beforeAll(async () => {
  // By default Redis may answer up to two seconds before it writes, while the disk is busy; the model keeps all it was told.
  redis = await TestRedis.start({ args: ['--appendfsync', 'always'] });
  clients = [redis.connect(), redis.connect()];
});

afterAll(async () => {
  for (const client of clients) client.disconnect();
  await redis.end();
});

interface Shop {
  readonly stores: readonly [RackStore, RackStore];
  step: number;
}

type Made = readonly Happening[];

/** What a step of the model does, given how things stand; empty: nothing that would be allowed. */
type Plan = (present: Present, pick: (many: number) => number) => Made;

const idsOf = (present: Present, is: (kind: string) => boolean): string[] =>
  [...present.pieces.values()].flatMap(({ piece, state }) => (is(state.kind) ? [piece.id] : []));

const PLANS: Readonly<Record<string, Plan>> = {
  add: (present, pick) => [
    added(rackPiece(`p${present.pieces.size}`, pick(2) ? 'oak' : 'ash', 1 + pick(900_000))),
  ],
  edit: (present, pick) => {
    const some = idsOf(present, (kind) => kind === 'free' || kind === 'reserved');
    const id = some[pick(some.length)];
    if (id === undefined) return [];
    return [
      { kind: 'edited', piece: rackPiece(id, pick(2) ? 'oak' : 'ash', 1 + pick(900_000), { place: 'A1' }) },
    ];
  },
  move: (present, pick) => {
    const some = [...present.pieces.values()].filter(({ state }) => isLying(state));
    const id = some[pick(some.length)]?.piece.id;
    return id === undefined ? [] : [{ kind: 'moved', piece: id, place: pick(2) ? `B${pick(4)}` : null }];
  },
  remove: (present, pick) => {
    const some = idsOf(present, (kind) => kind !== 'used' && kind !== 'gone');
    const id = some[pick(some.length)];
    return id === undefined ? [] : [{ kind: 'removed', how: pick(2) ? 'removed' : 'missing', piece: id }];
  },
  reserve: (present, pick) => {
    const some = idsOf(present, (kind) => kind === 'free').slice(0, 1 + pick(3));
    return some.length === 0 ? [] : [{ kind: 'reserved', batch: `b${pick(3)}`, pieces: some }];
  },
  release: (present, pick) => {
    const batch = `b${pick(3)}`;
    const some = [...present.pieces.values()].flatMap(({ piece, state }) =>
      state.kind === 'reserved' && state.batch === batch ? [piece.id] : [],
    );
    return some.length === 0 ? [] : [{ kind: 'released', batch, how: 'unused', pieces: some }];
  },
  expect: (_, pick) => [
    {
      kind: 'expected',
      batch: `b${pick(3)}`,
      lines: [{ batch: `b${pick(3)}`, offer: 'ash-8', moulding: 'ash', length: 900_000, count: 1 + pick(3) }],
    },
  ],
  receive: (present, pick) => {
    const line = [...present.expected.values()][pick(present.expected.size)];
    if (line === undefined) return [];
    const { batch, offer } = line;
    const piece = rackPiece(`p${present.pieces.size}`, 'ash', 900_000, {
      from: { kind: 'delivery', batch, offer },
    });
    return [{ kind: 'received', batch, offer, reserve: pick(2) === 1, piece }];
  },
  drop: (present, pick) => {
    const line = [...present.expected.values()][pick(present.expected.size)];
    return line === undefined
      ? []
      : [{ kind: 'dropped', batch: line.batch, offer: line.offer, count: 1 + pick(line.count) }];
  },
  cut: (present, pick) => {
    const some = [...present.pieces.values()].filter(
      ({ state }) => state.kind === 'reserved' || state.kind === 'begun',
    );
    const one = some[pick(some.length)];
    if (one === undefined || !('batch' in one.state)) return [];
    const { batch } = one.state;
    const had = one.state.kind === 'begun' ? one.state.left : one.piece.length;
    const wood = pick(had + 1);
    const common = {
      kind: 'cut',
      batch,
      piece: one.piece.id,
      rails: [`A/${present.pieces.size}/top`],
      spoiled: [],
    } as const;
    if (pick(2) === 0) return [{ ...common, wood, waste: 0, offcuts: [], done: false }];
    const kept = pick(had - wood + 1);
    const offcut = rackPiece(`p${present.pieces.size}`, one.piece.moulding, Math.max(1, kept), {
      from: { kind: 'offcut', batch, of: one.piece.id },
      ends: ['mitred', 'raw'],
    });
    return [{ ...common, wood, waste: had - wood - kept, offcuts: kept > 0 ? [offcut] : [], done: true }];
  },
};

/** Numbers below `many` drawn from a seed of the command's own: a rejected shrink changes nothing else. */
function picker(seed: number): (many: number) => number {
  let state = seed;
  return (many) => {
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
    return many <= 0 ? 0 : state % many;
  };
}

const touched = (made: Made): string[] =>
  made.flatMap((one) => {
    if ('pieces' in one) return [...one.pieces];
    if (!('piece' in one)) return [];
    const ids = [typeof one.piece === 'string' ? one.piece : one.piece.id];
    return 'offcuts' in one ? [...ids, ...one.offcuts.map(({ id }) => id)] : ids;
  });

class Change implements fc.AsyncCommand<Present, Shop> {
  constructor(
    readonly what: string,
    readonly seed: number,
    readonly client: 0 | 1,
  ) {}

  check(): boolean {
    return true;
  }

  async run(model: Present, shop: Shop): Promise<void> {
    const made = PLANS[this.what]!(model, picker(this.seed));
    if (made.length === 0) return;
    await happen(shop.stores[this.client], touched(made), made);
    shop.step += 1;
    // The true names of entries are the journal's; the model needs only what changed.
    for (const one of made) advance(model, { id: '', event: signed(one, BY) });
    await agrees(model, shop);
  }

  toString(): string {
    return `${this.what}(${this.seed}) by client ${this.client}`;
  }
}

class Race implements fc.AsyncCommand<Present, Shop> {
  check(model: Present): boolean {
    return idsOf(model, (kind) => kind === 'free').length > 0;
  }

  async run(model: Present, shop: Shop): Promise<void> {
    const [id = ''] = idsOf(model, (kind) => kind === 'free');
    const outcomes = await Promise.allSettled(
      shop.stores.map((store, i) =>
        happen(store, [id], [{ kind: 'reserved', batch: `b${i}`, pieces: [id] }]),
      ),
    );
    const won = outcomes.findIndex(({ status }) => status === 'fulfilled');
    const codes = outcomes.map(
      (one) => (one.status === 'rejected' ? Reflect.get(one.reason, 'code') : 'won') as unknown,
    );
    deepEqual(new Set(codes), new Set(['won', 'PS_RACK']));
    advance(model, { id: '', event: signed({ kind: 'reserved', batch: `b${won}`, pieces: [id] }, BY) });
    await agrees(model, shop);
  }

  toString(): string {
    return 'both clients reserve one piece';
  }
}

class Kill implements fc.AsyncCommand<Present, Shop> {
  check(): boolean {
    return true;
  }

  async run(model: Present, shop: Shop): Promise<void> {
    await redis.down();
    await redis.up();
    await Promise.all(clients.map((client) => client.ping()));
    await agrees(model, shop);
  }

  toString(): string {
    return 'Redis is killed';
  }
}

async function agrees(model: Present, shop: Shop): Promise<void> {
  const [store] = shop.stores;
  const report = await audited(store);
  deepEqual(report.findings, []);
  const found = await store.derived();
  const due = viewsOf(model);
  deepEqual({ ...found.states }, due.states);
  deepEqual({ ...found.pieces }, due.pieces);
  deepEqual({ ...found.expected }, due.expected);
  deepEqual([...found.free].sort(), [...due.free].sort());
}

const changes = Object.keys(PLANS).map((what) =>
  fc
    .tuple(fc.nat(0x7fffffff), fc.constantFrom<0 | 1>(0, 1))
    .map(([seed, client]) => new Change(what, seed, client)),
);

describe('the rack in Redis', () => {
  it('is the sum of its journal, whatever two clients do and however often Redis dies', async () => {
    let run = 0;
    await fc.assert(
      fc.asyncProperty(
        fc.commands([...changes, fc.constant(new Race()), fc.constant(new Kill())], {
          maxCommands: 60,
          size: 'max',
        }),
        async (commands) => {
          const prefix = `model-${run++}`;
          const stores = [rackAt(clients[0], prefix), rackAt(clients[1], prefix)] as const;
          const real: Shop = { stores, step: 0 };
          await fc.asyncModelRun(() => ({ model: emptyRack(), real }), commands);
        },
      ),
      { seed: 1_126, numRuns: 10, endOnFailure: true },
    );
  }, 240_000);

  it('writes a change once, however often it is asked for', async () => {
    const store = rackAt(clients[0], 'twice');
    const change = changeOf({ pieces: [], expected: [] }, [added(rackPiece('r1', 'ash', 5))], BY);
    expect(await store.commit(change, 'mark')).toBe('done');
    expect(await store.commit(change, 'mark')).toBe('done');
    expect(await store.commit(change, 'another')).toBe('differs');
    expect(await audited(store)).toMatchObject({ ok: true, entries: 1, pieces: 1 });
  });

  it('frees what a batch holds and has not begun, and expects nothing more for it', async () => {
    const store = rackAt(clients[0], 'release');
    const half = { kind: 'cut', batch: 'B', piece: 'r2', rails: ['A/1/top'], spoiled: [] } as const;
    await happen(
      store,
      [],
      [
        ...['r1', 'r2', 'r3'].map((id) => added(rackPiece(id, 'ash', 1_000))),
        { kind: 'reserved', batch: 'B', pieces: ['r1', 'r2'] },
        { kind: 'reserved', batch: 'B2', pieces: ['r3'] },
        { ...half, wood: 400, waste: 0, offcuts: [], done: false },
        {
          kind: 'expected',
          batch: 'B',
          lines: [{ batch: 'B', offer: 'o', moulding: 'ash', length: 9, count: 3 }],
        },
        {
          kind: 'expected',
          batch: 'B2',
          lines: [{ batch: 'B2', offer: 'o', moulding: 'ash', length: 9, count: 3 }],
        },
      ],
    );
    // One piece, and one line of what was bought.
    expect(await store.release('B', 'cancelled', 'tests')).toBe(2);
    expect((await store.free('ash')).map(({ piece }) => piece.id)).toEqual(['r1']);
    expect(await store.held('B')).toEqual(['r2']);
    expect((await store.expected()).map(({ batch }) => batch)).toEqual(['B2']);
    expect(await audited(store)).toMatchObject({ ok: true, findings: [] });
  });

  it.each<
    [
      string,
      (raw: Redis, key: (name: keyof ReturnType<typeof rackKeysOf>) => string) => Promise<unknown>,
      RegExp,
    ]
  >([
    ['a piece that is freed by hand', (raw, key) => raw.hset(key('states'), 'r1', 'free'), /state of "r1"/],
    ['a piece that is dropped', (raw, key) => raw.hdel(key('pieces'), 'r1'), /description of "r1"/],
    ['a length that is changed', (raw, key) => raw.hset(key('pieces'), 'r1', '{}'), /description of "r1"/],
    ['an index that is incomplete', (raw, key) => raw.del(key('held')), /list of held pieces/],
    [
      'wood that is booked away',
      (raw, key) => raw.hincrby(key('wood'), 'ash\nlying', -1),
      /account "ash\\nlying"/,
    ],
    [
      'an entry that is cut out of the journal',
      async (raw, key) => {
        const [first] = await raw.xrange(key('journal'), '-', '+', 'COUNT', 1);
        return raw.xdel(key('journal'), first?.[0] ?? '');
      },
      /journal/,
    ],
  ])('its audit finds %s', async (what, spoil, where) => {
    const prefix = `spoiled ${what}`;
    const store = rackAt(clients[0], prefix);
    await happen(
      store,
      [],
      [added(rackPiece('r1', 'ash', 1_000)), { kind: 'reserved', batch: 'B', pieces: ['r1'] }],
    );
    const keys = rackKeysOf(prefix);
    await spoil(clients[0], (name) => keys[name]);
    const report = await audited(store);
    expect(report.ok).toBe(false);
    expect(report.findings.map((one) => one.what).join('\n')).toMatch(where);
  });

  it('goes into one file and comes back from it, to the byte', async () => {
    const store = rackAt(clients[0], 'kept');
    await happen(
      store,
      [],
      [
        added(rackPiece('r "1" ½', 'ash', 1_000, { flaws: [[3, 7]], value: 250, place: 'wall' })),
        added(rackPiece('r2', 'oak', 1_000)),
        { kind: 'reserved', batch: 'B', pieces: ['r2'] },
        {
          kind: 'expected',
          batch: 'B',
          lines: [{ batch: 'B', offer: 'o', moulding: 'ash', length: 9, count: 3 }],
        },
      ],
    );
    let text = '';
    for await (const line of backupLines(store.texts())) text += line;
    const { entries, present } = readBackup(text);
    const other = rackAt(clients[1], 'restored');
    await other.adopt(viewsOf(present), entries, 1);
    expect(await audited(other)).toMatchObject({ ok: true, entries: 4, pieces: 2 });
    expect(await other.derived()).toEqual(await store.derived());
    let again = '';
    for await (const line of backupLines(other.texts())) again += line;
    expect(again).toBe(text);
    await happen(other, ['r2'], [{ kind: 'released', batch: 'B', how: 'unused', pieces: ['r2'] }]);
    await expect(store.adopt(viewsOf(present), entries, 1)).rejects.toMatchObject({ code: 'PS_RACK' });
    expect(() => readBackup(text.replace('wall', 'hall'))).toThrow(/digest of other lines/);
    expect(() => readBackup(text.slice(0, -2))).toThrow(/no last line/);
  });

  it('of a newer program is left alone', async () => {
    const store = rackAt(clients[0], 'newer');
    await happen(store, [], [added(rackPiece('r1', 'ash', 1_000))]);
    await clients[0].hset(rackKeysOf('newer').about, 'version', '2');
    await expect(store.free('ash')).rejects.toThrow(/newer pairstop/);
    await expect(happen(store, [], [added(rackPiece('r2', 'ash', 1_000))])).rejects.toThrow(/newer pairstop/);
    expect(await store.derived()).toMatchObject({ entries: 1 });
  });
});
