/** A setting as it is read off the stop's scale. */
import type { Words } from '../words/words.js';
import type { SheetSetting } from './job.js';

/** `22 1/8"`, or both stops. */
export function settingText(words: Words, { setting, second }: SheetSetting): string {
  return second === null ? words.length(setting) : `${words.length(setting)} and ${words.length(second)}`;
}
