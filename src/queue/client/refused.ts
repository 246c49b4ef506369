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

export function inNight(id: string, night: string): PairstopError {
  return new PairstopError(
    'PS_CONFLICT',
    `batch ${JSON.stringify(id)} is planned with ${JSON.stringify(night)}, for which the pool has closed; cancel that, with all its batches, or wait for its plan`,
  );
}
