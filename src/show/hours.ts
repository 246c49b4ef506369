/** Time at the saw in words, and how a moulding's runs are headed. */
import type { PlannedRun } from '../documents/plan/types.js';
import { plural } from '../text/page.js';

const MINUTE = 60;
const HOUR = 60;

/** `about 35 min`, `about 2 h 10 min`; to the minute, and from ten hours on to the quarter of an hour. */
export function aboutTime(seconds: number): string {
  if (seconds < MINUTE) return 'under a minute';
  const exact = seconds / MINUTE;
  const minutes = exact < 10 * HOUR ? Math.round(exact) : 15 * Math.round(exact / 15);
  const [hours, rest] = [Math.floor(minutes / HOUR), minutes % HOUR];
  if (hours === 0) return `about ${rest} min`;
  return rest === 0 ? `about ${hours} h` : `about ${hours} h ${rest} min`;
}

/** For a table: `0:35`, `2:10`, `101:15`. */
export function hoursAndMinutes(seconds: number): string {
  const minutes = Math.max(1, Math.round(seconds / MINUTE));
  return `${Math.floor(minutes / HOUR)}:${String(minutes % HOUR).padStart(2, '0')}`;
}

/** For a table of plans, to the minute where that tells them apart, else to the second: `about 2 h 10 min`, `2 h 10 min 20 s`. */
export function sawingTimes(times: readonly number[]): readonly string[] {
  const about = times.map(aboutTime);
  if (new Set(about).size === new Set(times).size) return about;
  return times.map((time) => {
    const [hours, minutes] = [Math.floor(time / (HOUR * MINUTE)), Math.floor(time / MINUTE) % HOUR];
    const rest = Math.round(time % MINUTE);
    return `${hours === 0 ? '' : `${hours} h `}${minutes} min${rest === 0 ? '' : ` ${rest} s`}`;
  });
}

/** What the sawing times of a comparison are. */
export const SAWING_COMPARED =
  'Sawing: hours and minutes at the saw, at the times the batch gives (by default common practice, no source), of the plans as they were found. A finished plan keeps pairs together and takes a little less.';

/** What the figures of time leave out: said wherever they are shown. */
export const LEFT_OUT =
  'Times are counts of stops, visits, cuts, swings, labels and first mitres at the times the batch gives (by default common practice, no source); fetching wood, checking the angle, sweeping, joining and breaks are not in them.';

/** `Run 2 of 5: 18 sticks, 9 settings, about 35 min; at most 16 sticks begun at once`. */
export function runHeading(run: PlannedRun, of: number): string {
  const begun = `at most ${plural(run.begunMost, 'stick')} begun at once`;
  const longest =
    run.begunLongestFirst === undefined ? '' : ` (${run.begunLongestFirst} with the longest setting first)`;
  return `Run ${run.run} of ${of}: ${plural(run.sticks, 'stick')}, ${plural(run.settings, 'setting')}, ${aboutTime(run.seconds)}; ${begun}${longest}`;
}
