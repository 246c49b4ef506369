/** Stocktaking: what is really there against what the rack says, and the events that settle the difference. */
import type { Um } from '../terms.js';
import type { Happening } from './events.js';
import { another } from './names.js';
import { isLying, type RackPiece, type Shelved } from './terms.js';

/** A piece that was found. What is not said was not looked at. */
export interface CountedPiece {
  readonly id: string;
  readonly moulding?: string;
  readonly length?: Um;
  readonly place?: string;
  readonly flaws?: RackPiece['flaws'];
}

export interface CountScope {
  readonly moulding?: string;
  readonly place?: string;
}

export interface RackCount {
  /** Pieces that were found as the rack has them. */
  readonly right: number;
  /** On the rack's books, and not found. */
  readonly missing: readonly { readonly id: string; readonly length: Um; readonly batch: string | null }[];
  /** Found, and unknown to the rack or written off. */
  readonly found: readonly { readonly id: string; readonly as: string; readonly length: Um }[];
  readonly measured: readonly {
    readonly id: string;
    readonly was: Um;
    readonly is: Um;
    readonly batch: string | null;
  }[];
  readonly moved: readonly { readonly id: string; readonly from: string | null; readonly to: string }[];
  /** Found, unknown, and told without moulding or length: nothing is done about them. */
  readonly unclear: readonly string[];
  /** Counted more than once, or begun and measured: nothing is done about them. */
  readonly odd: readonly { readonly id: string; readonly what: string }[];
}

export interface Counted {
  readonly count: RackCount;
  /** Settle it all. */
  readonly happenings: readonly Happening[];
}

function holder(state: Shelved['state']): string | null {
  return 'batch' in state ? state.batch : null;
}

/** Micrometres: a cut, and a tape, may be so far out. */
const OUT_MOST = 5_000;

/**
 * An offcut does not grow. One that a rail was cut from is longer at its sight edge, by the face; entered so, it would
 * promise rails that are not in it.
 */
function overGrown({ from, ends, length: was }: RackPiece, is: Um): string | null {
  if (from.kind !== 'offcut' || !ends.includes('mitred') || is - was <= OUT_MOST) return null;
  const more = (is - was) / 1000;
  return `an offcut does not grow by ${more} mm: measure it along the outside edge; if it is right, pairstop rack edit`;
}

/** `there`: everything the rack knows, whatever its state. */
export function countOf(
  there: readonly Shelved[],
  counted: readonly CountedPiece[],
  scope: CountScope,
): Counted {
  const known = new Map(there.map((shelved) => [shelved.piece.id, shelved]));
  const seen = new Set<string>();
  const happenings: Happening[] = [];
  const found: RackCount['found'][number][] = [];
  const measured: RackCount['measured'][number][] = [];
  const moved: RackCount['moved'][number][] = [];
  const unclear: string[] = [];
  const odd: RackCount['odd'][number][] = [];
  let right = 0;
  const enter = (piece: RackPiece, id: string): void => {
    found.push({ id, as: piece.id, length: piece.length });
    happenings.push({ kind: 'added', how: 'found', piece });
  };
  for (const one of counted) {
    const { id, moulding, length, place } = one;
    if (seen.has(id)) {
      odd.push({ id, what: 'counted more than once' });
      continue;
    }
    seen.add(id);
    const shelved = known.get(id);
    if (shelved === undefined || !isLying(shelved.state)) {
      const as = shelved?.piece;
      const [of, long] = [moulding ?? as?.moulding, length ?? as?.length];
      if (of === undefined || long === undefined) {
        unclear.push(id);
        continue;
      }
      let nth = 1;
      while (known.has(another(id, nth))) nth += 1;
      const name = another(id, nth);
      enter(
        {
          id: name,
          moulding: of,
          length: long,
          ends: length === undefined ? (as?.ends ?? ['raw', 'raw']) : ['raw', 'raw'],
          flaws: one.flaws ?? (length === undefined ? (as?.flaws ?? []) : []),
          value: null,
          place: place ?? as?.place ?? null,
          from: { kind: 'entered' },
        },
        id,
      );
      continue;
    }
    const { piece, state } = shelved;
    const longer = length !== undefined && length !== piece.length;
    const passed = longer ? overGrown(piece, length) : null;
    if (longer && state.kind === 'begun') odd.push({ id, what: 'begun: its length is what it was before' });
    else if (passed !== null) odd.push({ id, what: passed });
    else if (longer) {
      measured.push({ id, was: piece.length, is: length, batch: holder(state) });
      const flaws =
        one.flaws ??
        piece.flaws.flatMap(([from, to]) => (from < length ? [[from, Math.min(to, length)] as const] : []));
      happenings.push({ kind: 'edited', piece: { ...piece, length, flaws, place: place ?? piece.place } });
    } else if (place === undefined || place === piece.place) right += 1;
    if (place !== undefined && place !== piece.place) {
      moved.push({ id, from: piece.place, to: place });
      if (!longer || state.kind === 'begun' || passed !== null)
        happenings.push({ kind: 'moved', piece: id, place });
    }
  }
  const missing = there.filter(
    ({ piece, state }) =>
      isLying(state) &&
      !seen.has(piece.id) &&
      (scope.moulding === undefined || piece.moulding === scope.moulding) &&
      (scope.place === undefined || piece.place === scope.place),
  );
  for (const { piece } of missing) happenings.push({ kind: 'removed', how: 'missing', piece: piece.id });
  return {
    count: {
      right,
      missing: missing.map(({ piece, state }) => ({
        id: piece.id,
        length: piece.length,
        batch: holder(state),
      })),
      found,
      measured,
      moved,
      unclear,
      odd,
    },
    happenings,
  };
}
