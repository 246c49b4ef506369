/** The rack from outside: each call reads, decides by the pure rules of `src/rack`, and writes in one step. */
import { userInfo } from 'node:os';
import type { Recut } from '../../documents/recut/types.js';
import { PairstopError } from '../../errors.js';
import { audit, type RackAudit, viewsOf } from '../../rack/audit.js';
import { backupLines, readBackup } from '../../rack/backup.js';
import { type CountedPiece, countOf, type RackCount } from '../../rack/counting.js';
import type { Happening, JournalEntry, Signed } from '../../rack/events.js';
import { pieceIdOf } from '../../rack/names.js';
import { receivedEvents, receiving } from '../../rack/receiving.js';
import { type Deal, RackStore } from '../../rack/store/rack-store.js';
import { RACK_VERSION } from '../../rack/store/scripts.js';
import { type ExpectedLine, isLying, type RackPiece, type Shelved } from '../../rack/terms.js';
import type { Units } from '../../terms.js';
import type { Session } from '../client/session.js';
import { type CutWork, cutDeal } from './cut-deal.js';
import type {
  CountOptions,
  CutOptions,
  NewPiece,
  PieceChanges,
  RackCutting,
  RackDelivery,
  RackDesk,
  RackFilter,
  RackItem,
  RackMeasured,
  RackRecutOptions,
  RackSigned,
  ReceiveOptions,
} from './desk-api.js';
import { recutFromRack } from './recutting.js';

/** Where the desk finds a batch and its plan. */
export type WorkOf = (batch: string) => Promise<CutWork>;

function nobody(): string {
  try {
    return userInfo().username;
  } catch {
    return 'somebody';
  }
}

function signedBy({ who, why }: RackSigned = {}): Signed {
  return { who: who ?? nobody(), why: why ?? null };
}

function itemOf({ piece, state }: Shelved): RackItem {
  return { ...piece, state };
}

function unknown(id: string): PairstopError {
  const given = JSON.stringify(id.slice(0, 200));
  return new PairstopError('PS_RACK', `given ${given}; allowed: a piece the rack knows`, [
    { path: 'id', given, allowed: 'a piece the rack knows' },
  ]);
}

function refuse(path: string, given: string, allowed: string): PairstopError {
  return new PairstopError('PS_RACK', `${path}: given ${given}; allowed: ${allowed}`, [
    { path, given, allowed },
  ]);
}

function byName(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}

export class QueueRackDesk implements RackDesk {
  readonly #session: Session;
  readonly #rack: RackStore;
  readonly #workOf: WorkOf;

  constructor(session: Session, workOf: WorkOf) {
    this.#session = session;
    this.#rack = new RackStore(session.redis, session.keys.rack);
    this.#workOf = workOf;
  }

