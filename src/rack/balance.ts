/** The balance of wood: to the micrometre, each moulding for itself. */
import type { Um } from '../terms.js';
import type { Present } from './sum.js';
import { lyingOf, NO_WOOD, type WoodAccount } from './terms.js';

export interface WoodBalance extends WoodAccount {
  readonly moulding: string;
  /** Of what lies there: left over from cutting. */
  readonly offcuts: Um;
  /** What is missing in the sum; 0 where it balances. */
  readonly off: Um;
}

/** What lies there is counted piece by piece, not taken from the books. */
export function balancesOf({ pieces, wood }: Present): readonly WoodBalance[] {
  const lying = new Map<string, Um>();
  const offcuts = new Map<string, Um>();
  for (const shelved of pieces.values()) {
    const { moulding, from } = shelved.piece;
    const length = lyingOf(shelved);
    lying.set(moulding, (lying.get(moulding) ?? 0) + length);
    if (from.kind === 'offcut') offcuts.set(moulding, (offcuts.get(moulding) ?? 0) + length);
  }
  const mouldings = [...new Set([...wood.keys(), ...lying.keys()])].sort();
  return mouldings.map((moulding) => {
    const account = wood.get(moulding) ?? NO_WOOD;
    const there = lying.get(moulding) ?? 0;
    const { came, rails, waste, gone } = account;
    return {
      moulding,
      ...account,
      lying: there,
      offcuts: offcuts.get(moulding) ?? 0,
      off: came - rails - waste - gone - there,
    };
  });
}
