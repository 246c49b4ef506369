/** The pieces a plan cuts: that each exists, is as long as the batch says, and is used once. */
import { copyOf, refOfStick } from '../../documents/ids.js';
import type { PlannedStick } from '../../documents/plan/types.js';
import { type Batch, type Offer, type PieceEnds, RAW_ENDS, type RackEntry, type Um } from '../../terms.js';
import type { InMoulding } from '../context.js';
import { lengthAt, mm } from '../numbers.js';
import { checkLeft } from './left.js';
import { checkPlaces, standingRails, sumRails, trimsOf } from './rails.js';
import { checkSequence } from './sequence.js';

interface SupplyPiece {
  readonly length: Um;
  readonly flaws: RackEntry['flaws'];
  readonly ends: PieceEnds;
}

export class Supply {
  readonly #rack: ReadonlyMap<string, RackEntry>;
  readonly #offers: ReadonlyMap<string, Offer>;
  /** Copies taken, by rack piece or offer. */
  readonly #taken = new Map<RackEntry | Offer, Set<number>>();
  /** Pieces bought, by offer id. */
  readonly #bought: ReadonlyMap<string, number>;
  /** Pieces used, by offer id. */
  readonly used = new Map<string, number>();

  constructor(batch: Batch, bought: ReadonlyMap<string, number>) {
    this.#rack = new Map(batch.sticks.map((entry) => [entry.id, entry]));
    this.#offers = new Map(batch.offers.map((offer) => [offer.id, offer]));
    this.#bought = bought;
  }

  /** The piece a stick is cut from; null when the batch has no such piece of this moulding. */
  take(
    on: InMoulding,
    stick: Pick<PlannedStick, 'stick' | 'source' | 'ref'>,
    path: string,
  ): SupplyPiece | null {
    const { findings, moulding } = on;
    const known = stick.source === 'rack' ? this.#rack.get(stick.ref) : this.#offers.get(stick.ref);
    const given = () => `"${stick.stick}", ${stick.source} "${stick.ref}"`;
    if (known === undefined || known.moulding !== moulding.id) {
      findings.add('CHECK_STICK', path, given(), `a rack piece or offer of moulding "${moulding.id}"`);
      return null;
    }
    const copy = refOfStick(stick.stick) === stick.ref ? copyOf(stick.stick) : 0;
    if (copy === 0) findings.add('CHECK_STICK', path, given(), `"${stick.ref}/" and a number from 1`);
    const taken = this.#taken.get(known) ?? new Set();
    this.#taken.set(known, taken);
    if (taken.has(copy)) findings.add('CHECK_STICK_TWICE', path, given());
    taken.add(copy);
    if (stick.source === 'offer') this.used.set(stick.ref, (this.used.get(stick.ref) ?? 0) + 1);
    const pieces = 'quantity' in known ? known.quantity : (this.#bought.get(known.id) ?? 0);
    if (copy > pieces) findings.add('CHECK_SUPPLY', path, given(), `numbers 1 to ${pieces}`);
    return 'flaws' in known ? known : { length: known.length, flaws: [], ends: RAW_ENDS };
  }
}

/** The key of a layout: sticks cut alike have the same one. */
function layoutOf({ length, rails }: PlannedStick): string {
  return JSON.stringify([length, rails.map((rail) => [rail.start, rail.length, rail.angle, rail.flipped])]);
}

/** Counts of the listed sticks. */
export interface StickCounts {
  readonly layouts: number;
  readonly offcuts: number;
  /** Of each stick. */
  readonly cuts: readonly number[];
}

/** The piece a stick is cut from: as the batch describes it, whatever the document claims. */
export function pieceUnder(
  on: InMoulding,
  stick: Pick<PlannedStick, 'stick' | 'source' | 'ref' | 'length'>,
  supply: Supply,
  list: string,
  s: number,
): SupplyPiece {
  const path = `${list}[${s}]`;
  const length = lengthAt(stick.length, on.findings, list, s, 'length');
  const piece = supply.take(on, stick, path);
  if (piece !== null && length !== piece.length) {
    on.findings.add('CHECK_STICK_LENGTH', `${path}.length`, mm(length), mm(piece.length));
  }
  return piece ?? { length, flaws: [], ends: RAW_ENDS };
}

export function checkSticks(on: InMoulding, sticks: readonly PlannedStick[], supply: Supply): StickCounts {
  const { findings, verified, sums } = on;
  const list = `${on.path}.sticks`;
  const layouts = new Set<string>();
  const cuts = sticks.map(() => 0);
  let offcuts = 0;
  sticks.forEach((stick, s) => {
    const path = `${list}[${s}]`;
    verified.sticks += 1;
    const stands = pieceUnder(on, stick, supply, list, s);
    if (stick.rails.length === 0) findings.add('CHECK_STICK_IDLE', path, `"${stick.stick}" without rails`);
    const rails = standingRails(on, stick.rails, `${path}.rails`);
    for (const { rail } of rails) if (rail >= 0) on.roster.stick[rail] = s;
    layouts.add(layoutOf(stick));
    offcuts += stick.left.filter((left) => left.use === 'offcut').length;
    sums.sticks += 1;
    const trims = trimsOf(on, stands.ends);
    if (Number.isNaN(stands.length)) return;
    sums.stock += stands.length;
    checkPlaces(on, rails, stands.length, stands.flaws, trims);
    const before = sums.cuts;
    sumRails(on, rails);
    cuts[s] = sums.cuts - before;
    checkSequence(on, rails);
    checkLeft(on, stick, rails, stands.length, stands, trims, path);
  });
  return { layouts: layouts.size, offcuts, cuts };
}
