/** Rails of one moulding grouped into what the engine places: equal ones become one item with their demands added. */
import { bladeUm, reachUm } from '../rails/mitre.js';
import { railsOf, sidesOf } from '../rails/rails.js';
import type { Batch, FrameLine, Moulding, RailType, Um } from '../terms.js';
import { railWeight } from './spacing.js';
import type { CutItem, Grouped, Mitre, Spacing } from './task.js';

interface Unit {
  readonly line: number;
  readonly sides: readonly string[];
  readonly settings: readonly Um[];
  readonly kind: number;
  readonly whole: boolean;
  readonly bundle: number;
}

/** Top, right, bottom, left; side1 … sideN. */
function ring(rails: readonly RailType[]): {
  readonly sides: readonly string[];
  readonly settings: readonly Um[];
} {
  const around = rails.length === 2 ? [0, 1, 0, 1] : (rails[0]?.sides ?? []).map(() => 0);
  const taken = rails.map(() => 0);
  const sides: string[] = [];
  const settings: Um[] = [];
  for (const at of around) {
    const rail = rails[at]!;
    sides.push(rail.sides[taken[at]!]!);
    settings.push(rail.setting);
    taken[at]! += 1;
  }
  return { sides, settings };
}

/** Sides that face each other in a regular ring; with an odd number of sides none do. */
function opposing(sides: readonly string[]): readonly (readonly string[])[] {
  const half = sides.length / 2;
  return sides.slice(0, half).map((side, i) => [side, sides[i + half]!]);
}

/** The rails of one copy of a line, as they are cut one after the other. */
function unitsOf(line: FrameLine, rails: readonly RailType[], kind: number): readonly Unit[] {
  const index = rails[0]!.line;
  if (line.match === 'frame') return [{ line: index, ...ring(rails), kind, whole: true, bundle: 1 }];
  const even = sidesOf(line) % 2 === 0;
  const paired = line.match === 'pair' && even;
  return rails.flatMap(({ sides, setting }) => {
    // Facing sides one after the other, so that a stick that has two of a ring's rails has a pair.
    const groups = paired ? opposing(sides) : [even ? opposing(sides).flat() : sides];
    const regular = line.shape.kind === 'regular';
    return groups.map((group) => ({
      line: index,
      sides: group,
      settings: group.map(() => setting),
      kind,
      whole: paired,
      bundle: paired ? (regular ? groups.length : 1) : group.length,
    }));
  });
}

/** How rails of these lines stand along a stick of one moulding. `lines` are indices in the batch. */
export function spacingOf(batch: Batch, moulding: Moulding, lines: readonly number[]): Spacing {
  const sides = [...new Set(lines.map((line) => sidesOf(batch.frames[line]!)))].sort((a, b) => a - b);
  const mitres = sides.map(
    (n): Mitre => ({
      sides: n,
      angle: 180 / n,
      blade: bladeUm(batch.saw.kerf, n),
      nest: reachUm(moulding.face, n).down,
    }),
  );
  return { reversible: moulding.reversible, recut: batch.saw.recut, mitres };
}

/** Settings from long to short; items with a second stop come after the plain ones of their longer setting. */
export function byCuttingOrder(a: CutItem, b: CutItem): number {
  if (a.setting !== b.setting) return b.setting - a.setting;
  const [second, other] = [a.second ?? Number.POSITIVE_INFINITY, b.second ?? Number.POSITIVE_INFINITY];
  if (second !== other) return second > other ? -1 : 1;
  return a.kind - b.kind || a.settings.length - b.settings.length || a.settings[0]! - b.settings[0]!;
}

/** Other settings than their own for the rails of a line, by its index, in the order of `railsOf`. */
export type Lengths = ReadonlyMap<number, readonly Um[]>;

const OWN: Lengths = new Map();

/** `lines` are the indices of the moulding's order lines. */
export function groupRails(
  batch: Batch,
  moulding: Moulding,
  lines: readonly number[],
  lengths: Lengths = OWN,
): Grouped {
  const spacing = spacingOf(batch, moulding, lines);
  const units = lines.flatMap((index) => {
    const line = batch.frames[index]!;
    const kind = spacing.mitres.findIndex((mitre) => mitre.sides === sidesOf(line));
    const rails = railsOf(batch, index, moulding).map((rail, i) => ({
      ...rail,
      setting: lengths.get(index)?.[i] ?? rail.setting,
    }));
    return unitsOf(line, rails, kind);
  });
  const items = new Map<string, CutItem>();
  const keyOf = (unit: Unit): string =>
    `${unit.kind}/${(unit.whole ? unit.settings : unit.settings.slice(0, 1)).join('+')}`;
  for (const unit of units) {
    const key = keyOf(unit);
    if (items.has(key)) continue;
    const settings = unit.whole ? unit.settings : unit.settings.slice(0, 1);
    const [longest, shortest] = [Math.max(...settings), Math.min(...settings)];
    items.set(key, {
      kind: unit.kind,
      settings,
      setting: longest,
      second: shortest < longest ? shortest : null,
      weight: settings.reduce((sum, length) => sum + railWeight(spacing, unit.kind, length), 0),
    });
  }
  const ordered = [...items.entries()].sort(([, a], [, b]) => byCuttingOrder(a, b));
  const place = new Map(ordered.map(([key], i) => [key, i]));
  return {
    spacing,
    items: ordered.map(([, item]) => item),
    units: units.map((unit) => ({
      line: unit.line,
      sides: unit.sides,
      item: place.get(keyOf(unit))!,
      whole: unit.whole,
      bundle: unit.bundle,
    })),
  };
}
