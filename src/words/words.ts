/** How lengths, rails and proofs of one batch are put into words. */

import { lineOfFrame } from '../documents/ids.js';
import type { PlacedRail, PlanProof, WhyUnplanned } from '../documents/plan/types.js';
import { joined } from '../documents/rack/flaws.js';
import { formatLength } from '../lengths/format.js';
import { umFromMm } from '../lengths/units.js';
import type { Batch, RackEntry, Um } from '../terms.js';
import { percent, STUCK } from '../text/page.js';
import { Costs } from './costs.js';

const UM_PER_FOOT = 304_800;
const UM_PER_METRE = 1_000_000;

/** Why a moulding has no plan, in one line. */
export function notPlannedText(moulding: string, { code, message }: WhyUnplanned): string {
  return `${moulding}: could not be planned, ${code}: ${message}`;
}

interface FlawedStick {
  readonly source: 'rack' | 'offer';
  readonly ref: string;
  readonly length: number;
  /** Millimetres. */
  readonly flaws?: readonly (readonly [number, number])[] | undefined;
}

export class Words {
  readonly costs: Costs;
  readonly #batch: Batch;
  readonly #matchedWhole: ReadonlySet<string>;
  readonly #sides: ReadonlyMap<string, number>;
  readonly #flaws: ReadonlyMap<string, RackEntry['flaws']>;

  constructor(batch: Batch) {
    this.costs = new Costs(batch, this);
    this.#batch = batch;
    this.#sides = new Map(
      batch.frames.flatMap(({ id, shape }) => (shape.kind === 'regular' ? [[id, shape.sides] as const] : [])),
    );
    this.#flaws = new Map(batch.sticks.map((entry) => [entry.id, entry.flaws]));
    this.#matchedWhole = new Set(batch.frames.flatMap((line) => (line.match === 'frame' ? [line.id] : [])));
  }

  /** A length on the stop's scale. */
  length(um: Um): string {
    return formatLength(um, this.#batch.units, this.#batch.saw.stopStep).replaceAll(' ', STUCK);
  }

  /** A length read off a tape, to the nearest mark. */
  tape(um: Um): string {
    return formatLength(um, this.#batch.units).replaceAll(' ', STUCK);
  }

  /** A stick as it is ordered: in feet where it is whole feet. */
  stock(um: Um): string {
    return this.#batch.units === 'in' && um % UM_PER_FOOT === 0 ? `${um / UM_PER_FOOT}'` : this.tape(um);
  }

  /** A length to be carried or paid for, not measured. */
  long(um: Um): string {
    const [size, unit] = this.#batch.units === 'in' ? [UM_PER_FOOT, 'ft'] : [UM_PER_METRE, 'm'];
    return `${(um / size).toFixed(unit === 'ft' ? 1 : 2)}${STUCK}${unit}`;
  }

  /** Those of the batch, and in a recut those found at the saw, from the left; where they meet, as one. */
  flawsOn({ source, ref, length, flaws = [] }: FlawedStick): RackEntry['flaws'] {
    const known = source === 'rack' ? (this.#flaws.get(ref) ?? []) : [];
    const found = flaws.map(([from, to]) => [umFromMm(from), umFromMm(to)] as const);
    return joined([...known, ...found], umFromMm(length));
  }

  setting(mm: number): string {
    return this.length(umFromMm(mm));
  }

  /** Whether a rail of this length, in millimetres, is too short to hold. */
  clamped(mm: number): boolean {
    return umFromMm(mm) < this.#batch.saw.clampBelow;
  }

  rail(rail: PlacedRail): string {
    return this.setting(rail.length) + (this.clamped(rail.length) ? '*' : '');
  }

  /** How many sides the frames of an order line have. */
  sides(line: string): number {
    return this.#sides.get(line) ?? 4;
  }

  /** Whether the frame copy `id/copy` is matched all round. */
  wholeFrame(frame: string): boolean {
    return this.#matchedWhole.has(lineOfFrame(frame));
  }

  /** Of a moulding. `merged`: the settings were chosen among several, and the proof holds only for the chosen ones. */
  proof(moulding: string, proof: PlanProof, merged = false): string {
    const plan = merged ? 'no plan with these settings' : 'no plan';
    const cost = proof.measure === 'cost';
    switch (proof.status) {
      case 'optimal':
        return `proven: ${plan} ${cost ? this.costs.less(moulding) : 'uses less of the rack'}`;
      case 'within': {
        const gap = percent((proof.value - proof.bound) / proof.value, 2);
        const bound = cost ? this.costs.of(moulding, proof.bound) : this.setting(proof.bound);
        return `within ${gap} of the proven bound, ${bound}`;
      }
      case 'unproven':
        return 'not proven to be the least';
    }
  }
}
