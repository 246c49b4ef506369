/** Who is let in at a turnstile, and in what order. */
import { describe, expect, it } from 'vitest';
import { Turnstile } from '../../src/processes/solver/turnstile.js';

/** Names of those let in so far. */
function crowd(turnstile: Turnstile) {
  const inside: string[] = [];
  const come = (name: string, small: boolean, signal?: AbortSignal): void => {
    void turnstile.enter(small, signal).then((letIn) => letIn && inside.push(name));
  };
  const settled = () => new Promise((resolve) => setImmediate(resolve));
  return { inside, come, settled };
}

describe('a turnstile', () => {
  it('keeps a way free for small ones, and lets each kind in by the order in which they came', async () => {
    const turnstile = new Turnstile({ all: 3, large: 2 });
    const { inside, come, settled } = crowd(turnstile);
    for (const name of ['L1', 'L2', 'L3', 'L4']) come(name, false);
    for (const name of ['s1', 's2', 's3']) come(name, true);
    await settled();
    expect(inside).toEqual(['L1', 'L2', 's1']);
    expect(turnstile.smallWaits).toBe(true);
    turnstile.leave(true);
    await settled();
    expect(inside.at(-1)).toBe('s2');
    turnstile.leave(false);
    await settled();
    expect(inside.at(-1)).toBe('L3');
    turnstile.leave(false);
    turnstile.leave(false);
    await settled();
    expect(inside).toEqual(['L1', 'L2', 's1', 's2', 'L3', 'L4', 's3']);
    expect([turnstile.inside, turnstile.smallWaits]).toEqual([3, false]);
  });

  it('lets nobody in whose signal has come, or once it is closed', async () => {
    const turnstile = new Turnstile({ all: 1, large: 1 });
    expect(await turnstile.enter(false)).toBe(true);
    const stop = new AbortController();
    const waiting = turnstile.enter(false, stop.signal);
    const other = turnstile.enter(true);
    stop.abort();
    expect(await waiting).toBe(false);
    expect(await turnstile.enter(false, stop.signal)).toBe(false);
    turnstile.close();
    expect(await other).toBe(false);
    turnstile.leave(false);
    expect(await turnstile.enter(false)).toBe(false);
  });
});
