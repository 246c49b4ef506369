/** How a breach is written down: a plan that holds, what is done to it, and the rule and place the checker must name. */
import type { CheckCode } from '../../src/check/rules.js';
import type { Plan } from '../../src/documents/plan/types.js';
import type { Draft } from './spoil-build.js';
import type { CaseName } from './spoil-plans.js';

type DraftPlan = Draft<Plan>;
export type DraftPart = DraftPlan['mouldings'][number];
export type DraftStick = DraftPart['sticks'][number];

export interface Spoil {
  readonly rule: CheckCode;
  readonly plan: CaseName;
  readonly what: string;
  /** Where a finding must point. */
  readonly at: string;
  readonly spoil: (plan: DraftPlan) => void;
}

/** A spoil by its moulding, the first one. */
export function part(
  rule: CheckCode,
  plan: CaseName,
  what: string,
  at: string,
  spoil: (part: DraftPart, plan: DraftPlan) => void,
): Spoil {
  const path = at === '' ? 'mouldings[0]' : `mouldings[0].${at}`;
  return { rule, plan, what, at: path, spoil: (whole) => spoil(whole.mouldings[0]!, whole) };
}

export function whole(
  rule: CheckCode,
  plan: CaseName,
  what: string,
  at: string,
  spoil: (plan: DraftPlan) => void,
): Spoil {
  return { rule, plan, what, at, spoil };
}

export function rails(piece: DraftPart, stick = 0): DraftStick['rails'] {
  return piece.sticks[stick]!.rails;
}

/** Moves rails from index `from` on along their stick. */
export function shift(piece: DraftPart, stick: number, from: number, by: number): void {
  for (const rail of rails(piece, stick).slice(from))
    rail.start = Math.round((rail.start + by) * 1000) / 1000;
}

export function rename(rail: DraftStick['rails'][number], frame: string, side: string): void {
  Object.assign(rail, { rail: `${frame}/${side}`, frame, side });
}

/** Two rails change places on paper: equal lengths, so only their names move. */
export function swap(a: DraftStick['rails'][number], b: DraftStick['rails'][number]): void {
  const [frame, side] = [a.frame, a.side];
  rename(a, b.frame, b.side);
  rename(b, frame, side);
}

/** Puts a stick's rails in another order, long points `gap` apart from where the first one stood. */
export function arrange(piece: DraftPart, stick: number, order: readonly number[], gap: number): void {
  const row = rails(piece, stick);
  let at = row[0]!.start;
  const turned = order.map((index) => row[index]!);
  for (const rail of turned) {
    rail.start = Math.round(at * 1000) / 1000;
    at += rail.length + gap;
  }
  piece.sticks[stick]!.rails = turned;
}
