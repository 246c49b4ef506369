/** Written durations to whole milliseconds: `40 s`, `1 min`, `1.5 min`, `1 min 30 s`, `1 h`. */

/** Whole milliseconds. */
export type Ms = number;

export const DURATION_FORMS = 'a number of seconds, or text such as "40 s", "1 min", "1 min 30 s" or "1 h"';
export const LONGEST_DURATION_TEXT = 32;

const FORM = /^(?:(\d+(?:\.\d+)?) ?h)?(?: ?(\d+(?:\.\d+)?) ?min)?(?: ?(\d+(?:\.\d+)?) ?s)?$/;
const MS = { hour: 3_600_000, minute: 60_000, second: 1_000 };

/** To the nearest millisecond; null for anything but a duration. A bare number is in seconds. */
export function tryParseDuration(given: string | number): Ms | null {
  if (typeof given === 'number')
    return Number.isFinite(given) && given >= 0 ? Math.round(given * MS.second) : null;
  const text = given.trim();
  const parts = FORM.exec(text);
  if (parts === null || text === '') return null;
  const [, hours = '0', minutes = '0', seconds = '0'] = parts;
  return Math.round(Number(hours) * MS.hour + Number(minutes) * MS.minute + Number(seconds) * MS.second);
}
