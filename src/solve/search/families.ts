import type { Programme } from './programme.js';

/** Columns whose total number is decided by a branch of the search. */
export interface Family {
  readonly members: Int32Array;
  readonly has: (j: number) => boolean;
  lower: number;
  upper: number;
}

/** A column of the programme and its value in the linear programme, above 0. */
export interface Part {
  readonly j: number;
  readonly value: number;
}

/** A number of pieces of one length this far from whole is decided before anything else. */
const UNDECIDED = 0.02;
const SMALL = 1e-6;

/** How far from whole: 0 to a half. */
function apart(sum: number): number {
  return 0.5 - Math.abs(sum - Math.floor(sum) - 0.5);
}

function widest(sums: ReadonlyMap<number, number>, least: number): readonly [number, number] | null {
  let best: readonly [number, number] | null = null;
  for (const [key, sum] of sums) if (apart(sum) > (best ? apart(best[1]) : least)) best = [key, sum];
  return best;
}

/**
 * What a search over a programme branches on: how many pieces of a length are cut, then how many hold both of two items
 * or two of one (Ryan and Foster 1981, for any demand as in Vanderbeck 2000), last single columns.
 */
export class Families {
  /** The families that are rows. */
  readonly list: Family[] = [];
  private readonly known = new Map<string, Family>();

  /** `visits`: set-ups cost, and how many columns hold an item is decided before pairs. */
  constructor(
    private readonly programme: Programme,
    private readonly visits = false,
  ) {}

  add(family: Family): number {
    return this.list.push(family) - 1;
  }

  /** What to decide next, by the columns taken, and its sum there; null when everything is whole. */
  choose(parts: readonly Part[]): { family: Family; sum: number } | null {
    const { group, starts, indices, values, items } = this.programme;
    const pieces = new Map<number, number>();
    const pairs = new Map<number, number>();
    const columns = new Map<number, number>();
    const visited = new Map<number, number>();
    for (const { j, value } of parts) {
      columns.set(j, value);
      if (group[j]! >= 0) pieces.set(group[j]!, (pieces.get(group[j]!) ?? 0) + value);
      for (let a = starts[j]!; a < starts[j + 1]!; a++) {
        if (indices[a]! >= items) continue;
        if (this.visits) visited.set(indices[a]!, (visited.get(indices[a]!) ?? 0) + value);
        for (let b = values[a]! > 1 ? a : a + 1; b < starts[j + 1]!; b++) {
          if (indices[b]! >= items) continue;
          const key = indices[a]! * items + indices[b]!;
          pairs.set(key, (pairs.get(key) ?? 0) + value);
        }
      }
    }
    const piece = widest(pieces, UNDECIDED);
    if (piece) return { family: this.of(`l${piece[0]}`, (j) => group[j] === piece[0]), sum: piece[1] };
    const visit = widest(visited, SMALL);
    if (visit) return { family: this.of(`v${visit[0]}`, (j) => this.has(j, visit[0])), sum: visit[1] };
    const pair = widest(pairs, SMALL);
    if (pair) {
      const [first, second] = [Math.floor(pair[0] / items), pair[0] % items];
      return { family: this.of(`p${pair[0]}`, (j) => this.holds(j, first, second)), sum: pair[1] };
    }
    const column = widest(columns, SMALL);
    return column && { family: this.of(`c${column[0]}`, (j) => j === column[0]), sum: column[1] };
  }

  private of(key: string, has: (j: number) => boolean): Family {
    const known = this.known.get(key);
    if (known) return known;
    const members = Int32Array.from(this.programme.cost.keys()).filter(has);
    const family: Family = { members, has, lower: 0, upper: Infinity };
    this.known.set(key, family);
    return family;
  }

  private has(j: number, item: number): boolean {
    const { starts, indices } = this.programme;
    for (let e = starts[j]!; e < starts[j + 1]!; e++) if (indices[e] === item) return true;
    return false;
  }

  /** Whether column j has both items, or two of them where they are one. */
  private holds(j: number, first: number, second: number): boolean {
    const { starts, indices, values } = this.programme;
    let has = 0;
    for (let e = starts[j]!; e < starts[j + 1]!; e++) {
      if (indices[e] === first) has += first === second ? Math.min(2, values[e]!) : 1;
      else if (indices[e] === second) has++;
    }
    return has >= 2;
  }
}
