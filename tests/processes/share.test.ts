import { describe, expect, it } from 'vitest';
import { seeded } from '../../bench/tools/random.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import { summarise } from '../../src/processes/progress.js';
import {
  leftOf,
  nextRound,
  nextShare,
  SharedTime,
  solvingTime,
  worthAnother,
} from '../../src/processes/share.js';
import { batchOf } from '../tools/batches.js';

/** Plays a round: slots take the next moulding when free; each uses the given part of its share. */
function play(limit: number, slots: number, uses: readonly number[]): { end: number; shares: number[] } {
  const running: { start: number; end: number }[] = [];
  const shares: number[] = [];
  let now = 0;
  let spent = 0;
  for (const [i, use] of uses.entries()) {
    if (running.length === slots) {
      running.sort((a, b) => b.end - a.end);
      const first = running.pop()!;
      now = first.end;
      spent += first.end - first.start;
    }
    const open = running.reduce((sum, { start }) => sum + now - start, 0);
    const share = nextShare({ limit, spent: spent + open, waiting: uses.length - i, slots });
    shares.push(share);
    running.push({ start: now, end: now + share * use });
  }
  return { end: Math.max(now, ...running.map(({ end }) => end)), shares };
}

describe('the time of a batch', () => {
  it('is divided evenly when every moulding uses its share', () => {
    expect(play(60, 2, [1, 1, 1, 1, 1, 1]).shares).toEqual([20, 20, 20, 20, 20, 20]);
    expect(play(60, 4, [1, 1, 1]).shares).toEqual([60, 60, 60]);
  });

  it('that quick mouldings leave goes to those that follow', () => {
    expect(play(60, 1, [0, 0, 1]).shares).toEqual([20, 30, 60]);
  });

  it('is never passed, whatever each moulding takes of its share', () => {
    const random = seeded('shares');
    for (let round = 0; round < 500; round++) {
      const uses = Array.from({ length: random.int(1, 12) }, () => random.int(0, 4) / 4);
      const slots = random.int(1, 5);
      expect(play(60, slots, uses).end).toBeLessThanOrEqual(60 + 1e-6);
    }
  });

  it('keeps some free to put a large plan together, never more than an eighth', () => {
    const of = (timeLimit: number, quantity: number): number => {
      const document = batchOf('kept free', ['ash'], { frames: 1, timeLimit });
      const frames = document.frames.map((line) => ({ ...line, quantity }));
      return solvingTime(checkBatch({ ...document, frames }));
    };
    expect(of(60, 1)).toBeCloseTo(60_000, 0);
    expect(of(60, 9_999)).toBeLessThan(59_000);
    expect(of(60, 9_999)).toBeGreaterThanOrEqual(52_500);
    expect(of(1, 9_999)).toBe(880);
  });

  it('left at the end starts another round only where it can help', () => {
    expect(leftOf(60_000, 20_000, 0)).toBe(40_000);
    expect(leftOf(60_000, 58_000, 0)).toBe(0);
    expect(leftOf(60_000, 20_000, 9)).toBe(0);
    const proof = { status: 'within', measure: 'cost', value: 10, bound: 9 } as const;
    expect(worthAnother(proof, 1_000, 1_000)).toBe(true);
    expect(worthAnother(proof, 1_000, 200)).toBe(false);
    expect(worthAnother({ ...proof, status: 'optimal', bound: 10 }, 1_000, 1_000)).toBe(false);
  });
});

describe('progress', () => {
  const proof = { status: 'within', measure: 'cost', value: 100, bound: 90 } as const;
  const one = { moulding: 'a', state: 'solving', proof, frames: 2, ordered: 2 } as const;

  it('promises nothing before there is anything to judge by', () => {
    const clock = { elapsed: null, timeLimit: 30 };
    expect(summarise([{ ...one, state: 'waiting', proof: null }], clock)).toMatchObject({
      cost: null,
      gap: null,
      finish: { likely: null, latest: null },
    });
    expect(summarise([one], { ...clock, elapsed: 4 }).finish).toEqual({ likely: null, latest: 26 });
  });

  it('takes the mouldings to come to be like those done, and never longer than the limit', () => {
    const done = { ...one, state: 'done' } as const;
    expect(summarise([done, one, one], { elapsed: 4, timeLimit: 30 }).finish).toEqual({
      likely: 8,
      latest: 26,
    });
    expect(summarise([done, one, one], { elapsed: 14, timeLimit: 30 }).finish.likely).toBe(16);
    // Interrupted, or being put together: past its limit nobody can say.
    expect(summarise([one], { elapsed: 31, timeLimit: 30 }).finish).toEqual({ likely: null, latest: null });
    expect(summarise([done], { elapsed: 14, timeLimit: 30 }).finish).toEqual({ likely: 0, latest: 0 });
  });

  it('keeps money and length apart, and shows the largest gap', () => {
    const rack = {
      ...one,
      proof: { status: 'optimal', measure: 'length', value: 5_000, bound: 5_000 },
    } as const;
    expect(summarise([one, one, rack], { elapsed: 1, timeLimit: 30 })).toMatchObject({
      planned: 3,
      cost: { value: 200, bound: 180 },
      length: { value: 5_000, bound: 5_000 },
      gap: 0.1,
    });
  });
});

