/** Order lines that a comparison leaves out, since nothing can hold them. */
import type { FrameLine, Moulding, Um } from '../../terms.js';
import type { Settings } from '../settings.js';
import { mitre } from '../wood/geometry.js';
import type { OnComparison } from './context.js';

/** The longest stick without a flaw, less what is trimmed off both ends; 0: there is none. */
function longestClear({ batch }: OnComparison, { id, endTrim }: Moulding): Um {
  const clear = batch.sticks.filter(({ moulding, flaws }) => moulding === id && flaws.length === 0);
  const bought = batch.offers.filter(({ moulding, available }) => moulding === id && available !== 0);
  return Math.max(0, ...[...clear, ...bought].map(({ length }) => length - 2 * endTrim));
}

/** What the rails of a line that must lie together take at most; rails that nest take less. */
function mostNeeded(
  { batch: { saw } }: OnComparison,
  settings: Settings,
  line: FrameLine,
  index: number,
  moulding: Moulding,
): Um {
  const sides = line.shape.kind === 'regular' ? line.shape.sides : 4;
  const sizes: readonly (0 | 1)[] = line.shape.kind === 'rectangle' ? [0, 1] : [0];
  const own = sizes.map((size) => settings.own(index, size, moulding));
  const together = line.match === 'frame' ? sides : line.match === 'pair' ? 2 : 1;
  const joint = mitre(sides, saw.kerf, moulding.face).blade + saw.recut;
  const rails =
    line.match === 'frame'
      ? own.reduce((sum, length) => sum + (length * sides) / own.length, 0)
      : together * Math.max(...own);
  return rails + together * joint;
}

/** A line is skipped wrongly where a stick surely holds its rails; whether one could at all, only planning can tell. */
export function checkSkipped(on: OnComparison): void {
  const { batch, comparison, findings, settings } = on;
  const skipped = comparison.skipped ?? [];
  if (skipped.length > 0 && !batch.options.skipImpossible)
    findings.add('CHECK_SKIPPED', 'skipped', skipped.join(', '), 'nothing: the batch does not ask for it');
  const seen = new Set<string>();
  for (const [k, id] of skipped.entries()) {
    const path = `skipped[${k}]`;
    const index = batch.frames.findIndex((line) => line.id === id);
    const line = batch.frames[index];
    const moulding = batch.mouldings.find((one) => one.id === line?.moulding);
    if (line === undefined || moulding === undefined || seen.has(id)) {
      findings.add('CHECK_SKIPPED', path, `"${id}"`, 'order lines of the batch, once each');
      continue;
    }
    seen.add(id);
    if (mostNeeded(on, settings, line, index, moulding) <= longestClear(on, moulding))
      findings.add('CHECK_SKIPPED', path, `"${id}"`, 'only lines that no stick holds');
  }
}
