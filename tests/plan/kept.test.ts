/**
 * Plans of seeded batches as an earlier program made them: the same batch and seed give the same plan, byte for byte.
 * Tags came later; they are left out of the comparison.
 */
import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import type { Plan } from '../../src/documents/plan/types.js';
import { planned } from './kit.js';

const folder = new URL('../fixtures/plans/', import.meta.url);
const names = readdirSync(folder)
  .filter((file) => file.endsWith('.batch.json'))
  .map((file) => file.replace('.batch.json', ''));

/** What plans say since of runs, hours, the bench, and what a tape measures on an offcut. */
const ADDED = new Set(['tag', 'run', 'runs', 'angle', 'seconds', 'labour', 'stopsSet', 'lengths', 'piece']);

/** The plan as programs wrote it before there were runs; the angle of a rail was always told. */
function asBefore(plan: Plan): unknown {
  // Likely slips, and prices beside none, were not told of then.
  const notices = plan.notices.filter(({ code }) => code !== 'PS_UNLIKELY' && code !== 'PS_MIXED_PRICES');
  return JSON.parse(
    JSON.stringify({ ...plan, notices }, function added(this: object, key: string, value: unknown) {
      return ADDED.has(key) && !(key === 'angle' && 'rail' in this) ? undefined : value;
    }),
  );
}

describe('a kept plan is made again, byte for byte', () => {
  it.each(names)('%s', async (name) => {
    const kept = (kind: string) => JSON.parse(readFileSync(new URL(`${name}.${kind}.json`, folder), 'utf8'));
    const [before, plan] = [kept('plan') as Plan, await planned(kept('batch'))];
    const now = asBefore(plan) as Plan;
    const same = (a: unknown, b: unknown) => expect(JSON.stringify(a)).toBe(JSON.stringify(b));
    same(now.buy, before.buy);
    for (const [m, part] of now.mouldings.entries()) {
      const old = before.mouldings[m]!;
      same(part.proof, old.proof);
      // Several runs are cut one after the other, so that the same sticks may stand in another order.
      if (plan.mouldings[m]!.runs!.length > 1) continue;
      same(part, old);
    }
    if (plan.mouldings.every(({ runs }) => runs!.length <= 1)) same(now, before);
  });
});
