/**
 * Which sticks the rails of one unit (a pair, a ring) come from, at one setting. As many units as possible stay whole
 * on one lane, then on one stick; only the odd rails left over are shared between sticks, neighbours in the order first.
 */

/** A place for rails of one setting: a lane of a stick and how many single rails the pattern has there. */
export interface Slots {
  readonly stick: number;
  readonly lane: number;
  readonly count: number;
}

export interface Share {
  readonly stick: number;
  readonly lane: number;
  count: number;
}

/** Where one unit's rails lie; more than one share when it is split. */
export type Shared = readonly Share[];

export interface UnitSize {
  readonly size: number;
  readonly count: number;
}

/** Takes `size` rails from the places in turn; the next place stands last, and empty ones are dropped. */
function takeFrom(places: Share[], size: number): Share[] {
  const shares: Share[] = [];
  let missing = size;
  while (missing > 0) {
    const place = places.at(-1);
    if (place === undefined) throw new RangeError('fewer places than rails');
    const count = Math.min(missing, place.count);
    shares.push({ stick: place.stick, lane: place.lane, count });
    place.count -= count;
    missing -= count;
    if (place.count === 0) places.pop();
  }
  return shares;
}

function perStick(places: readonly Share[]): Share[][] {
  const sticks = new Map<number, Share[]>();
  for (const place of places) {
    if (place.count === 0) continue;
    const stick = sticks.get(place.stick);
    if (stick === undefined) sticks.set(place.stick, [place]);
    else stick.push(place);
  }
  return [...sticks.values()];
}

/**
 * For each size, large units first, the shares of every unit; sums of counts and slots must agree. With pairs only,
 * no assignment keeps more pairs whole: a stick of c rails holds at most ⌊c/2⌋, and gets them.
 */
export function shareOut(slots: readonly Slots[], sizes: readonly UnitSize[]): ReadonlyMap<number, Shared[]> {
  const places: Share[] = slots.map((slot) => ({ ...slot }));
  const result = new Map<number, Shared[]>();
  for (const { size, count } of [...sizes].sort((a, b) => b.size - a.size)) {
    const units: Shared[] = [];
    for (const place of places) {
      const whole = Math.min(Math.floor(place.count / size), count - units.length);
      for (let i = 0; i < whole; i++) units.push([{ stick: place.stick, lane: place.lane, count: size }]);
      place.count -= whole * size;
    }
    for (const stick of perStick(places)) {
      stick.reverse();
      while (units.length < count && stick.reduce((sum, place) => sum + place.count, 0) >= size) {
        units.push(takeFrom(stick, size));
      }
    }
    const rest = places.filter((place) => place.count > 0).reverse();
    while (units.length < count) units.push(takeFrom(rest, size));
    result.set(size, units);
  }
  return result;
}
