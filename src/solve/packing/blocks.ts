import { targets } from '../bounds/targets.js';
import { type Cutting, columnOf, type Fill, fillOf } from '../columns/columns.js';
import type { SearchGoal } from '../instance/goal.js';
import type { Instance } from '../instance/instance.js';
import { Packer } from './pack.js';
import type { Incumbent } from './packing.js';

/** Copies of an item that are packed as one: the more, the fewer set-ups, and the more is wasted. */
const SIZES = [2, 4, 3, 6] as const;
/** Shares of the pieces that may be left over, tried in turn: blocks fill less well than single rails. */
const SPARE = [0.004, 0.015, 0.03] as const;
/** Bins times blocks that packing may look at, for each share. */
const EFFORT = 2e6;
const MOST_ATTEMPTS = 3;

/** Some copies of one item. */
interface Block {
  readonly item: number;
  readonly copies: number;
  readonly weight: number;
  readonly demand: number;
}

function blocksOf({ n, weight, demand }: Instance, fits: Int32Array, size: number): readonly Block[] {
  const blocks: Block[] = [];
  for (let item = 0; item < n; item++) {
    const copies = Math.max(1, Math.min(size, fits[item]!));
    const whole = Math.floor(demand[item]! / copies);
    const rest = demand[item]! - whole * copies;
    if (whole > 0) blocks.push({ item, copies, weight: copies * weight[item]!, demand: whole });
    if (rest > 0) blocks.push({ item, copies: rest, weight: rest * weight[item]!, demand: 1 });
  }
  return blocks.sort((a, b) => b.weight - a.weight || a.item - b.item || b.copies - a.copies);
}

/**
 * Plans in which copies of an item lie together, so that it is set up on few pieces: blocks of them are packed as items
 * of their own. `setups`: the least that set-ups come to.
 */
export function packBlocks(
  instance: Instance,
  goal: SearchGoal,
  holds: Float64Array,
  fits: Int32Array,
  setups: number,
  random: () => number,
  at: Incumbent,
): void {
  if (instance.kinds) return;
  for (const size of SIZES) {
    if (at.done || at.watch.over()) return;
    const blocks = blocksOf(instance, fits, size);
    const packed: Instance = {
      ...instance,
      n: blocks.length,
      weight: Float64Array.from(blocks, ({ weight }) => weight),
      demand: Int32Array.from(blocks, ({ demand }) => demand),
    };
    const itemsOf = (fill: Fill): Fill => {
      const counts = new Int32Array(instance.n);
      fill.items.forEach((b, e) => {
        counts[blocks[b]!.item]! += blocks[b]!.copies * fill.counts[e]!;
      });
      return fillOf(counts);
    };
    const packer = new Packer(packed, random, at.watch);
    spare: for (const share of SPARE) {
      const less = holds.map((held) => held * (1 - share));
      const pieces = targets(packed, goal, less, at.value - setups, 1).list[0]?.pieces;
      if (pieces === undefined) break;
      const bins = pieces.reduce((sum, k) => sum + k, 0);
      const attempts = Math.max(1, Math.min(MOST_ATTEMPTS, Math.ceil(EFFORT / (bins * packed.n))));
      for (let k = 0; k < attempts && !at.watch.over(); k++) {
        const plan = packer.attempt(pieces);
        if (plan === null) continue;
        at.take(
          plan.map(({ column, times }): Cutting => {
            const parts = column.parts.map(itemsOf);
            return { column: columnOf(instance.n, column.group, parts), times };
          }),
        );
        // More pieces do not save set-ups.
        break spare;
      }
    }
  }
}
