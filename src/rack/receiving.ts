/** Sticks that were bought for a plan come in: each for a stick of the plan, the poorest for the one that needs least. */
import type { Plan, PlannedStick } from '../documents/plan/types.js';
import { umFromMm } from '../lengths/units.js';
import type { Um } from '../terms.js';
import type { Happening } from './events.js';
import { boughtId } from './names.js';
import type { ExpectedLine, RackPiece } from './terms.js';

/** A delivery of equal sticks. */
export interface DeliveredSticks {
  readonly count: number;
  /** As measured; as it was ordered where nothing is said. */
  readonly length?: Um;
  readonly flaws?: RackPiece['flaws'];
  readonly place?: string;
}

export interface ReceivedStick {
  readonly piece: RackPiece;
  /** The stick of the plan it is for; null: for none, it is free. */
  readonly stick: string | null;
  /** Whether it holds what is to be cut from that stick. */
  readonly fits: boolean;
}

function holds(stick: PlannedStick, length: Um, flaws: RackPiece['flaws']): boolean {
  return stick.rails.every((rail) => {
    const [from, to] = [umFromMm(rail.start), umFromMm(rail.start + rail.length)];
    return to <= length && !flaws.some((flaw) => from < flaw[1] && to > flaw[0]);
  });
}

function reach({ rails }: PlannedStick): Um {
  return rails.reduce((most, { start, length }) => Math.max(most, umFromMm(start + length)), 0);
}

/** `plan` null: not known any more, then all are for the batch. `taken`: ids the rack has had. */
export function receiving(
  line: ExpectedLine,
  plan: Plan | null,
  delivered: DeliveredSticks,
  taken: ReadonlySet<string>,
): readonly ReceivedStick[] {
  const { batch, offer, moulding } = line;
  const length = delivered.length ?? line.length;
  const flaws = delivered.flaws ?? [];
  const sticks = (plan?.mouldings ?? []).flatMap((part) =>
    part.sticks.filter(({ source, ref }) => source === 'offer' && ref === offer),
  );
  const open = sticks
    .filter(({ stick }) => !taken.has(boughtId(batch, stick)))
    .toSorted((a, b) => reach(a) - reach(b));
  const poor = length < line.length || flaws.length > 0;
  const used = new Set(taken);
  let spare = sticks.length;
  return Array.from({ length: delivered.count }, (): ReceivedStick => {
    const fitting = open.findIndex((stick) => holds(stick, length, flaws));
    // A sound stick serves any; keep those that need least for poor ones.
    const at = poor ? fitting : open.length - 1;
    const [stick] = open.splice(Math.max(at, 0), 1);
    let id = stick === undefined ? '' : boughtId(batch, stick.stick);
    while (id === '' || used.has(id)) {
      spare += 1;
      id = boughtId(batch, `${offer}/${spare}`);
    }
    used.add(id);
    const piece: RackPiece = {
      id,
      moulding,
      length,
      ends: ['raw', 'raw'],
      flaws,
      value: null,
      place: delivered.place ?? null,
      from: { kind: 'delivery', batch, offer },
    };
    return { piece, stick: stick?.stick ?? null, fits: stick === undefined || holds(stick, length, flaws) };
  });
}

export function receivedEvents(
  line: ExpectedLine,
  received: readonly ReceivedStick[],
  plan: Plan | null,
): readonly Happening[] {
  const { batch, offer } = line;
  return received.map(({ piece, stick }) => ({
    kind: 'received',
    batch,
    offer,
    reserve: stick !== null || plan === null,
    piece,
  }));
}
