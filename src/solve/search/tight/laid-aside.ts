import { type Column, columnOf } from '../../columns/columns.js';
import type { Instance } from '../../instance/instance.js';
import { CELLS_A_UNIT, type EndingWork } from '../../instance/watch.js';

/** Items laid aside at most, how many choices of them are gone on from, and how many more each is tried with. */
const MOST_ASIDE = 4;
const BEAM = 8;
const BREADTH = 24;
/** It ends where so few rails are left, and answers up to so many choices. */
const FEW_RAILS = 40;
const MOST_ANSWERS = 3;
/** Share of the rails left, beyond which searching them takes as long as searching all. */
const MOST_LEFT = 0.5;

/**
 * Where rails were added stick by stick to a core, nearly every one has few fillings but for a few flexible rails that go
 * with all (a rail parted in two, say). Rails are laid aside whose absence leaves most others a single filling, and the
 * sticks that are then the only filling of a rail are taken out, as in `certain.ts`, with those whose filling is single
 * then, and so on. Answers such lists of sticks, in the order in which they were found, those first that leave the fewest
 * rails. Nothing is proven so: it is a place to look for a plan, a small one in what is left, or in that and some of the
 * sticks found last. Empty where that leaves more than half of the rails.
 */
export function peeledAside(instance: Instance, waste: number, work: EndingWork): (readonly Column[])[] {
  const counts = new FillingCounts(instance, waste, work);
  let best: AsideState[] = [counts.begin()];
  let beam = best;
  for (let aside = 0; aside < MOST_ASIDE && !work.over(); aside++) {
    const next: AsideState[] = [];
    let enough = 0;
    for (const state of beam) {
      if (enough >= MOST_ANSWERS) break;
      for (const item of counts.mostConfusing(state)) {
        if (work.over() || enough >= MOST_ANSWERS) break;
        const without = counts.without(state, item);
        if (without.rails <= FEW_RAILS) enough++;
        next.push(without);
      }
    }
    next.sort((a, b) => a.rails - b.rails);
    beam = next.slice(0, BEAM);
    if (beam[0] && beam[0].rails < best[0]!.rails) best = beam;
    if (best[0]!.rails <= FEW_RAILS || beam.length === 0) break;
  }
  const all = instance.demand.reduce((sum, count) => sum + count, 0);
  return best
    .slice(0, MOST_ANSWERS)
    .flatMap(({ sticks, rails }) => (sticks.length > 0 && rails <= MOST_LEFT * all ? [sticks] : []));
}

interface AsideState {
  /** Copies of each item that are neither on a stick nor aside; rails on no stick in all. */
  readonly demand: Int32Array;
  rails: number;
  /** Fillings of each length. */
  readonly ways: Int32Array;
  readonly sticks: Column[];
}

/**
 * Numbers of fillings modulo 2^32, as coefficients of a product of one polynomial an item, 1 + x^w + … + x^(d·w): dividing
 * by a factor takes the item away, so that fillings with or without any item are at hand without counting anew. A number
 * that is one modulo 2^32 is nearly always one; what is found is checked.
 */
class FillingCounts {
  private readonly scratch: Int32Array;
  private readonly size: number;

  constructor(
    private readonly instance: Instance,
    private readonly waste: number,
    private readonly work: EndingWork,
  ) {
    this.size = instance.largest + 1;
    this.scratch = new Int32Array(this.size);
  }

  begin(): AsideState {
    const { n, weight, demand, largest } = this.instance;
    const ways = new Int32Array(this.size);
    ways[0] = 1;
    times(ways, 1, Math.min(this.waste, largest));
    let rails = 0;
    for (let i = 0; i < n; i++) {
      times(ways, weight[i]!, demand[i]!);
      rails += demand[i]!;
    }
    this.spend(n);
    const state = { demand: demand.slice(), rails, ways, sticks: [] };
    this.peel(state);
    return state;
  }

  private spend(rows: number): void {
    this.work.spend((rows * this.size) / CELLS_A_UNIT);
  }

  /** Takes `copies` of an item away. */
  private remove({ ways, demand }: AsideState, i: number, copies: number): void {
    const weight = this.instance.weight[i]!;
    over(ways, weight, demand[i]!);
    demand[i]! -= copies;
    times(ways, weight, demand[i]!);
  }

