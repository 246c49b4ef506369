/** What a call is refused with when the store does not have what it names. */
import { PairstopError } from '../../errors.js';

export function unknown(id: string): PairstopError {
  return new PairstopError(
    'PS_UNKNOWN',
    `no batch is known under the id ${JSON.stringify(id.slice(0, 200))}`,
  );
}

export function cutWith(id: string, night: string): PairstopError {
  return new PairstopError(
    'PS_CONFLICT',
    `batch ${JSON.stringify(id)} is cut with ${JSON.stringify(night)}, whose sticks hold its rails: say what was cut of that`,
  );
}

/** `begun`: sticks of it are. */
export function inNight(id: string, night: string, begun: boolean): PairstopError {
  const planned = `batch ${JSON.stringify(id)} is planned in ${JSON.stringify(night)}, on sticks with the rails of others`;
  const what = begun
    ? 'and sticks of that are begun, so that plan stays; its rails may be told as spoiled'
    : 'cancel --replan (replan=true over HTTP) takes it out and has the others planned again; their plan, sheet and labels are new then';
  return new PairstopError('PS_CONFLICT', `${planned}; ${what}`);
}
