/** The checker's closed rules for joints against polygons, on thousands of seeded cases. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { clearance, jointOf, mitre, sharesCut, type Wood } from '../../src/check/wood/geometry.js';
import { exact } from '../../src/lengths/exact.js';
import { bladeOf, separation, type Trapezoid, woodOf } from '../tools/spoil-polygons.js';

/** Micrometres: far above a double's error here, far below anything a rule depends on. */
const NEAR = 1e-5;

const sides = fc.constantFrom(3, 4, 4, 4, 5, 6, 8, 12);

/** Two rails whose clearance is anywhere from deep in each other to well apart, mostly close to the rules' edges. */
const joints = fc.record({
  kerf: fc.integer({ min: 0, max: 6000 }),
  face: fc.integer({ min: 5000, max: 120_000 }),
  sides: fc.tuple(sides, sides),
  flipped: fc.tuple(fc.boolean(), fc.boolean()),
  /** Lengths beyond twice the lean: the sight edge. */
  sight: fc.tuple(fc.integer({ min: 1, max: 900_000 }), fc.integer({ min: 1, max: 900_000 })),
  start: fc.integer({ min: 0, max: 3_000_000 }),
  recut: fc.constantFrom(0, 1588),
  shift: fc.oneof(fc.integer({ min: -4, max: 4 }), fc.integer({ min: -9000, max: 9000 })),
});

interface Pair {
  readonly kerf: number;
  readonly face: number;
  readonly recut: number;
  readonly rails: readonly [Trapezoid, Trapezoid];
  readonly wood: readonly [Wood, Wood];
}

const pairs = joints.map((given): Pair => {
  const mitres = given.sides.map((n) => mitre(n, exact(BigInt(given.kerf)), exact(BigInt(given.face))));
  const rail = (i: 0 | 1, start: number): Trapezoid => ({
    start,
    length: given.sight[i] + Math.ceil(2 * mitres[i]!.lean),
    flipped: given.flipped[i],
    sides: given.sides[i],
  });
  const first = rail(0, given.start);
  const blade = Math.max(mitres[0]!.blade, mitres[1]!.blade);
  const nest = given.flipped[0] === given.flipped[1] ? 0 : Math.min(mitres[0]!.lean, mitres[1]!.lean);
  const near = first.start + first.length + Math.round(blade - nest) + given.shift;
  // Left is who starts first.
  const second = rail(1, Math.max(first.start, near));
  const wood = [first, second].map(
    ({ start, length, flipped }, i): Wood => ({ start, end: start + length, flipped, mitre: mitres[i]! }),
  );
  return {
    kerf: given.kerf,
    face: given.face,
    recut: given.recut,
    rails: [first, second],
    wood: [wood[0]!, wood[1]!],
  };
});

/** Whether `rule` and `polygons` say the same, but for rounding. */
function agree(rule: number, polygons: number): boolean {
  if (Math.abs(rule) < NEAR) return Math.abs(polygons) < NEAR;
  return Math.sign(polygons) === Math.sign(rule);
}

/** Whether the polygons confirm what the checker says of a joint. */
function borneOut({ face, kerf, recut, rails: [left, right], wood }: Pair): boolean {
  const apart = separation(woodOf(left, face), woodOf(right, face));
  const blades =
    kerf === 0
      ? apart
      : Math.min(
          separation(bladeOf(left, face, kerf, 'right'), woodOf(right, face)),
          separation(bladeOf(right, face, kerf, 'left'), woodOf(left, face)),
        );
  const clear = apart > -NEAR && blades > -NEAR;
  const gap = right.start - left.start - left.length;
  switch (jointOf(...wood, recut)) {
    case 'wood':
      return apart < NEAR;
    case 'kerf':
      return apart > -NEAR && blades < NEAR;
    case 'recut':
      return (
        clear && left.flipped === right.flipped && gap < recut + wood[0].mitre.blade + wood[1].mitre.blade
      );
    case 'nest':
      return clear && left.flipped !== right.flipped && left.sides !== right.sides;
    case 'sound':
      return clear && (left.sides === right.sides || gap > recut - NEAR);
  }
}

