import type { Cutting } from '../columns/columns.js';
import type { Instance } from '../instance/instance.js';
import { Packer } from '../packing/pack.js';
import type { Incumbent } from '../packing/packing.js';
import { Exchanging } from './exchange.js';
import { NumbersBound, type NumbersTask } from './numbers.js';

/** Work of the first coolings for each piece of the plan; each round twice as much, up to so many times. */
const WORK_A_PIECE = 400;
const MOST_TIMES = 64;
/** Numbers of pieces that a round begins from anew, and attempts to pack into them. */
const STARTS = 4;
const ATTEMPTS = 20;

export interface SetupTask extends NumbersTask {
  readonly random: () => number;
}

/** Where set-ups cost: rails exchanged between pieces, and a bound over the numbers of pieces, turn about. */
export class SetupSearch {
  readonly #exchanging: Exchanging;
  readonly #numbers: NumbersBound;
  readonly #at: Incumbent;
  readonly #instance: Instance;
  readonly #packer: Packer;
  #times = 1;
  #starts = 0;

  constructor({ random, ...task }: SetupTask, at: Incumbent) {
    const { instance, goal } = task;
    this.#at = at;
    this.#instance = instance;
    this.#packer = new Packer(instance, random, at.watch);
    this.#exchanging = new Exchanging(instance, goal, random);
    this.#numbers = new NumbersBound(task, at);
  }

  dispose(): void {
    this.#numbers.dispose();
  }

  /** Coolings from the best plan and from some of the numbers of pieces still open; then the bound. */
  round(plan: readonly Cutting[]): void {
    const at = this.#at;
    const exchanging = this.#exchanging;
    const before = at.watch.spent;
    if (exchanging.value > at.value) exchanging.begin(plan);
    else exchanging.restart();
    const pieces = plan.reduce((sum, { times }) => sum + times, 0);
    const work = WORK_A_PIECE * pieces * this.#times;
    this.#times = Math.min(MOST_TIMES, 2 * this.#times);
    this.#cool(work);
    if (at.done || at.watch.over()) return;
    for (const open of this.#numbers.open(STARTS, this.#starts)) {
      if (at.done || at.watch.over()) return;
      this.#starts += 1;
      const start = this.#packed(open);
      if (start === null) continue;
      exchanging.begin(start);
      this.#cool(work);
    }
    if (at.done || at.watch.over()) return;
    this.#numbers.run(exchanging.plan().map(({ column }) => column));
    // The better the best plan, the fewer numbers of pieces are left to ask.
    if (!at.done) this.#numbers.settle(at.watch.spent - before);
  }

  #cool(work: number): void {
    const at = this.#at;
    this.#exchanging.cool(work, at.watch, () => at.done);
    if (this.#exchanging.value < at.value) at.take(this.#exchanging.plan());
  }

  /** A plan that uses just so many pieces, whatever its set-ups come to. */
  #packed(pieces: Float64Array): readonly Cutting[] | null {
    for (let tries = ATTEMPTS; tries > 0 && !this.#at.watch.over(); tries--) {
      const plan = this.#packer.attempt(pieces);
      if (plan !== null && exact(this.#instance, plan)) return plan;
    }
    return null;
  }
}

/** Whether the plan makes just what is asked for. */
function exact({ demand }: Instance, plan: readonly Cutting[]): boolean {
  const left = Int32Array.from(demand);
  for (const { column, times } of plan)
    column.items.forEach((i, e) => {
      left[i]! -= times * column.counts[e]!;
    });
  return left.every((count) => count === 0);
}
