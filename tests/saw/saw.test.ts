/** The saw check against rings that are built rail by rail and measured. */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { checkBatch, readBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { sawSchema } from '../../src/documents/saw/schema.js';
import { PairstopError } from '../../src/errors.js';
import {
  cornerFor,
  differenceFor,
  errorFor,
  lastGap,
  lastMiss,
  mitreOf,
  sharedGap,
} from '../../src/saw/geometry.js';
import { parseAngles } from '../../src/saw/measured.js';
import { sawCheck } from '../../src/saw/saw.js';
import { showSawCheck } from '../../src/show/saw.js';
import { PAGE } from '../../src/text/page.js';
import { dice, randomBatch } from '../plan/batches.js';
import { DEMO } from '../tools/cli.js';
import { distance, jointOf, overlap, pressed, railAt } from '../tools/ring.js';

const DEGREE = Math.PI / 180;

interface Case {
  readonly face: number;
  readonly lengths: readonly number[];
  readonly error: number;
}

function cases(name: string, count: number, most = 0.6): readonly Case[] {
  const at = dice(name);
  return Array.from({ length: count }, () => {
    const face = at.whole(150, 900) / 10;
    const sides = at.chance(0.4) ? 4 : at.whole(3, 24);
    const long = (): number => face * 4 + at.whole(0, 6000) / 10;
    const [a, b] = [long(), long()];
    const lengths = sides === 4 ? [a, b, a, b] : new Array<number>(sides).fill(a);
    const size = (at.whole(1, 1000) / 1000) * most * DEGREE;
    return { face, lengths, error: at.chance(0.5) ? size : -size };
  });
}

describe('the last joint', () => {
  it('opens by 2n errors, at the edge told, as wide as told, whatever the rails', () => {
    // Interior angles of a plane ring sum to (n − 2)·180°: two errors a rail, 8ε for four (geometry; checks of the trade).
    for (const { face, lengths, error } of cases('pressed', 400)) {
      const sides = lengths.length;
      const rails = pressed(lengths, face, mitreOf(sides) + error, error > 0 ? 'outer' : 'inner');
      for (let i = 0; i + 1 < sides; i++) {
        expect(Math.abs(jointOf(rails[i]!, rails[i + 1]!).angle)).toBeLessThan(1e-9);
      }
      const last = jointOf(rails.at(-1)!, rails[0]!);
      const [touching, open] = error > 0 ? [last.outer, last.inner] : [last.inner, last.outer];
      expect(touching).toBeLessThan(1e-6);
      expect(Math.abs(last.angle)).toBeCloseTo(2 * sides * Math.abs(error), 9);
      expect(open / lastGap(face, sides, error)).toBeCloseTo(1, 6);
      expect(overlap(rails.at(-1)!, rails[0]!)).toBeLessThan(1e-6);
    }
  });

  it('touching at the other edge, the wood would have to share its place', () => {
    for (const { face, lengths, error } of cases('wrong edge', 100)) {
      const cut = mitreOf(lengths.length) + error;
      const rails = pressed(lengths, face, cut, error > 0 ? 'inner' : 'outer');
      expect(overlap(rails.at(-1)!, rails[0]!)).toBeGreaterThan(0);
    }
  });

  it('shares the gap out when all rails are drawn together at once', () => {
    for (const { face, lengths, error } of cases('together', 200, 2)) {
      const sides = lengths.length;
      const cut = mitreOf(sides) + error;
      // Past the mark the long points close the ring, short of it the sight edges do; either way it turns true.
      const lean = error > 0 ? 0 : face * Math.tan(cut);
      let at = { x: 0, y: 0 };
      const rails = lengths.map((length, k) => {
        const direction = 2 * mitreOf(sides) * k;
        const [cos, sin] = [Math.cos(direction), Math.sin(direction)];
        const inside = error > 0 ? 0 : face;
        const long = { x: at.x - lean * cos + inside * sin, y: at.y - lean * sin - inside * cos };
        at = { x: at.x + (length - 2 * lean) * cos, y: at.y + (length - 2 * lean) * sin };
        return railAt(long, direction, length, face, cut);
      });
      rails.forEach((rail, i) => {
        const joint = jointOf(rail, rails[(i + 1) % sides]!);
        expect(error > 0 ? joint.outer : joint.inner).toBeLessThan(1e-6);
        expect(error > 0 ? joint.inner : joint.outer).toBeCloseTo(sharedGap(face, sides, error), 6);
      });
    }
  });

  it('misses by as much as told where the joints before it were fixed with their long points together', () => {
    for (const { face, lengths, error } of cases('fixed', 200)) {
      const cut = mitreOf(lengths.length) + error;
      let at = { x: 0, y: 0 };
      for (const [k, length] of lengths.entries()) {
        [, at] = railAt(at, 2 * cut * k, length, face, cut).outer;
      }
      expect(distance(at, { x: 0, y: 0 })).toBeCloseTo(lastMiss({ face, lengths }, error), 6);
    }
  });

  it("agrees with the shop's F / cos θ · tan(2nε) for small errors and departs as its comment says", () => {
    for (const { face, lengths, error } of cases('shop', 300, 0.3)) {
      const sides = lengths.length;
      const open = 2 * sides * Math.abs(error);
      const shop = (face / Math.cos(mitreOf(sides))) * Math.tan(open);
      const share = shop / lastGap(face, sides, error) - 1;
      const expected = (3 / 8) * open ** 2 - error * Math.tan(mitreOf(sides));
      expect(Math.abs(share - expected)).toBeLessThan(
        0.5 * open ** 4 + 4 * error ** 2 + 4 * open ** 2 * Math.abs(error) + 1e-9,
      );
    }
    // 9° in the last joint of a square ring.
    const error = (9 / 8) * DEGREE;
    const share = ((1 / Math.SQRT1_2) * Math.tan(9 * DEGREE)) / lastGap(1, 4, -error) - 1;
    expect(share - error).toBeCloseTo(0.01, 2);
  });
});

describe('tolerances', () => {
  it('are the largest: a little more opens wider than wanted, and either sign is covered', () => {
    for (const { face, lengths } of cases('tolerance', 200)) {
      const sides = lengths.length;
      const gap = face / 60;
      const error = errorFor(face, sides, gap);
      for (const sign of [1, -1]) expect(lastGap(face, sides, sign * error)).toBeLessThanOrEqual(gap);
      expect(lastGap(face, sides, error * 1.0001)).toBeGreaterThan(gap);
      const short = errorFor(face, sides, gap, -1);
      expect(lastGap(face, sides, -short)).toBeCloseTo(gap, 6);
    }
  });

  it('of opposing rails make the trapezoid whose joints open by the gap', () => {
    for (const { face, lengths } of cases('trapezoid', 300).filter((one) => one.lengths.length === 4)) {
      const [a, b] = [lengths[0]!, lengths[1]!];
      const gap = face / 50;
      const difference = differenceFor({ face, lengths }, cornerFor(face, 4, gap));
      // Rail 0 on the x axis, longer by the difference; legs of length b lean in by half of it each.
      const lean = Math.asin(difference / 2 / b);
      const up = b * Math.cos(lean);
      const bottom = railAt({ x: 0, y: 0 }, 0, a + difference, face, mitreOf(4));
      const right = railAt({ x: a + difference, y: 0 }, Math.PI / 2 + lean, b, face, mitreOf(4));
      const top = railAt({ x: a + difference / 2, y: up }, Math.PI, a, face, mitreOf(4));
      const left = railAt({ x: difference / 2, y: up }, 1.5 * Math.PI - lean, b, face, mitreOf(4));
      expect(distance(right.outer[1], top.outer[0])).toBeLessThan(1e-6);
      expect(distance(left.outer[1], bottom.outer[0])).toBeLessThan(1e-6);
      expect(jointOf(bottom, right).inner).toBeCloseTo(gap, 6);
      expect(jointOf(right, top).inner).toBeCloseTo(gap, 6);
      // The trade's δ / 2H for the corner.
      expect(lean / (difference / (2 * b))).toBeCloseTo(1, 2);
    }
  });

  it('of a regular ring are the most that all corners together can take up', () => {
    for (let sides = 3; sides <= 24; sides++) {
      const heights = Array.from({ length: sides }, (_, i) => -Math.cos((2 * i + 1) * mitreOf(sides))).sort(
        (a, b) => a - b,
      );
      const radius = 100 / (2 * Math.sin(mitreOf(sides)));
      const half = Math.floor(sides / 2);
      const sum = (from: readonly number[]): number => from.reduce((total, y) => total + y * radius, 0);
      // Linear programme: greatest Σ c·y with Σ c = 0 and |c| ≤ 1.
      const most = sum(heights.slice(-half)) - sum(heights.slice(0, half));
      const corner = 1e-5;
      const ring = { face: 10, lengths: new Array<number>(sides).fill(100) };
      expect(differenceFor(ring, corner) / (corner * most)).toBeCloseTo(1, 3);
    }
  });
});

describe('the saw check', () => {
  const demo = readBatch(readFileSync(DEMO));

  it('finds what was measured good exactly when the joint is no wider than wanted', () => {
    for (const angle of [45, 45.03, 45.04, 45.2, 44.97, 44.96]) {
      const check = sawCheck(demo, { gap: 397, angles: [angle] });
      for (const frame of check.frames.filter((one) => one.sides === 4)) {
        const { measured } = frame;
        expect(measured?.holds).toBe((measured?.gap ?? 0) <= check.gap);
        expect(measured?.opens).toBe(angle > 45 ? 'sight' : angle < 45 ? 'outside' : 'nowhere');
        expect(measured?.holds).toBe(Math.abs(angle - 45) <= frame.angle + 1e-4);
      }
      expect(
        check.frames.filter((frame) => frame.sides === 6).every((frame) => frame.measured === null),
      ).toBe(true);
      expect(check.notices.map((notice) => notice.code)).toContain('PS_NOT_MEASURED');
    }
  });

  it('uses the mitres of the trade', () => {
    // Geometry: 180° / n.
    const sides = [3, 5, 6, 8];
    const document: BatchDocument = {
      schema: 'pairstop/batch@1',
      id: 'rings',
      units: 'mm',
      mouldings: [{ id: 'm', face: 30, rabbet: 6 }],
      frames: [
        { id: 'R', moulding: 'm', width: 200, height: 300 },
        ...sides.map((n) => ({ id: `N${n}`, moulding: 'm', sides: n, side: 180 })),
      ],
      offers: [{ id: 'o', moulding: 'm', length: 3000, price: 10 }],
    };
    const check = sawCheck(checkBatch(document), { gap: 400 });
    expect(check.frames.map((frame) => frame.mitre)).toEqual([45, 60, 36, 30, 22.5]);
    expect(check.frames.map((frame) => frame.ends)).toEqual([8, 6, 10, 12, 16]);
    expect(check.tests.map((ring) => ring.sides)).toEqual([3, 4, 5, 6, 8]);
    for (const ring of check.tests) {
      // Long enough to hold, and with a sight edge.
      expect(ring.setting).toBeGreaterThanOrEqual(152.4);
      expect(ring.setting - 2 * ring.face * Math.tan(Math.PI / ring.sides)).toBeGreaterThanOrEqual(ring.face);
      expect(ring.setting % 0.5).toBe(0);
      expect(ring.scrap).toBeGreaterThanOrEqual(ring.sides * ring.setting);
      for (const { gap, past, short } of ring.readings) {
        expect(lastGap(ring.face, ring.sides, past * DEGREE)).toBeCloseTo(gap, 2);
        expect(lastGap(ring.face, ring.sides, -short * DEGREE)).toBeCloseTo(gap, 2);
      }
    }
  });

  it('fits its schema and its page, names every frame and always carries the cautions', () => {
    for (let i = 0; i < 20; i++) {
      const batch = checkBatch(randomBatch(`saw ${i}`));
      const sides = [...new Set(sawCheck(batch, { gap: 300 }).frames.map((frame) => frame.sides))];
      const check = sawCheck(batch, { gap: 300, angles: sides.map((n) => 180 / n + 0.05) });
      expect(sawSchema.parse(JSON.parse(JSON.stringify(check)))).toEqual(check);
      const page = showSawCheck(batch, check);
      for (const line of page.split('\n')) expect(line.length).toBeLessThanOrEqual(PAGE);
      for (const { id } of batch.frames) expect(page).toContain(id);
      expect(page).toContain("The saw's manual and your local rules come before anything printed here.");
      expect(page).toContain('opens at the sight edge');
    }
  });

  it('says when one mark of the stop is already too much', () => {
    const coarse = { ...demo, saw: { ...demo.saw, stopStep: { num: 25_400n, den: 1n } } };
    expect(sawCheck(coarse, { gap: 100 }).notices.map((notice) => notice.code)).toContain('PS_STOP_COARSE');
  });

  it('refuses gaps and angles it has no use for, saying what is allowed', () => {
    const told = (call: () => unknown): string => {
      try {
        call();
      } catch (error) {
        if (error instanceof PairstopError) return `${error.code} ${error.message}`;
        throw error;
      }
      return 'nothing';
    };
    expect(told(() => sawCheck(demo, { gap: 0 }))).toMatch(
      /^PS_GAP .*given 0 mm; allowed: 0\.01 mm to 3\/4"/,
    );
    expect(told(() => sawCheck(demo, { gap: 19_051 }))).toMatch(/^PS_GAP .*"poplar-flat"/);
    expect(told(() => sawCheck(demo, { gap: 400, angles: [50] }))).toMatch(
      /^PS_ANGLE .*given 50°; allowed: within 2° of a mitre of this batch: 45°, 30°/,
    );
    expect(told(() => sawCheck(demo, { gap: 400, angles: [45, 45.1] }))).toMatch(
      /^PS_ANGLE .*one angle near 45°/,
    );
    for (const text of ['', 'x', '-45', '45,', '45 30', '1e1', '45..2', '٤٥']) {
      expect(told(() => parseAngles(text))).toMatch(/^PS_ANGLE/);
    }
    expect(parseAngles('45.2°, 30')).toEqual([45.2, 30]);
  });
});
