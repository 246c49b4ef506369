/**
 * The arc-flow model of cutting stock (Valério de Carvalho, Annals of Operations Research 86, 1999), for HiGHS.
 *
 * Nodes are positions along the stick; an item arc (p, p + w) cuts that item there; loss arcs run from each node to
 * the next; a stock's feedback arc closes the flow from its length to 0 and carries its cost. His reductions: items
 * longest first, so an arc may only follow longer or equal ones, and no more copies in a row than are asked for.
 * Items of one kind, single-segment stocks, costs by the piece: what the published model covers.
 */
import type { Highs } from 'highs';
import type { Problem } from '../../src/solve/problem.js';
import { Mip, type MipAnswer } from './mip.js';

export interface ArcFlow {
  readonly mip: Mip;
  readonly nodes: number;
  readonly itemArcs: number;
}

/** Thrown when the graph passes the number of arcs allowed. */
export class TooManyArcs extends Error {}

export function arcFlowCovers(problem: Problem): boolean {
  return (
    problem.kinds === null &&
    problem.stocks.every((stock) => stock.segments.length === 1 && stock.purchase === null)
  );
}

export function arcFlow(problem: Problem, limit = 2_000_000): ArcFlow {
  if (!arcFlowCovers(problem))
    throw new RangeError('arc-flow: one kind, one segment a stock, price by the piece');
  const unit = problem.items.reduce((g, item) => gcd(g, item.weight), 0);
  const lengths = problem.stocks.map((stock) => Math.floor((stock.segments[0] ?? 0) / unit));
  const longest = Math.max(...lengths);
  const arcs = itemArcs(problem, unit, longest, limit);
  const used = new Uint8Array(longest + 1);
  used[0] = 1;
  for (const length of lengths) used[length] = 1;
  for (const arc of arcs) {
    used[arc.from] = 1;
    used[arc.to] = 1;
  }
  const mip = new Mip();
  const demandRows = problem.items.map((item) => mip.row(item.demand, Infinity));
  const nodeRow = new Int32Array(longest + 1).fill(-1);
  let nodes = 0;
  for (let p = 0; p <= longest; p++)
    if (used[p] === 1) {
      nodeRow[p] = mip.row(0, 0);
      nodes++;
    }
  const rowOf = (p: number): number => nodeRow[p] ?? 0;
  const total = problem.items.reduce((sum, item) => sum + item.demand, 0);
  for (const [s, stock] of problem.stocks.entries()) {
    const length = lengths[s] ?? 0;
    if (length > 0)
      mip.column(stock.costs[0] ?? 0, Math.min(stock.supply ?? total, total), [
        [rowOf(length), -1],
        [rowOf(0), 1],
      ]);
  }
  for (const { item, from, to } of arcs)
    mip.column(0, problem.items[item]?.demand ?? 0, [
      [demandRows[item] ?? 0, 1],
      [rowOf(from), -1],
      [rowOf(to), 1],
    ]);
  let before = 0;
  for (let p = 1; p <= longest; p++)
    if (used[p] === 1) {
      mip.column(0, total, [
        [rowOf(before), -1],
        [rowOf(p), 1],
      ]);
      before = p;
    }
  return { mip, nodes, itemArcs: arcs.length };
}

/** Solves goal 0 by the arc-flow model. */
export function solveArcFlow(highs: Highs, problem: Problem, seconds: number, limit?: number): MipAnswer {
  return arcFlow(problem, limit).mip.solve(highs, { seconds });
}

interface Arc {
  readonly item: number;
  readonly from: number;
  readonly to: number;
}

function itemArcs(problem: Problem, unit: number, longest: number, limit: number): Arc[] {
  const weight = (i: number): number => (problem.items[i]?.weight ?? 0) / unit;
  const order = [...problem.items.keys()].sort((a, b) => weight(b) - weight(a));
  const reachable = new Uint8Array(longest + 1);
  reachable[0] = 1;
  const copies = new Int32Array(longest + 1);
  const arcs: Arc[] = [];
  for (const item of order) {
    const step = weight(item);
    const demand = problem.items[item]?.demand ?? 0;
    // copies[p]: fewest copies of this item on any path to p; positions rise, so one sweep sees them in order.
    copies.fill(-1);
    for (let p = 0; p + step <= longest; p++) {
      const have = reachable[p] === 1 ? 0 : (copies[p] ?? -1);
      if (have < 0 || have >= demand) continue;
      if (arcs.length >= limit) throw new TooManyArcs(`more than ${limit} arcs`);
      arcs.push({ item, from: p, to: p + step });
      const there = copies[p + step] ?? -1;
      if (there < 0 || there > have + 1) copies[p + step] = have + 1;
    }
    for (let p = 0; p <= longest; p++) if ((copies[p] ?? -1) >= 0) reachable[p] = 1;
  }
  return arcs;
}

function gcd(a: number, b: number): number {
  let x = a;
  let y = b;
  while (y !== 0) [x, y] = [y, x % y];
  return x;
}
