import { FEW_NODES_A_UNIT, type Work } from '../instance/watch.js';
import { type FewBins, MOST_RAILS } from './few-bins.js';
import type { FullBin } from './full-bin.js';

/** Tries, nodes of each, and loose rails that a try takes in. */
const TRIES = 2_500;
const NODES = 200;
const LOOSE_RAILS = 9;
/** Share of the tries that part one bin; the others part two to four. */
const ONE_SHARE = 0.8;
/** Swaps after a try that failed, and bins looked at for each. */
const SWAPS = 8;
const SWAP_LOOKS = 10;

/**
 * Plans that waste nothing: bins that are full to the end are kept, the other rails are loose. A few bins are parted and
 * packed again with some of the loose rails, to one bin more; where that fails rails are swapped, so that others are
 * loose. It serves where a stick is filled by few rails in many ways, as triplets of rails of one to one half are.
 */
export class PerfectBins {
  readonly #loose: number[] = [];
  readonly #bins: number[][] = [];

  constructor(
    private readonly capacity: number,
    private readonly full: FullBin,
    private readonly few: FewBins,
    private readonly random: () => number,
    private readonly work: Work,
  ) {}

  #below(limit: number): number {
    return Math.floor(this.random() * limit);
  }

  /** So many bins of all the rails of `given` and those left in `full`; null where they were not found. */
  pack(given: readonly number[][], waste: readonly number[]): readonly number[][] | null {
    const [bins, loose, wanted] = [this.#bins, this.#loose, given.length];
    bins.length = 0;
    loose.length = 0;
    for (const [b, bin] of given.entries()) {
      if (waste[b] === 0) bins.push(bin);
      else loose.push(...bin);
    }
    for (const [i, left] of this.full.rest.entries()) for (let k = 0; k < left; k++) loose.push(i);
    for (let t = 0; t < TRIES && bins.length < wanted; t++) {
      if (this.#oneMore()) continue;
      for (let k = 0; bins.length > 0 && k < SWAPS; k++) this.#swap();
    }
    return bins.length < wanted ? null : bins;
  }

  /** Parts a few bins and packs one more of their rails and some loose ones. */
  #oneMore(): boolean {
    const [bins, loose, few] = [this.#bins, this.#loose, this.few];
    const { weight } = this.full;
    const parted = Math.min(bins.length, this.random() < ONE_SHARE ? 1 : 2 + this.#below(3));
    const chosen: number[] = [];
    while (chosen.length < parted) {
      const b = this.#below(bins.length);
      if (!chosen.includes(b)) chosen.push(b);
    }
    few.clear();
    const taken = Math.min(loose.length, LOOSE_RAILS);
    for (let k = 0; k < taken; k++) {
      const at = k + this.#below(loose.length - k);
      const i = loose[at]!;
      loose[at] = loose[k]!;
      loose[k] = i;
      few.add(i, weight[i]!);
    }
    let rails = taken;
    for (const b of chosen) rails += bins[b]!.length;
    if (rails > MOST_RAILS) return false;
    for (const b of chosen) for (const i of bins[b]!) few.add(i, weight[i]!);
    if (few.sum < (parted + 1) * this.capacity) return false;
    const made = few.search(parted + 1, 0, NODES);
    this.work.spend((NODES - few.nodesLeft) / FEW_NODES_A_UNIT);
    if (!made) return false;
    for (const b of chosen) bins[b] = [];
    chosen.push(bins.push([]) - 1);
    const left: number[] = [];
    few.take((i, bin) => (bin === 0 ? left : bins[chosen[bin - 1]!]!).push(i));
    loose.splice(0, taken, ...left);
    return true;
  }

  /** Two rails of a bin change places with two loose ones of the same length together. */
  #swap(): void {
    const [bins, loose] = [this.#bins, this.#loose];
    const { weight, of } = this.full;
    for (let t = 0; t < SWAP_LOOKS; t++) {
      const bin = bins[this.#below(bins.length)]!;
      const [a, b] = [this.#below(bin.length), this.#below(bin.length)];
      if (a === b) continue;
      const both = weight[bin[a]!]! + weight[bin[b]!]!;
      const first = this.#below(loose.length);
      for (let k = 0; k < loose.length; k++) {
        const p = (first + k) % loose.length;
        if (loose[p] === bin[a] || loose[p] === bin[b]) continue;
        const wanted = of[both - weight[loose[p]!]!] ?? -1;
        const q = wanted < 0 ? -1 : loose.indexOf(wanted, p + 1);
        if (q < 0) continue;
        [bin[a], loose[p]] = [loose[p]!, bin[a]!];
        [bin[b], loose[q]] = [loose[q]!, bin[b]!];
        return;
      }
    }
  }
}
