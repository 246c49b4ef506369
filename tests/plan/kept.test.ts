/**
 * Plans of seeded batches as an earlier program made them: the same batch and seed give the same plan, byte for byte.
 * Tags came later; they are left out of the comparison.
 */
import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { planned } from './kit.js';

const folder = new URL('../fixtures/plans/', import.meta.url);
const names = readdirSync(folder)
  .filter((file) => file.endsWith('.batch.json'))
  .map((file) => file.replace('.batch.json', ''));

describe('a kept plan is made again, byte for byte', () => {
  it.each(names)('%s', async (name) => {
    const kept = (kind: string) => JSON.parse(readFileSync(new URL(`${name}.${kind}.json`, folder), 'utf8'));
    const made = await planned(kept('batch'));
    const bare = JSON.stringify(made, (key, value: unknown) => (key === 'tag' ? undefined : value));
    expect(bare).toBe(JSON.stringify(kept('plan')));
  });
});
