import type { Instance } from '../../instance/instance.js';
import { CELLS_A_UNIT, type Work } from '../../instance/watch.js';

/** Fillings that are listed at most, and rails looked at for one unit of work as they are listed. */
const MOST_FILLINGS = 6_000;
const LOOKED_A_UNIT = 30;
/** Fillings that exact search looks at for one unit. */
const LOOKS_A_UNIT = 100;

/**
 * A plan for few rails, as the items of each stick, that leaves at most `over` in all: by the rail that fewest fillings hold
 * (exact cover; Knuth 2000). Null where none was found after so many looks at fillings, which proves nothing; undefined where
 * too many fillings would have to be listed.
 */
export function coverOf(
  instance: Instance,
  demand: Int32Array,
  over: number,
  looks: number,
  work: Work,
): (readonly number[])[] | null | undefined {
  const fillings = allFillings(instance, demand, over, work);
  return fillings && new RailCover(instance, fillings, demand, over).run(looks, work);
}

/** Every filling of these rails that leaves at most `over`, by items; undefined where they are too many. */
function allFillings(
  { weight, largest, n }: Instance,
  demand: Int32Array,
  over: number,
  work: Work,
): number[][] | undefined {
  const rails: number[] = [];
  for (let i = 0; i < n; i++) for (let c = 0; c < demand[i]!; c++) rails.push(i);
  const width = largest + 1;
  // Row k: rooms that rails from the k-th on can fill.
  const fills = new Uint8Array((rails.length + 1) * width);
  fills.fill(1, rails.length * width, rails.length * width + Math.min(over, largest) + 1);
  for (let k = rails.length - 1; k >= 0; k--) {
    const [row, next, own] = [k * width, (k + 1) * width, weight[rails[k]!]!];
    fills.copyWithin(row, next, next + width);
    for (let room = own; room < width; room++) if (fills[next + room - own] === 1) fills[row + room] = 1;
  }
  work.spend((rails.length * width) / CELLS_A_UNIT);
  const found: number[][] = [];
  const stack: number[] = [];
  let looked = 0;
  const from = (k: number, room: number): void => {
    if (room <= over && stack.length > 0) found.push(stack.slice());
    for (let j = k; j < rails.length && fills[j * width + room] === 1 && found.length <= MOST_FILLINGS; j++) {
      looked++;
      const left = room - weight[rails[j]!]!;
      // Of equal rails the first ones are taken.
      if (left < 0 || (j > k && rails[j - 1] === rails[j])) continue;
      if (fills[(j + 1) * width + left] === 0) continue;
      stack.push(rails[j]!);
      from(j + 1, left);
      stack.pop();
    }
  };
  from(0, largest);
  work.spend(looked / LOOKED_A_UNIT);
  return found.length <= MOST_FILLINGS ? found : undefined;
}

class RailCover {
  private readonly holding: number[][];
  /** By how many items a filling is ruled out. */
  private readonly barred: Int32Array;
  /** Fillings that are not, of each item. */
  private readonly ways: Int32Array;
  private readonly need: Int32Array;
  private readonly left: Float64Array;
  private readonly taken: number[] = [];
  private rails: number;
  /** How many more fillings may be looked at. */
  private looks = 0;

  constructor(
    { weight, largest, n }: Instance,
    private readonly fillings: readonly (readonly number[])[],
    demand: Int32Array,
    private over: number,
  ) {
    this.holding = Array.from({ length: n }, () => []);
    this.need = demand.slice();
    this.rails = demand.reduce((sum, d) => sum + d, 0);
    this.barred = new Int32Array(fillings.length);
    this.ways = new Int32Array(n);
    this.left = new Float64Array(fillings.length);
    fillings.forEach((items, j) => {
      this.left[j] = items.reduce((room, i) => room - weight[i]!, largest);
      for (const i of new Set(items)) {
        this.holding[i]!.push(j);
        this.ways[i]!++;
      }
    });
  }

  run(looks: number, work: Work): (readonly number[])[] | null {
    this.looks = looks;
    const found = this.search();
    work.spend((looks - this.looks) / LOOKS_A_UNIT);
    return found ? this.taken.map((j) => this.fillings[j]!) : null;
  }

  private search(): boolean {
    if (this.rails === 0) return true;
    if (this.looks < 0) return false;
    const { need, ways, holding, barred } = this;
    let fewest = -1;
    for (let i = 0; i < need.length; i++) {
      if (need[i]! > 0 && (fewest < 0 || ways[i]! < ways[fewest]!)) fewest = i;
    }
    for (const j of holding[fewest]!) {
      if (barred[j]! > 0 || this.left[j]! > this.over) continue;
      this.take(j);
      if (this.search()) return true;
      this.giveBack(j);
      if (this.looks < 0) return false;
    }
    return false;
  }

  private take(j: number): void {
    const { fillings, need } = this;
    for (const i of fillings[j]!) need[i]!--;
    for (const i of new Set(fillings[j]!)) this.bar(i, 1);
    this.rails -= fillings[j]!.length;
    this.over -= this.left[j]!;
    this.taken.push(j);
  }

  private giveBack(j: number): void {
    const { fillings, need } = this;
    this.taken.pop();
    this.over += this.left[j]!;
    this.rails += fillings[j]!.length;
    for (const i of new Set(fillings[j]!)) this.bar(i, -1);
    for (const i of fillings[j]!) need[i]!++;
  }

  /** Rules out fillings that hold more of an item than is needed, or takes that back. */
  private bar(i: number, by: 1 | -1): void {
    const { holding, fillings, need, barred, ways } = this;
    this.looks -= holding[i]!.length;
    for (const q of holding[i]!) {
      if (need[i]! > 0 && fillings[q]!.reduce((count, other) => count + Number(other === i), 0) <= need[i]!)
        continue;
      const before = barred[q]!;
      barred[q] = before + by;
      if (by > 0 ? before > 0 : before > 1) continue;
      for (const k of new Set(fillings[q]!)) ways[k]! -= by;
    }
  }
}
