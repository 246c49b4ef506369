/** Who is let in at a gate, and in what order. */
import { describe, expect, it } from 'vitest';
import { Gate } from '../../src/processes/solver/gate.js';

/** Names of those let in so far. */
function crowd(gate: Gate) {
  const inside: string[] = [];
  const come = (name: string, small: boolean, signal?: AbortSignal): void => {
    void gate.enter(small, signal).then((letIn) => letIn && inside.push(name));
  };
  const settled = () => new Promise((resolve) => setImmediate(resolve));
  return { inside, come, settled };
}

describe('a gate', () => {
  it('keeps a way free for small ones, and lets each kind in by the order in which they came', async () => {
    const gate = new Gate({ all: 3, large: 2 });
    const { inside, come, settled } = crowd(gate);
    for (const name of ['L1', 'L2', 'L3', 'L4']) come(name, false);
    for (const name of ['s1', 's2', 's3']) come(name, true);
    await settled();
    expect(inside).toEqual(['L1', 'L2', 's1']);
    expect(gate.smallWaits).toBe(true);
    gate.leave(true);
    await settled();
    expect(inside.at(-1)).toBe('s2');
    gate.leave(false);
    await settled();
    expect(inside.at(-1)).toBe('L3');
    gate.leave(false);
    gate.leave(false);
    await settled();
    expect(inside).toEqual(['L1', 'L2', 's1', 's2', 'L3', 'L4', 's3']);
    expect([gate.inside, gate.smallWaits]).toEqual([3, false]);
  });

  it('lets nobody in whose signal has come, or once it is closed', async () => {
    const gate = new Gate({ all: 1, large: 1 });
    expect(await gate.enter(false)).toBe(true);
    const stop = new AbortController();
    const waiting = gate.enter(false, stop.signal);
    const other = gate.enter(true);
    stop.abort();
    expect(await waiting).toBe(false);
    expect(await gate.enter(false, stop.signal)).toBe(false);
    gate.close();
    expect(await other).toBe(false);
    gate.leave(false);
    expect(await gate.enter(false)).toBe(false);
  });
});
