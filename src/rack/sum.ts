/**
 * The present as the sum of events. The store uses `advance` for what it is about to write, the audit for all that was
 * ever written: so there is one place that knows what an event does.
 */
import { PairstopError } from '../errors.js';
import type { Um } from '../terms.js';
import type { JournalEntry } from './events.js';
import {
  type ExpectedLine,
  isLying,
  lyingOf,
  NO_WOOD,
  type PieceState,
  type RackPiece,
  type Shelved,
  type WoodAccount,
} from './terms.js';

export interface Present {
  readonly pieces: Map<string, Shelved>;
  /** By `expectedKey`. */
  readonly expected: Map<string, ExpectedLine>;
  /** By moulding. */
  readonly wood: Map<string, WoodAccount>;
}

export function emptyRack(): Present {
  return { pieces: new Map(), expected: new Map(), wood: new Map() };
}

export function expectedKey(batch: string, offer: string): string {
  return `${batch}\n${offer}`;
}

function refuse(entry: JournalEntry, given: string, allowed: string): PairstopError {
  const what = `${entry.event.kind}: given ${given}; allowed: ${allowed}`;
  return new PairstopError('PS_RACK', what, [{ path: entry.event.kind, given, allowed }]);
}

export function stateWords(state: PieceState): string {
  switch (state.kind) {
    case 'free':
      return 'free';
    case 'gone':
      return 'gone';
    case 'reserved':
      return `reserved for ${JSON.stringify(state.batch)}`;
    case 'begun':
      return `begun for ${JSON.stringify(state.batch)}`;
    case 'used':
      return `used up by ${JSON.stringify(state.batch)}`;
    default:
      return state satisfies never;
  }
}

class JournalStep {
  readonly #present: Present;
  readonly #entry: JournalEntry;

  constructor(present: Present, entry: JournalEntry) {
    this.#present = present;
    this.#entry = entry;
  }

