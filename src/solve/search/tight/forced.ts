import type { Column, Cutting } from '../../columns/columns.js';
import type { Instance } from '../../instance/instance.js';
import { changeDemand, partOf, type RailPart } from './part.js';

/** What the list alone decides. */
export interface Forced {
  /** Some rail has no column left that serves. */
  readonly none: boolean;
  /** Columns that are cut in any case, as a rail has no other. */
  readonly cut: readonly Cutting[];
  /** The other rails, and the columns of the whole that are left for them. */
  readonly part: RailPart;
  readonly columns: readonly Column[];
}

/** Takes the columns out that any plan from the list cuts which makes exactly the demand. */
export function forcedOf(instance: Instance, listed: readonly Column[]): Forced {
  const demand = instance.demand.slice();
  const cut: Cutting[] = [];
  let columns = listed;
  for (;;) {
    let [more, none] = [false, false];
    columns = columns.filter(({ items, counts }) => items.every((i, e) => counts[e]! <= demand[i]!));
    const ways = new Int32Array(instance.n);
    const last = new Int32Array(instance.n);
    columns.forEach(({ items }, j) => {
      for (const i of items) {
        ways[i]!++;
        last[i] = j;
      }
    });
    for (let i = 0; i < instance.n && !none; i++) {
      if (demand[i] === 0 || ways[i]! > 1) continue;
      const column = columns[last[i]!];
      const count = ways[i] === 0 ? 0 : column!.counts[column!.items.indexOf(i)]!;
      const times = count === 0 ? 0 : demand[i]! / count;
      none = !Number.isInteger(times) || times === 0;
      none ||= column!.items.some((k, e) => column!.counts[e]! * times > demand[k]!);
      if (none) break;
      changeDemand(demand, column!, -times);
      cut.push({ column: column!, times });
      more = true;
    }
    if (none || !more) return { none, cut, part: partOf(instance, demand), columns };
  }
}