  #ask<T>(what: () => Promise<T>): Promise<T> {
    return this.#session.ask('asking the rack', what);
  }

  #deal<T>(how: RackSigned | undefined, make: () => Promise<Deal<T>>): Promise<T> {
    return this.#rack.deal(signedBy(how), (what) => this.#ask(what), make);
  }

  /** That so many pieces were described in these units. */
  async #describe(units: Units | undefined, pieces: number): Promise<void> {
    if (units !== undefined) await this.#ask(() => this.#rack.describe(units, pieces));
  }

  /** Pieces by these ids, or by the codes of their labels. Throws PS_RACK where one is unknown. */
  async #known(given: readonly string[]): Promise<readonly Shelved[]> {
    const ids = given.map(pieceIdOf);
    const found = await this.#rack.pieces(ids);
    const names = new Set(found.map(({ piece }) => piece.id));
    const missing = ids.find((id) => !names.has(id));
    if (missing !== undefined) throw unknown(missing);
    return found;
  }

  async list({ moulding, place, batch, all = false }: RackFilter = {}): Promise<readonly RackItem[]> {
    const every = await this.#ask(() => this.#rack.all());
    return every
      .map(itemOf)
      .filter(
        (item) =>
          (all || isLying(item.state)) &&
          (moulding === undefined || item.moulding === moulding) &&
          (place === undefined || item.place === place) &&
          (batch === undefined || ('batch' in item.state && item.state.batch === batch)),
      )
      .sort((a, b) => byName(a.moulding, b.moulding) || byName(a.id, b.id));
  }

  expected(): Promise<readonly ExpectedLine[]> {
    return this.#ask(() => this.#rack.expected());
  }

  async units(): Promise<Units> {
    const { in: inches, mm } = await this.#ask(() => this.#rack.described());
    return mm > inches ? 'mm' : 'in';
  }

  async add(
    pieces: readonly NewPiece[],
    how: RackMeasured & { readonly imported?: boolean } = {},
  ): Promise<void> {
    // A table may have been written by a program: it speaks only for a shop that has not spoken itself.
    const { in: inches, mm } = await this.#ask(() => this.#rack.described());
    const speaks = how.imported !== true || inches + mm === 0;
    await this.#deal(how, async () => {
      const there = await this.#rack.pieces(pieces.map(({ id }) => id));
      return {
        known: { pieces: there, expected: [] },
        happenings: pieces.map(
          (given): Happening => ({
            kind: 'added',
            how: how.imported === true ? 'imported' : 'entered',
            piece: {
              ends: ['raw', 'raw'],
              flaws: [],
              value: null,
              place: null,
              ...given,
              from: { kind: 'entered' },
            },
          }),
        ),
        answer: null,
      };
    });
    if (speaks) await this.#describe(how.units, pieces.length);
  }

  async edit(id: string, changes: PieceChanges, how?: RackMeasured): Promise<RackItem> {
    const item = await this.#deal(how, async () => {
      const [before] = await this.#known([id]);
      if (before === undefined) throw unknown(id);
      const piece: RackPiece = { ...before.piece, ...changes };
      return {
        known: { pieces: [before], expected: [] },
        happenings: [{ kind: 'edited', piece }],
        answer: { ...piece, state: before.state },
      };
    });
    await this.#describe(how?.units, 1);
    return item;
  }

  async move(ids: readonly string[], place: string | null, how?: RackSigned): Promise<void> {
    await this.#deal(how, async () => {
      const pieces = await this.#known(ids);
      const happenings = pieces.map(({ piece }): Happening => ({ kind: 'moved', piece: piece.id, place }));
      return { known: { pieces, expected: [] }, happenings, answer: null };
    });
  }

  async remove(ids: readonly string[], how?: RackSigned): Promise<void> {
    await this.#deal(how, async () => {
      const pieces = await this.#known(ids);
      const happenings = pieces.map(
        ({ piece }): Happening => ({ kind: 'removed', how: 'removed', piece: piece.id }),
      );
      return { known: { pieces, expected: [] }, happenings, answer: null };
    });
  }

  async history(given: string): Promise<readonly JournalEntry[]> {
    const id = pieceIdOf(given);
    const mark = JSON.stringify(id);
    const about = ({ event }: JournalEntry): boolean => {
      if ('pieces' in event) return event.pieces.includes(id);
      if (!('piece' in event)) return false;
      if ((typeof event.piece === 'string' ? event.piece : event.piece.id) === id) return true;
      return 'offcuts' in event && event.offcuts.some((offcut) => offcut.id === id);
    };
    const found = await this.#ask(async () => {
      const entries: JournalEntry[] = [];
      for await (const entry of this.#rack.journal('+', (text) => text.includes(mark))) {
        if (about(entry)) entries.push(entry);
      }
      return entries;
    });
    if (found.length === 0) throw unknown(id);
    return found;
  }

  audit(): Promise<RackAudit> {
    return this.#ask(async () => {
      const derived = await this.#rack.derived();
      return audit(this.#rack.journal(derived.last), derived);
    });
  }

  async receive(batch: string, options: ReceiveOptions = {}): Promise<RackDelivery> {
    const { offer, close = false, count, length, flaws, place } = options;
    const work = await this.#workOf(batch).catch(() => null);
    const delivery = await this.#deal(options, async (): Promise<Deal<RackDelivery>> => {
      const all = await this.#rack.expected(batch);
      const lines = all.filter((line) => offer === undefined || line.offer === offer);
      if (lines.length === 0) {
        const allowed =
          all.length === 0 ? 'nothing is expected for it' : all.map((line) => line.offer).join(', ');
        throw refuse('offer', JSON.stringify(offer ?? 'any'), allowed);
      }
      if (lines.length > 1 && (count !== undefined || length !== undefined || flaws !== undefined)) {
        throw refuse('offer', 'none', `one of ${lines.map((line) => line.offer).join(', ')}`);
      }
      const happenings: Happening[] = [];
      const received: RackDelivery['received'][number][] = [];
      const dropped: RackDelivery['dropped'][number][] = [];
      const taken = new Set((await this.#rack.ids()).filter((id) => id.startsWith(batch.slice(0, 40))));
      for (const line of lines) {
        const came = count ?? line.count;
        if (came > line.count)
          throw refuse('count', String(came), `at most the ${line.count} that are expected`);
        const delivered = {
          count: came,
          ...(length !== undefined && { length }),
          ...(flaws !== undefined && { flaws }),
          ...(place !== undefined && { place }),
        };
        const sticks = receiving(line, work?.plan ?? null, delivered, taken);
        happenings.push(...receivedEvents(line, sticks, work?.plan ?? null));
        for (const { piece, stick, fits } of sticks) {
          taken.add(piece.id);
          received.push({ id: piece.id, offer: line.offer, length: piece.length, stick, fits });
        }
        const rest = line.count - came;
        if (close && rest > 0) {
          dropped.push({ offer: line.offer, count: rest });
          happenings.push({ kind: 'dropped', batch, offer: line.offer, count: rest });
        }
      }
      const less = new Map([...received, ...dropped].map((one) => [one.offer, 0]));
      for (const one of received) less.set(one.offer, (less.get(one.offer) ?? 0) + 1);
      for (const one of dropped) less.set(one.offer, (less.get(one.offer) ?? 0) + one.count);
      const expected = all
        .map((line) => ({ ...line, count: line.count - (less.get(line.offer) ?? 0) }))
        .filter((line) => line.count > 0);
      return {
        known: { pieces: [], expected: lines },
        happenings,
        answer: { batch, received, dropped, expected },
      };
    });
    await this.#describe(work?.plan.units, delivery.received.length);
    return delivery;
  }

  async cut(batch: string, options: CutOptions = {}): Promise<RackCutting> {
    const work = await this.#workOf(batch);
    const cutting = await this.#deal(options, () => cutDeal(this.#rack, work, options));
    await this.#describe(work.plan.units, cutting.offcuts.length);
    return cutting;
  }

  async recut(batch: string, options: RackRecutOptions): Promise<Recut> {
    const work = await this.#workOf(batch);
    return recutFromRack(this.#rack, work, options, signedBy(options), (what) => this.#ask(what));
  }

  count(counted: readonly CountedPiece[], options: CountOptions = {}): Promise<RackCount> {
    const { settle = false } = options;
    const pieces = counted.map((one) => ({ ...one, id: pieceIdOf(one.id) }));
    return this.#deal(options, async () => {
      const there = await this.#rack.all();
      const { count, happenings } = countOf(there, pieces, options);
      const ids = new Set(
        happenings.flatMap((one) =>
          'piece' in one ? [typeof one.piece === 'string' ? one.piece : one.piece.id] : [],
        ),
      );
      return {
        known: { pieces: there.filter(({ piece }) => ids.has(piece.id)), expected: [] },
        happenings: settle ? happenings : [],
        answer: count,
      };
    });
  }

  async *backup(): AsyncGenerator<string, void, undefined> {
    const { last } = await this.#ask(() => this.#rack.derived());
    yield* backupLines(this.#rack.texts(last));
  }

  async restore(text: string): Promise<number> {
    const { entries, present } = readBackup(text);
    await this.#ask(() => this.#rack.adopt(viewsOf(present), entries, RACK_VERSION));
    return entries.length;
  }
}