/** The counterexample fast-check found to a property; empty when it holds. */
function against<T>(property: fc.IProperty<T>): string {
  return fc.defaultReportMessage(fc.check(property, RUNS)) ?? '';
}

const RUNS = { seed: 20_260_401, numRuns: 6000 };

describe('neighbours on a stick', () => {
  it('have disjoint wood exactly when the clearance is not negative', () => {
    expect(
      against(
        fc.property(pairs, ({ face, rails, wood }) => {
          return agree(clearance(...wood), separation(woodOf(rails[0], face), woodOf(rails[1], face)));
        }),
      ),
    ).toBe('');
  });

  it('of disjoint wood are clear of a blade exactly when the clearance holds it', () => {
    expect(
      against(
        fc.property(
          pairs.filter(({ kerf, wood }) => kerf > 0 && clearance(...wood) >= 0),
          ({ face, kerf, rails, wood }) => {
            const [left, right] = rails;
            const clear = clearance(...wood);
            const leftBlade = bladeOf(left, face, kerf, 'right');
            const rightBlade = bladeOf(right, face, kerf, 'left');
            return (
              agree(clear - wood[0].mitre.blade, separation(leftBlade, woodOf(right, face))) &&
              agree(clear - wood[1].mitre.blade, separation(rightBlade, woodOf(left, face)))
            );
          },
        ),
      ),
    ).toBe('');
  });

  it('are sound only with wood and blades apart, and nest only at one angle', () => {
    const seen = new Map<string, number>();
    expect(
      against(
        fc.property(pairs, (pair) => {
          const joint = jointOf(...pair.wood, pair.recut);
          seen.set(joint, (seen.get(joint) ?? 0) + 1);
          return borneOut(pair);
        }),
      ),
    ).toBe('');
    expect([...seen.keys()].sort()).toEqual(['kerf', 'nest', 'recut', 'sound', 'wood']);
    for (const count of seen.values()) expect(count).toBeGreaterThan(50);
  });

  it('share a cut only where one strip of the blade fills the room between them', () => {
    let shared = 0;
    expect(
      against(
        fc.property(pairs, ({ wood }) => {
          if (!sharesCut(...wood) || jointOf(...wood, 0) !== 'sound') return true;
          shared += 1;
          const spare = clearance(...wood) - wood[0].mitre.blade;
          return spare < 2 + NEAR && wood[0].mitre.angle === wood[1].mitre.angle;
        }),
      ),
    ).toBe('');
    expect(shared).toBeGreaterThan(50);
  });
});

describe('the blade along the stick', () => {
  // Geometry: k / cos 45° = k·√2, so 1/8 in takes 0.1768 in and 3/32 in takes 0.1326 in.
  it.each([
    [3175, 0.1768],
    [2381.25, 0.1326],
  ])('%d µm at 45°', (kerf, inches) => {
    const { blade, angle } = mitre(4, exact(BigInt(Math.round(kerf * 100)), 100n), exact(30_000n));
    expect(angle).toBe(45);
    expect(blade / 25_400).toBeCloseTo(inches, 4);
  });
});

/** A strip drawn by its own geometry is as wide along the stick as the checker says. */
describe('the blade as a polygon', () => {
  it.each([3, 4, 5, 6, 8, 24])('is kerf / cos θ wide along the stick for %d sides', (n) => {
    const rail = { start: 0, length: 400_000, flipped: false, sides: n };
    const strip = bladeOf(rail, 40_000, 3175, 'right');
    const width = strip[3]![0] - strip[0]![0];
    expect(width).toBeCloseTo(mitre(n, exact(3175n), exact(40_000n)).blade, 6);
  });
});