describe('time that several batches share', () => {
  it('is passed by none of them together, whatever each takes of its turn', () => {
    const random = seeded('shared time');
    for (let k = 0; k < 200; k++) {
      const slots = random.int(1, 4);
      const waiting = random.int(1, 9);
      let clock = 0;
      const time = new SharedTime({ limit: 60, slots: Math.min(slots, waiting), waiting, now: () => clock });
      const running: { ends: number; end: () => number; began: number }[] = [];
      const next = (): void => {
        running.sort((a, b) => b.ends - a.ends);
        const first = running.pop()!;
        clock = first.ends;
        expect(first.end()).toBeCloseTo(clock - first.began, 9);
        // Ended twice, it counts once.
        first.end();
      };
      for (let i = 0; i < waiting; i++) {
        if (running.length === slots) next();
        const { share, end } = time.begin();
        expect(share).toBeGreaterThanOrEqual(0);
        running.push({ began: clock, ends: clock + share * random.real(), end });
      }
      while (running.length > 0) next();
      expect(clock).toBeLessThanOrEqual(60 + 1e-9);
    }
  });

  it('goes to wood first where the mouldings are many: a long turn leaves a part of an even one to each', () => {
    for (let waiting = 6; waiting < 60; waiting++) {
      let clock = 0;
      const time = new SharedTime({ limit: 60, slots: 1, waiting, phase: 'wood', now: () => clock });
      const even = 60 / waiting;
      for (let i = 0; i < waiting; i++) {
        const { share, woodOnly, end } = time.begin();
        expect(share).toBeLessThanOrEqual(6 * even + 1e-9);
        expect(share).toBeGreaterThan(0.7 * even);
        expect(woodOnly).toBe(true);
        clock += share;
        end();
      }
      expect(clock).toBeLessThanOrEqual(60 + 1e-9);
    }
  });

  it('goes to wood, then to the runs of all, then to those that stay overfull', () => {
    const sofar = { all: 20_000, passed: 9_000, rounds: 0, open: 2, overfull: 5 };
    expect(nextRound('wood', sofar)).toEqual({ phase: 'wood', limit: 0.7 * 20_000 - 9_000 });
    expect(nextRound('wood', { ...sofar, open: 0 })).toEqual({ phase: 'runs', limit: 0.75 * 11_000 });
    expect(nextRound('wood', { ...sofar, passed: 14_000 })).toEqual({ phase: 'runs', limit: 0.75 * 6_000 });
    expect(nextRound('runs', { ...sofar, passed: 17_000, rounds: 1 })).toEqual({
      phase: 'runs',
      limit: 3_000,
    });
    expect(nextRound('runs', { ...sofar, passed: 17_000, overfull: 0 })).toBeNull();
    expect(nextRound('runs', { ...sofar, passed: 19_500 })).toBeNull();
    expect(nextRound('all', { ...sofar, open: 0 })).toBeNull();
  });

  it('goes to the few that need it where most need a tenth, so that none is begun twice', () => {
    const random = seeded('few slow');
    for (let round = 0; round < 50; round++) {
      const waiting = random.int(40, 120);
      let clock = 0;
      const time = new SharedTime({ limit: 60, slots: 1, waiting, phase: 'wood', now: () => clock });
      const even = 60 / waiting;
      for (let i = 0; i < waiting; i++) {
        const { share, end } = time.begin();
        const needed = even * (i % 8 === 7 ? 4 : 0.1);
        expect(share).toBeGreaterThanOrEqual(needed);
        clock += needed;
        end();
      }
    }
  });

  // Of 10,000 frames in 100 mouldings the last third had no time at all, since each before took a second too much.
  it('is kept back for what turns take beyond their share, so that the last has as much as others', () => {
    let clock = 0;
    const time = new SharedTime({ limit: 120, slots: 1, waiting: 100, now: () => clock });
    const shares = Array.from({ length: 100 }, () => {
      const { share, end } = time.begin();
      clock += share + 0.5;
      end();
      return share;
    });
    expect(shares[0]).toBe(1.2);
    expect(Math.min(...shares)).toBeGreaterThan(0.6);
    expect(Math.max(...shares.slice(1))).toBeLessThan(0.75);
  });

  it('ends by the clock where somebody waits, also while no process was free', () => {
    let clock = 5;
    const time = new SharedTime({ limit: 60, slots: 2, waiting: 3, passing: true, now: () => clock });
    expect(time.left).toBe(60);
    expect(time.begin().share).toBe(30);
    clock = 25;
    expect(time.begin().share).toBe(40);
    clock = 60;
    expect(time.left).toBe(5);
    clock = 80;
    expect(time.begin().share).toBe(0);
  });

  it('has a turn more for one whose process died', () => {
    let clock = 0;
    const time = new SharedTime({ limit: 60, slots: 1, waiting: 2, now: () => clock });
    const first = time.begin();
    expect(first.share).toBe(30);
    clock = 10;
    first.end();
    time.again();
    const second = time.begin();
    expect(second.share).toBe(25);
    // Reading the batch takes none of it.
    clock = 30;
    second.restart();
    clock = 35;
    expect(second.end()).toBe(5);
    expect(time.begin().share).toBe(45);
  });
});
