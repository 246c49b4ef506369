/** When the pool closes: at a time of day in the shop's zone, or at the latest so long after the first batch came. */
import { PairstopError } from '../../errors.js';
import { momentOf, wall } from '../../night/wall.js';

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
const DAY = 24 * HOUR;
/** Nothing waits for ever, though nobody has set a time. */
export const AT_MOST = DAY;
/** Days looked through for the next closing: over a change of clocks there is one within two. */
const DAYS = 3;

export interface NightSettings {
  /** Time of day, `22:00`; null: none is set. */
  readonly close: string | null;
  /** IANA name of the zone the time is in. */
  readonly zone: string;
  /** Milliseconds a batch waits at most. */
  readonly atMost: number;
}

const TIME = /^([01]?\d|2[0-3]):([0-5]\d)$/;

/** Throws PS_USAGE. */
export function requireClose(text: string): string {
  const found = TIME.exec(text.trim());
  if (found !== null) return `${found[1]!.padStart(2, '0')}:${found[2]}`;
  throw new PairstopError(
    'PS_USAGE',
    `close: given ${JSON.stringify(text.slice(0, 40))}; allowed: a time of day as 22:00`,
  );
}

/** Throws PS_USAGE. */
export function requireZone(text: string): string {
  try {
    return new Intl.DateTimeFormat('en', { timeZone: text }).resolvedOptions().timeZone;
  } catch {
    throw new PairstopError(
      'PS_USAGE',
      `zone: given ${JSON.stringify(text.slice(0, 60))}; allowed: a time zone's name as Europe/Berlin or UTC`,
    );
  }
}

/** Settings as they lie in Redis; what is damaged counts as not set. */
export function settingsFrom(
  close: string | null | undefined,
  zone: string | null | undefined,
  atMost: string | null | undefined,
): NightSettings {
  const most = Number(atMost ?? '');
  const sound = (read: () => string, otherwise: string): string => {
    try {
      return read();
    } catch {
      return otherwise;
    }
  };
  const time = close ? sound(() => requireClose(close), '') : '';
  return {
    close: time === '' ? null : time,
    zone: zone ? sound(() => requireZone(zone), 'UTC') : 'UTC',
    atMost: most > 0 && Number.isFinite(most) ? most : AT_MOST,
  };
}

/** When a pool that opens now closes. Milliseconds since 1970. */
export function closingAfter(now: number, { close, zone, atMost }: NightSettings): number {
  const latest = now + atMost;
  if (close === null) return latest;
  const [hours = 0, minutes = 0] = close.split(':').map(Number);
  const today = Math.floor(wall(now, zone) / DAY) * DAY;
  for (let day = 0; day < DAYS; day++) {
    const at = momentOf(today + day * DAY + hours * HOUR + minutes * MINUTE, zone);
    if (at > now) return Math.min(at, latest);
  }
  return latest;
}