  /** The state with this item laid aside, too. */
  without(state: AsideState, item: number): AsideState {
    const { demand, rails, ways, sticks } = state;
    const next = { demand: demand.slice(), rails, ways: ways.slice(), sticks: sticks.slice() };
    this.remove(next, item, demand[item]!);
    this.peel(next);
    return next;
  }

  /** Items without which most others have a single filling. */
  mostConfusing({ demand, ways }: AsideState): number[] {
    const { instance, scratch } = this;
    const { n, weight, largest } = instance;
    const singles = new Int32Array(n);
    for (let r = 0; r < n; r++) {
      if (demand[r]! === 0) continue;
      scratch.set(ways);
      over(scratch, weight[r]!, demand[r]!);
      for (let z = 0; z < n; z++) {
        if (z === r || demand[z] !== 1) continue;
        if (coefficient(scratch, weight[z]!, 1, largest - weight[z]!) === 1) singles[r]!++;
      }
    }
    this.spend(n);
    const items = [...singles.keys()].filter((r) => singles[r]! > 0);
    items.sort((a, b) => singles[b]! - singles[a]! || b - a);
    return items.slice(0, BREADTH);
  }

  /** Takes out every stick that is the only filling of a rail needed once, until there is none. */
  private peel(state: AsideState): void {
    const { instance } = this;
    const { demand, ways, sticks } = state;
    const { n, weight, largest } = instance;
    for (let z = 0, since = 0; since < n; z = (z + 1) % n, since++) {
      if (demand[z] !== 1 || coefficient(ways, weight[z]!, 1, largest - weight[z]!) !== 1) continue;
      const stick = this.onlyFilling(state, z);
      if (!stick) continue;
      stick.items.forEach((i, e) => {
        this.remove(state, i, stick.counts[e]!);
        state.rails -= stick.counts[e]!;
      });
      sticks.push(stick);
      since = -1;
    }
    this.spend(1);
  }

  /** The only filling that holds item z; null where there are several after all. */
  private onlyFilling({ demand, ways }: AsideState, z: number): Column | null {
    const { instance, waste, scratch } = this;
    const { n, weight, largest } = instance;
    const room = largest - weight[z]!;
    scratch.set(ways);
    over(scratch, weight[z]!, 1);
    const counts = new Int32Array(n);
    counts[z] = 1;
    let left = room;
    for (let i = 0; i < n; i++) {
      for (let c = 1; i !== z && c <= demand[i]! && c * weight[i]! <= room; c++) {
        if (coefficient(scratch, weight[i]!, demand[i]!, room - c * weight[i]!) !== 1) continue;
        counts[i] = c;
        left -= c * weight[i]!;
        break;
      }
    }
    const items = Int32Array.from(counts.keys()).filter((i) => counts[i]! > 0);
    this.spend(2 + 4 * items.length);
    if (left < 0 || left > waste) return null;
    return columnOf(n, 0, [{ items, counts: Int32Array.from(items, (i) => counts[i]!) }]);
  }
}

/** Multiplies by 1 + x^weight + … + x^(demand · weight). */
function times(ways: Int32Array, weight: number, demand: number): void {
  if (demand === 0) return;
  const whole = (demand + 1) * weight;
  // (1 − x^whole) / (1 − x^weight)
  for (let t = ways.length - 1; t >= whole; t--) ways[t] = ways[t]! - ways[t - whole]!;
  for (let t = weight; t < ways.length; t++) ways[t] = ways[t]! + ways[t - weight]!;
}

/** Divides by the same. */
function over(ways: Int32Array, weight: number, demand: number): void {
  if (demand === 0) return;
  const whole = (demand + 1) * weight;
  for (let t = ways.length - 1; t >= weight; t--) ways[t] = ways[t]! - ways[t - weight]!;
  for (let t = whole; t < ways.length; t++) ways[t] = ways[t]! + ways[t - whole]!;
}

/** Coefficient of x^at of the quotient by the same. */
function coefficient(ways: Int32Array, weight: number, demand: number, at: number): number {
  const whole = (demand + 1) * weight;
  let sum = 0;
  for (let t = at; t >= 0; t -= whole) {
    sum = (sum + ways[t]!) | 0;
    if (t >= weight) sum = (sum - ways[t - weight]!) | 0;
  }
  return sum;
}
