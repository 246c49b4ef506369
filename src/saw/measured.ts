/** Measured angles, as typed, and the mitres of a batch they were measured for. */
import { PairstopError } from '../errors.js';

/** Degrees. A saw further off than this is set to another angle. */
export const NEAR = 2;

const DEGREES = /^(\d{1,2}(?:\.\d{1,6})?)\s*°?$/;

/** `45.2`, `45.2°`, or several with commas. Throws PS_ANGLE. */
export function parseAngles(given: string): readonly number[] {
  return given.split(',').map((text) => {
    const degrees = DEGREES.exec(text.trim())?.[1];
    if (degrees !== undefined) return Number(degrees);
    const shown = JSON.stringify(text.trim().slice(0, 40));
    const allowed = 'degrees off square with a point, such as 45.2, or several with commas';
    throw new PairstopError('PS_ANGLE', `${shown} is no angle; allowed: ${allowed}`, [
      { path: '--angle', given: shown, allowed },
    ]);
  });
}

export function degrees(angle: number): string {
  return `${Number(angle.toFixed(3))}°`;
}

/** For each mitre, by its number of sides, the measured angle nearest to it. Throws PS_ANGLE. */
export function anglesByMitre(
  angles: readonly number[],
  sides: readonly number[],
): ReadonlyMap<number, number> {
  const found = new Map<number, number>();
  const refuse = (given: string, allowed: string): never => {
    throw new PairstopError('PS_ANGLE', `--angle: given ${given}; allowed: ${allowed}`, [
      { path: '--angle', given, allowed },
    ]);
  };
  for (const angle of angles) {
    const off = (n: number): number => Math.abs(angle - 180 / n);
    const nearest = sides.reduce((best, n) => (off(n) < off(best) ? n : best));
    if (off(nearest) > NEAR) {
      const mitres = sides.map((n) => degrees(180 / n)).join(', ');
      refuse(degrees(angle), `within ${NEAR}° of a mitre of this batch: ${mitres}`);
    }
    const before = found.get(nearest);
    if (before !== undefined) {
      refuse(`${degrees(before)} and ${degrees(angle)}`, `one angle near ${degrees(180 / nearest)}`);
    }
    found.set(nearest, angle);
  }
  return found;
}
