/** Clocks on walls of a time zone. Moments are milliseconds since 1970; zones are IANA names. */

/** What a clock on the wall shows in a zone, as if it were UTC. */
export function wall(at: number, zone: string): number {
  const parts = new Intl.DateTimeFormat('en', {
    timeZone: zone,
    hourCycle: 'h23',
    year: 'numeric',
    month: 'numeric',
    day: 'numeric',
    hour: 'numeric',
    minute: 'numeric',
    second: 'numeric',
  }).formatToParts(at);
  const of = (type: string): number => Number(parts.find((part) => part.type === type)?.value ?? 0);
  return Date.UTC(of('year'), of('month') - 1, of('day'), of('hour'), of('minute'), of('second'));
}

/** The moment at which the wall shows this; where clocks are put forward over it, the moment they are. */
export function momentOf(shown: number, zone: string): number {
  let at = shown - (wall(shown, zone) - shown);
  at = shown - (wall(at, zone) - at);
  return at;
}
