/** What was tapped, kept in the browser so that a reload loses nothing. */
import { type CardAct, readActs } from './state.js';

export function kept(key: string): readonly CardAct[] {
  try {
    return readActs(localStorage.getItem(key));
  } catch {
    return [];
  }
}

/** False where the browser keeps nothing: the card says so. */
export function keep(key: string, acts: readonly CardAct[]): boolean {
  try {
    localStorage.setItem(key, JSON.stringify(acts));
    return true;
  } catch {
    return false;
  }
}
