/** The rack in Redis: reads the present, writes changes in one step each, reads the journal. */
import { createHash, randomUUID } from 'node:crypto';
import type { Redis } from 'ioredis';
import { PairstopError } from '../../errors.js';
import type { Units } from '../../terms.js';
import { changeOf, holderText, type Known, pieceText, type RackChange, stateText } from '../change.js';
import { eventFrom, type Happening, type JournalEntry, type Signed } from '../events.js';
import { expectedKey } from '../sum.js';
import type { ExpectedLine, Shelved } from '../terms.js';
import { keyList, type RackKeys } from './keys.js';
import { damagedRack, expectedFrom, newerRack, pieceFrom, stateFrom } from './reading.js';
import { RACK_SCRIPTS, type RackScript } from './scripts.js';

const CHUNK = 5_000;
/** How often a change is made anew because the rack was changed meanwhile. */
const TRIES = 40;

const shas = Object.fromEntries(
  Object.entries(RACK_SCRIPTS).map(([name, text]) => [name, createHash('sha1').update(text).digest('hex')]),
) as Record<RackScript, string>;

/** The derived hashes and sets as they lie there, of one moment. */
export interface Derived {
  readonly last: string;
  readonly entries: number;
  readonly pieces: Readonly<Record<string, string>>;
  readonly states: Readonly<Record<string, string>>;
  readonly revisions: Readonly<Record<string, string>>;
  readonly free: readonly string[];
  readonly held: readonly string[];
  readonly wood: Readonly<Record<string, string>>;
  readonly expected: Readonly<Record<string, string>>;
}

/** A change as the scripts read it. */
export function changeText(change: RackChange): string {
  return JSON.stringify({
    events: change.events,
    pieces: change.pieces.map(({ before, after, described }) => ({
      id: after.piece.id,
      before: before === null ? '' : stateText(before.state),
      revision: before?.revision ?? '',
      mouldingBefore: before?.piece.moulding ?? '',
      holderBefore: before === null ? '' : holderText(before.state),
      after: stateText(after.state),
      moulding: after.piece.moulding,
      holder: holderText(after.state),
      text: before !== null && pieceText(before) === pieceText(after) ? '' : pieceText(after),
      described,
    })),
    expected: change.expected,
    wood: change.wood,
  });
}

/** What a change is made from, and made of: asked again where the rack has changed meanwhile. */
export interface Deal<T> {
  readonly known: Known;
  readonly happenings: readonly Happening[];
  readonly answer: T;
}

/** Something of another part of the service that is written in the same step as a change of the rack. */
export interface KeptBeside {
  readonly key: string;
  readonly value: Buffer;
  /** Milliseconds until it may be forgotten. */
  readonly lasts: number;
}

export class RackStore {
  readonly #redis: Redis;
  readonly #keys: RackKeys;

  constructor(redis: Redis, keys: RackKeys) {
    this.#redis = redis;
    this.#keys = keys;
  }

