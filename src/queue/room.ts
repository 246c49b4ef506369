/** The largest batch that the workers have the memory to plan: refused when it is submitted, or by the worker that reads it. */
import type { Redis } from 'ioredis';
import { PairstopError } from '../errors.js';
import type { Urgency } from '../terms.js';
import type { Keys } from './names.js';
import { knownWorkers } from './record/health.js';

/** So many fit into the 512 MB a solver process has at least, unless it was given less: then the worker refuses them. */
export const RAILS_ALWAYS = 50_000;

/** Most rails that any living worker of this urgency can put together; null: none lives, or none says. */
export async function railsMost(redis: Redis, keys: Keys, urgency: Urgency): Promise<number | null> {
  const { living } = await knownWorkers(redis, keys);
  const known = living.flatMap(({ rails, slots }) => (slots[urgency] > 0 && rails !== null ? [rails] : []));
  return known.length === 0 ? null : Math.max(...known);
}

export function tooManyRails(rails: number, most: number): PairstopError {
  const text = (number: number): string => number.toLocaleString('en-US');
  return new PairstopError(
    'PS_LARGE',
    `the batch has ${text(rails)} rails; allowed: at most ${text(most)}, which is what the workers have the memory for. ` +
      'Divide it by mouldings, or give each solver process more (PAIRSTOP_SOLVER_MEMORY_MB, fewer slots)',
  );
}