  #book(moulding: string, by: Partial<WoodAccount>): void {
    const before = this.#present.wood.get(moulding) ?? NO_WOOD;
    const { came = 0, rails = 0, waste = 0, gone = 0, lying = 0 } = by;
    this.#present.wood.set(moulding, {
      came: before.came + came,
      rails: before.rails + rails,
      waste: before.waste + waste,
      gone: before.gone + gone,
      lying: before.lying + lying,
    });
  }

  #known(id: string): Shelved {
    const found = this.#present.pieces.get(id);
    if (found === undefined) throw refuse(this.#entry, JSON.stringify(id), 'a piece the rack knows');
    return found;
  }

  #lying(id: string): Shelved {
    const found = this.#known(id);
    if (isLying(found.state)) return found;
    throw refuse(this.#entry, `${JSON.stringify(id)}, ${stateWords(found.state)}`, 'a piece that lies there');
  }

  #put(shelved: Shelved): void {
    const { pieces } = this.#present;
    const before = pieces.get(shelved.piece.id);
    if (before !== undefined) this.#book(before.piece.moulding, { lying: -lyingOf(before) });
    pieces.set(shelved.piece.id, shelved);
    this.#book(shelved.piece.moulding, { lying: lyingOf(shelved) });
  }

  #enter(piece: RackPiece, state: PieceState): void {
    if (this.#present.pieces.has(piece.id)) {
      throw refuse(this.#entry, JSON.stringify(piece.id), 'an id the rack has never had');
    }
    const outside = piece.flaws.find(([from, to], i) => {
      const before = piece.flaws[i - 1]?.[1] ?? -1;
      return from >= to || to > piece.length || from <= before;
    });
    if (outside !== undefined) {
      throw refuse(this.#entry, `a flaw from ${outside[0]} to ${outside[1]}`, 'flaws in order, in the piece');
    }
    this.#put({ piece, state, revision: this.#entry.id });
  }

  #came(piece: RackPiece, state: PieceState): void {
    this.#enter(piece, state);
    this.#book(piece.moulding, { came: piece.length });
  }

  #state(id: string, state: PieceState): void {
    this.#put({ ...this.#known(id), state });
  }

  #edit(piece: RackPiece): void {
    const before = this.#lying(piece.id);
    if (before.state.kind === 'begun') {
      throw refuse(this.#entry, `${JSON.stringify(piece.id)}, begun`, 'a piece nothing is cut from yet');
    }
    this.#put({ piece, state: before.state, revision: this.#entry.id });
    if (before.piece.moulding === piece.moulding) {
      const longer = piece.length - before.piece.length;
      this.#book(piece.moulding, longer >= 0 ? { came: longer } : { gone: -longer });
    } else {
      this.#book(before.piece.moulding, { gone: before.piece.length });
      this.#book(piece.moulding, { came: piece.length });
    }
  }

  #remove(id: string): void {
    const before = this.#lying(id);
    this.#state(id, { kind: 'gone' });
    this.#book(before.piece.moulding, { gone: lyingOf(before) });
  }

  #reserve(batch: string, ids: readonly string[]): void {
    for (const id of ids) {
      const { state } = this.#known(id);
      if (state.kind !== 'free') {
        throw refuse(this.#entry, `${JSON.stringify(id)}, ${stateWords(state)}`, 'a free piece');
      }
      this.#state(id, { kind: 'reserved', batch });
    }
  }

  #release(batch: string, ids: readonly string[]): void {
    for (const id of ids) {
      const { state } = this.#known(id);
      if (state.kind !== 'reserved' || state.batch !== batch) {
        const given = `${JSON.stringify(id)}, ${stateWords(state)}`;
        throw refuse(this.#entry, given, `a piece reserved for ${JSON.stringify(batch)}`);
      }
      this.#state(id, { kind: 'free' });
    }
  }

  #expect(line: ExpectedLine): void {
    const key = expectedKey(line.batch, line.offer);
    const before = this.#present.expected.get(key);
    const count = line.count + (before?.count ?? 0);
    if (count > 0) this.#present.expected.set(key, { ...line, count });
  }

  #expectLess(batch: string, offer: string, by: number): void {
    const key = expectedKey(batch, offer);
    const before = this.#present.expected.get(key);
    if (before === undefined || before.count < by) {
      const given = `${by} of ${JSON.stringify(offer)} for ${JSON.stringify(batch)}`;
      throw refuse(this.#entry, given, `at most the ${before?.count ?? 0} that are expected`);
    }
    if (before.count === by) this.#present.expected.delete(key);
    else this.#present.expected.set(key, { ...before, count: before.count - by });
  }

  #cut(event: Extract<JournalEntry['event'], { kind: 'cut' }>): void {
    const { batch, piece: id, rails, spoiled, wood, waste, offcuts, done } = event;
    const before = this.#known(id);
    const { state, piece } = before;
    if ((state.kind !== 'reserved' && state.kind !== 'begun') || state.batch !== batch) {
      const given = `${JSON.stringify(id)}, ${stateWords(state)}`;
      throw refuse(this.#entry, given, `a piece reserved or begun for ${JSON.stringify(batch)}`);
    }
    const had = lyingOf(before);
    const kept = offcuts.reduce((sum: Um, offcut) => sum + offcut.length, 0);
    const left = had - wood - waste - kept;
    if (done ? left !== 0 : left < 0 || waste > 0 || kept > 0) {
      const given = `rails ${wood}, waste ${waste}, offcuts ${kept} of ${had} µm`;
      throw refuse(
        this.#entry,
        given,
        done ? 'as much as there was' : 'rails alone, no longer than the piece',
      );
    }
    if (offcuts.some((offcut) => offcut.moulding !== piece.moulding)) {
      throw refuse(
        this.#entry,
        'an offcut of another moulding',
        `offcuts of ${JSON.stringify(piece.moulding)}`,
      );
    }
    const earlier = state.kind === 'begun' ? state : { rails: [], spoiled: [] };
    this.#state(
      id,
      done
        ? { kind: 'used', batch }
        : {
            kind: 'begun',
            batch,
            left,
            rails: [...earlier.rails, ...rails],
            spoiled: [...earlier.spoiled, ...spoiled],
          },
    );
    this.#book(piece.moulding, { rails: wood, waste });
    for (const offcut of offcuts) this.#enter(offcut, { kind: 'free' });
  }

  take(): void {
    const { event } = this.#entry;
    switch (event.kind) {
      case 'added':
        this.#came(event.piece, { kind: 'free' });
        return;
      case 'moved':
        this.#put({
          ...this.#lying(event.piece),
          piece: { ...this.#lying(event.piece).piece, place: event.place },
        });
        return;
      case 'edited':
        this.#edit(event.piece);
        return;
      case 'removed':
        this.#remove(event.piece);
        return;
      case 'reserved':
        this.#reserve(event.batch, event.pieces);
        return;
      case 'released':
        this.#release(event.batch, event.pieces);
        return;
      case 'expected':
        for (const line of event.lines) this.#expect(line);
        return;
      case 'received':
        this.#expectLess(event.batch, event.offer, 1);
        this.#came(event.piece, event.reserve ? { kind: 'reserved', batch: event.batch } : { kind: 'free' });
        return;
      case 'dropped':
        this.#expectLess(event.batch, event.offer, event.count);
        return;
      case 'cut':
        this.#cut(event);
        return;
      default:
        event satisfies never;
    }
  }
}

/** Changes `present` by one event. Throws PS_RACK where it does not allow it, and may then have changed half of it. */
export function advance(present: Present, entry: JournalEntry): void {
  new JournalStep(present, entry).take();
}

/** Throws PS_RACK for a journal that does not add up. */
export function sumOf(entries: Iterable<JournalEntry>): Present {
  const present = emptyRack();
  for (const entry of entries) advance(present, entry);
  return present;
}