  async #run(
    name: RackScript,
    args: readonly (string | number | Buffer)[],
    more: readonly string[] = [],
  ): Promise<readonly string[]> {
    const keys = [...keyList(this.#keys), ...more];
    let reply: unknown;
    try {
      reply = await this.#redis.evalsha(shas[name], keys.length, ...keys, ...args);
    } catch (error) {
      if (!(error instanceof Error) || !error.message.startsWith('NOSCRIPT')) throw error;
      reply = await this.#redis.eval(RACK_SCRIPTS[name], keys.length, ...keys, ...args);
    }
    if (!Array.isArray(reply)) throw damagedRack('a reply of no known form');
    const texts = reply.map(String);
    if (texts[0] === 'newer') throw newerRack();
    return texts;
  }

  /** One attempt; null: the rack was not as the change has it. `mark` makes it safe to ask again. */
  async commit(change: RackChange, mark: string, beside?: KeptBeside): Promise<'done' | 'differs'> {
    if (change.events.length === 0 && beside === undefined) return 'done';
    const args = [changeText(change), mark];
    const [outcome] =
      beside === undefined
        ? await this.#run('commit', args)
        : await this.#run('commit', [...args, beside.value, Math.round(beside.lasts)], [beside.key]);
    return outcome === 'done' ? 'done' : 'differs';
  }

  /**
   * Reads, decides and writes, again where somebody else was quicker. `ask` repeats what Redis is asked while it is away.
   * Throws PS_RACK for what the rack does not allow.
   */
  async deal<T>(
    by: Signed,
    ask: <A>(what: () => Promise<A>) => Promise<A>,
    make: () => Promise<Deal<T>>,
    beside?: KeptBeside,
  ): Promise<T> {
    for (let tries = 0; tries < TRIES; tries++) {
      const { known, happenings, answer } = await ask(make);
      const change = changeOf(known, happenings, by);
      const mark = randomUUID();
      if ((await ask(() => this.commit(change, mark, beside))) === 'done') return answer;
    }
    throw new PairstopError('PS_RACK', 'the rack is changed by others all the time; try again');
  }

  /** In the order asked for, without those the rack does not know. */
  async pieces(ids: readonly string[]): Promise<Shelved[]> {
    const found: Shelved[] = [];
    for (let from = 0; from < ids.length; from += CHUNK) {
      const some = ids.slice(from, from + CHUNK);
      const { pieces, states, revisions } = this.#keys;
      const read = this.#redis
        .multi()
        .hmget(pieces, ...some)
        .hmget(states, ...some)
        .hmget(revisions, ...some);
      const [texts, kinds, entries] = ((await read.exec()) ?? []).map(([error, values]) => {
        if (error !== null) throw error;
        return values as (string | null)[];
      });
      some.forEach((_, i) => {
        const [text, state] = [texts?.[i], kinds?.[i]];
        if (typeof text !== 'string' || typeof state !== 'string') return;
        found.push({ piece: pieceFrom(text), state: stateFrom(state), revision: entries?.[i] ?? '' });
      });
    }
    return found;
  }

  /** In how many descriptions of pieces the lengths were given in each of the units. */
  async described(): Promise<Readonly<Record<Units, number>>> {
    const [inches, millimetres] = await this.#redis.hmget(this.#keys.about, 'described:in', 'described:mm');
    return { in: Number(inches ?? 0), mm: Number(millimetres ?? 0) };
  }

  /** A habit of the shop, not a fact about its wood: so it is no event, and counted beside them. */
  async describe(units: Units, pieces: number): Promise<void> {
    if (pieces > 0) await this.#redis.hincrby(this.#keys.about, `described:${units}`, pieces);
  }

  /** Every id the rack has ever had. */
  ids(): Promise<string[]> {
    return this.#redis.hkeys(this.#keys.pieces);
  }

  /** Of one moment, by id. */
  async free(moulding: string): Promise<Shelved[]> {
    const [, ...texts] = await this.#run('free', [moulding]);
    const found: Shelved[] = [];
    for (let i = 0; i + 1 < texts.length; i += 2) {
      found.push({ piece: pieceFrom(texts[i]!), state: { kind: 'free' }, revision: texts[i + 1]! });
    }
    return found;
  }

  /** Ids of what is reserved or begun for a batch. */
  async held(batch: string): Promise<string[]> {
    const members = await this.#redis.zrangebylex(this.#keys.held, `[${batch}\n`, `(${batch}\u000b`);
    return members.map((member) => member.slice(batch.length + 1));
  }

  /** Pieces reserved for a batch of which nothing is cut. */
  async reserved(batch: string): Promise<Shelved[]> {
    const held = await this.pieces(await this.held(batch));
    return held.filter(({ state }) => state.kind === 'reserved' && state.batch === batch);
  }

  /** Every batch that holds pieces or expects sticks. */
  async holders(): Promise<string[]> {
    const members = await this.#redis.zrange(this.#keys.held, '0', '-1');
    const keys = await this.#redis.hkeys(this.#keys.expected);
    return [...new Set([...members, ...keys].map((text) => text.slice(0, text.indexOf('\n'))))];
  }

  async expected(batch?: string): Promise<ExpectedLine[]> {
    const texts = await this.#redis.hvals(this.#keys.expected);
    const lines = texts.map(expectedFrom);
    return batch === undefined ? lines : lines.filter((line) => line.batch === batch);
  }

  async release(batch: string, how: 'cancelled' | 'replaced', who: string): Promise<number> {
    return Number((await this.#run('release', [batch, how, who]))[1] ?? 0);
  }

  /** Null: its record is alive. */
  async expire(batch: string, record: string, who: string): Promise<number | null> {
    const [outcome, count] = await this.#run('expire', [batch, who], [record]);
    return outcome === 'alive' ? null : Number(count);
  }

  /** Entries of the journal from the oldest on, up to `last`. */
  async *journal(
    last = '+',
    wanted: (text: string) => boolean = () => true,
  ): AsyncGenerator<JournalEntry, void, undefined> {
    for await (const { id, text } of this.texts(last))
      if (wanted(text)) yield { id, event: eventFrom(id, text) };
  }

  /** The same, unread. */
  async *texts(last = '+'): AsyncGenerator<{ readonly id: string; readonly text: string }, void, undefined> {
    for (let from = '-'; ; ) {
      const entries = await this.#redis.xrange(this.#keys.journal, from, last, 'COUNT', CHUNK);
      for (const [id, fields] of entries) yield { id, text: fields[fields.indexOf('e') + 1] ?? '' };
      const end = entries.at(-1);
      if (end === undefined || entries.length < CHUNK) return;
      from = `(${end[0]}`;
    }
  }

  /** Everything derived, of one moment. */
  async derived(): Promise<Derived> {
    const { pieces, states, revisions, free, held, wood, expected, about } = this.#keys;
    const replies = await this.#redis
      .multi()
      .hmget(about, 'last', 'entries')
      .hgetall(pieces)
      .hgetall(states)
      .hgetall(revisions)
      .zrange(free, '0', '-1')
      .zrange(held, '0', '-1')
      .hgetall(wood)
      .hgetall(expected)
      .exec();
    const values = (replies ?? []).map(([error, value]) => {
      if (error !== null) throw error;
      return value;
    });
    type Texts = Record<string, string>;
    const [last, entries] = values[0] as (string | null)[];
    return {
      last: last ?? '0-0',
      entries: Number(entries ?? 0),
      pieces: values[1] as Texts,
      states: values[2] as Texts,
      revisions: values[3] as Texts,
      free: values[4] as string[],
      held: values[5] as string[],
      wood: values[6] as Texts,
      expected: values[7] as Texts,
    };
  }

  /** All pieces as derived, of one moment. */
  async all(): Promise<Shelved[]> {
    const { pieces, states, revisions } = await this.derived();
    return Object.entries(pieces).map(([id, text]) => ({
      piece: pieceFrom(text),
      state: stateFrom(states[id] ?? ''),
      revision: revisions[id] ?? '',
    }));
  }

  /** Puts a whole rack where none is: first beside it, then in its place in one step. Throws PS_RACK where there is one. */
  async adopt(
    derived: Omit<Derived, 'last' | 'entries'>,
    entries: readonly { readonly id: string; readonly text: string }[],
    version: number,
  ): Promise<void> {
    const draft = Object.fromEntries(
      Object.entries(this.#keys).map(([name, key]) => [name, `${String(key)}:draft:${randomUUID()}`]),
    ) as unknown as RackKeys;
    const chunks = function* <T>(all: readonly T[]): Generator<readonly T[]> {
      for (let from = 0; from < all.length; from += CHUNK) yield all.slice(from, from + CHUNK);
    };
    try {
      for (const some of chunks(entries)) {
        const pipeline = this.#redis.pipeline();
        for (const { id, text } of some) pipeline.xadd(draft.journal, id, 'e', text);
        for (const [error] of (await pipeline.exec()) ?? []) if (error !== null) throw error;
      }
      for (const name of ['pieces', 'states', 'revisions', 'wood', 'expected'] as const) {
        for (const some of chunks(Object.entries(derived[name]))) {
          await this.#redis.hset(draft[name], Object.fromEntries(some));
        }
      }
      for (const name of ['free', 'held'] as const) {
        for (const some of chunks(derived[name])) {
          await this.#redis.zadd(draft[name], ...some.flatMap((member) => ['0', member]));
        }
      }
      const last = entries.at(-1)?.id ?? '0-0';
      await this.#redis.hset(draft.about, { version, last, entries: entries.length });
      const [outcome] = await this.#run('adopt', [], keyList(draft));
      if (outcome === 'taken') {
        throw new PairstopError(
          'PS_RACK',
          'this shop has a rack already; a backup is restored only where there is none',
        );
      }
    } finally {
      await this.#redis.del(...keyList(draft)).catch(() => undefined);
    }
  }
}

/** Expected lines by key. */
export function expectedMap(lines: readonly ExpectedLine[]): ReadonlyMap<string, ExpectedLine> {
  return new Map(lines.map((line) => [expectedKey(line.batch, line.offer), line]));
}
