import type { Column } from '../columns/columns.js';
import type { Master } from '../columns/master.js';
import { columnsWithin, promisingColumns } from '../columns/useful.js';
import type { SearchGoal } from '../instance/goal.js';
import type { Instance } from '../instance/instance.js';
import type { HighsRuntime } from '../lp/highs-runtime.js';
import type { LpFactory } from '../lp/lp.js';
import type { Incumbent } from '../packing/packing.js';
import { PairSearch } from './branch.js';
import { guess } from './guess.js';
import { cuttingsOf, type ProgrammeColumn, programmeOf } from './programme.js';
import { RestPairs } from './tight/rest-pairs.js';
import { Tree } from './tree.js';

/** An incumbent that can also be told that there is no plan at all. */
export interface ProvenIncumbent extends Incumbent {
  deny(): void;
}

/** Nodes in the first turn: for the search over pairs, the tree over all columns, and branch and cut over some. */
const PAIR_NODES = 100;
const TREE_NODES = 150;
const MIP_NODES = 30;
/** Columns that a plan at the mark may use, so few that they are searched before any dive, and nodes of that and of listing them. */
const FEW_COLUMNS = 4_000;
const FEW_NODES = 40;
const FEW_PAIR_NODES = 10;
const LISTING_NODES = 60_000;
/** In each turn the search over pairs gets so many times more nodes: once dives have failed, it is the better hope. */
const PAIR_GROWTH = 3;

/**
 * The search from below: is there a plan at the bound, or a little above it? A search over pairs of rails, or a tree over
 * every column such a plan may use, finds one or raises the bound; the mark rises step by step. Where there are too many
 * such columns even at the bound, branch and cut over those of least reduced cost may find a plan, but proves nothing.
 */
export class Completion {
  private pairing: { readonly mark: number; readonly search: PairSearch | RestPairs } | null = null;
  private proof: { readonly tree: Tree; readonly choices: readonly ProgrammeColumn[] } | null = null;

  constructor(
    private readonly highs: HighsRuntime,
    private readonly factories: readonly LpFactory[],
    private readonly instance: Instance,
    private readonly goal: SearchGoal,
    private readonly grain: number,
    /** How far each group's piece can be filled; null where that is not known. */
    private readonly holds: Float64Array | null,
    private readonly at: ProvenIncumbent,
  ) {}

  dispose(): void {
    this.pairing?.search.dispose();
    this.proof?.tree.dispose();
  }

  /** The search over pairs alone, at the bound, where hardly anything may be wasted; answers the columns it met. */
  pairsFirst(columns: readonly Column[]): readonly Column[] {
    const { factories, instance, goal, at, grain } = this;
    const mark = Math.min(at.bound, at.value - grain);
    if (RestPairs.serves(instance, goal)) {
      const search = new RestPairs(factories, instance, goal, columns, mark, at.watch);
      if (!search.able) return columns;
      this.pairing = { mark, search };
    }
    this.pairs(columns, mark, PAIR_NODES);
    return this.pairing!.search.columns;
  }

  /** At the bound, for few nodes, where hardly a column is left that a plan there may use. */
  few(master: Master): void {
    const { highs, instance, goal, grain, holds, at } = this;
    const mark = Math.min(at.bound, at.value - grain);
    const choices = columnsWithin(master, mark, holds, at.watch.seconds(), FEW_COLUMNS, LISTING_NODES);
    if (!choices) return;
    if (PairSearch.serves(instance, goal)) {
      if (this.pairing === null) this.pairs(master.columns, mark, FEW_PAIR_NODES);
      return;
    }
    this.proof = { tree: new Tree(highs(), programmeOf(instance, goal, choices), mark), choices };
    this.settle(FEW_NODES);
  }

  /** Searches continue where they stopped in the last turn. */
  run(master: Master, turn: number): void {
    const { instance, goal, grain, at } = this;
    const effort = (1 + turn) ** 2;
    // From this mark on there are too many columns.
    let roof = Infinity;
    for (let step = turn === 0 ? 0 : 4 ** turn; !at.done && !at.watch.over(); ) {
      const mark =
        at.value === Infinity ? Infinity : Math.min(at.value - grain, at.bound + step * grain, roof - grain);
      if (mark < Infinity && (this.pairing?.mark === mark || PairSearch.serves(instance, goal))) {
        const status = this.pairs(master.columns, mark, PAIR_NODES * PAIR_GROWTH ** turn);
        if (status === 'infeasible') {
          step = 4 * step + 1;
          continue;
        }
        if (status !== 'stuck') return;
      }
      if (mark < at.bound || !this.enumerate(master, mark)) {
        if (mark <= at.bound || mark === Infinity) break;
        roof = mark;
        step = Math.floor((mark - at.bound) / grain / 4);
      } else {
        if (!this.settle(TREE_NODES * effort)) break;
        step = 4 * step + 1;
      }
    }
    this.guess(master, MIP_NODES * effort);
  }

  private pairs(columns: readonly Column[], mark: number, nodes: number): 'infeasible' | 'stuck' | 'over' {
    const { factories, instance, goal, at, grain } = this;
    if (this.pairing?.mark !== mark) {
      this.pairing?.search.dispose();
      this.pairing = { mark, search: new PairSearch(factories, instance, goal, columns, mark, at.watch) };
    }
    const { status, plan } = this.pairing.search.run(at.watch, nodes);
    if (plan) at.take(plan);
    if (status === 'infeasible') at.raise(mark + grain);
    return status === 'infeasible' || status === 'stuck' ? status : 'over';
  }

  /** A tree over every column that a plan at the mark may use; false when they are too many. */
  private enumerate(master: Master, mark: number): boolean {
    const { highs, instance, goal, at, holds } = this;
    // A tree that was begun is continued while it can still prove something.
    if (this.proof && this.proof.tree.mark >= at.bound && this.proof.tree.mark < at.value) return true;
    this.proof?.tree.dispose();
    this.proof = null;
    const choices = columnsWithin(master, mark, holds, at.watch.seconds());
    if (!choices) return false;
    this.proof = { tree: new Tree(highs(), programmeOf(instance, goal, choices), mark), choices };
    return true;
  }

  /** Whether the tree came to its end. */
  private settle(nodes: number): boolean {
    const { instance, at, grain } = this;
    const { tree, choices } = this.proof!;
    const { status, times } = tree.run(at.watch, nodes);
    if (status === 'limit') return false;
    this.proof = null;
    tree.dispose();
    if (times) at.take(cuttingsOf(instance, choices, times));
    if (status === 'infeasible' && tree.mark === Infinity) at.deny();
    else if (status === 'infeasible') at.raise(tree.mark + grain);
    return status !== 'stuck';
  }

  /** Any better plan, from the columns that look best. */
  private guess(master: Master, nodes: number): void {
    const { highs, instance, goal, at, grain } = this;
    if (at.done || at.watch.over()) return;
    const choices = promisingColumns(master, at.value - grain, at.watch.seconds());
    if (choices.length === 0 || at.watch.over()) return;
    const times = guess(highs(), programmeOf(instance, goal, choices), at.value - grain, nodes, at.watch);
    if (times) at.take(cuttingsOf(instance, choices, times));
  }
}
