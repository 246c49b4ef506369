/** The same comparison for the order several times over. */
import { money } from '../plan/measure.js';
import type { Batch, Offer } from '../terms.js';
import { choose } from './choose.js';
import type { Asking } from './question.js';
import { type Trials, tryScenarios } from './scenarios.js';
import type { Growth } from './types.js';
import { purchases } from './what-if.js';

/** One moulding's rails times this are more than a batch may hold: not tried. */
export function tooMany(batch: Batch, moulding: string, times: number, most: number): boolean {
  const rails = batch.frames
    .filter((line) => line.moulding === moulding)
    .reduce((sum, { shape, quantity }) => sum + quantity * (shape.kind === 'regular' ? shape.sides : 4), 0);
  return rails * times > most;
}

export function grown(moulding: string, offers: readonly Offer[], times: number, { tried }: Trials): Growth {
  const choice = choose(tried);
  const alone = tried.filter(({ kind, plan }) => kind === 'one' && plan !== null);
  const [bestAlone] = [...alone].sort((a, b) => a.plan!.cost - b.plan!.cost);
  return {
    times,
    status:
      choice !== null
        ? 'complete'
        : tried.some(({ short }) => short?.why === 'unknown')
          ? 'unknown'
          : 'short',
    offers: choice?.offers ?? [],
    buy: choice === null ? [] : purchases(moulding, offers, choice.best.used),
    cost: choice && money(choice.best.cost),
    bound: choice && money(choice.bound),
    costPerOrder: choice && Number((choice.best.cost / 100 / times).toFixed(4)),
    yield: choice?.best.figures?.yield ?? null,
    bestAlone: bestAlone?.offers[0] ?? null,
    scenarios: tried.map(({ offers: ids, kind, plan, bound }) => ({
      offers: ids,
      kind,
      status: plan === null ? 'short' : 'complete',
      cost: plan && money(plan.cost),
      bound: plan && money(bound),
    })),
  };
}

export function* grow(
  moulding: string,
  offers: readonly Offer[],
  lines: number,
  times: number,
): Asking<Growth> {
  return grown(moulding, offers, times, yield* tryScenarios({ moulding, offers, times, lines }));
}
