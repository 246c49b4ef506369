/**
 * Batches planned as one: each has its own lines and rails, the shares of the cost add up to the cent, and nobody pays
 * more than alone. What a batch costs alone cannot be checked without planning; that the shares follow from it can.
 */
import type {
  CostAlone,
  PlannedBatch,
  PlanPooling,
  PooledMoulding,
  PoolSaving,
  ShareOfMoulding,
} from '../documents/plan/pooled.js';
import type { Batch, Cents, PooledBatch, Um } from '../terms.js';
import type { Context } from './context.js';
import type { CheckedPart } from './frames.js';
import { centsOf, mm, umOf } from './numbers.js';

/** Micrometres by order line and moulding, from the sticks themselves. */
function railsByLine({ plan }: Context): ReadonlyMap<string, Um> {
  const rails = new Map<string, Um>();
  for (const { sticks } of plan.mouldings) {
    for (const stick of sticks) {
      for (const { frame, length } of stick.rails) {
        const line = frame.slice(0, Math.max(0, frame.lastIndexOf('/')));
        rails.set(line, (rails.get(line) ?? 0) + umOf(length));
      }
    }
  }
  return rails;
}

type PoolValue = string | number | boolean | null | undefined;

interface OwnFrames {
  frames: number;
  readonly missing: string[];
  rails: Um;
}

class PoolCheck {
  readonly #on: Context;
  readonly #batch: Batch;
  readonly #rails: ReadonlyMap<string, Um>;
  readonly #missing = new Map<string, string[]>();

  constructor(on: Context) {
    this.#on = on;
    this.#batch = on.batch;
    this.#rails = railsByLine(on);
    for (const { frames } of on.plan.shortfall) {
      for (const frame of frames) {
        const line = frame.slice(0, Math.max(0, frame.lastIndexOf('/')));
        this.#missing.set(line, [...(this.#missing.get(line) ?? []), frame]);
      }
    }
  }

  #add(
    code: 'CHECK_POOL' | 'CHECK_SHARE' | 'CHECK_SAVED',
    path: string,
    found: PoolValue,
    holds: PoolValue,
  ): void {
    const text = (value: PoolValue): string => (value === '' || value === undefined ? 'none' : `${value}`);
    this.#on.findings.add(code, path, text(found), text(holds));
  }

  /** What the batch has of a moulding, or of all where none is named. */
  #counted(own: PooledBatch, moulding: string | null): OwnFrames {
    const lines = new Set(own.lines.map(({ frame }) => frame));
    const counted: OwnFrames = { frames: 0, missing: [], rails: 0 };
    for (const line of this.#batch.frames) {
      if (!lines.has(line.id) || (moulding !== null && line.moulding !== moulding)) continue;
      counted.frames += line.quantity;
      counted.missing.push(...(this.#missing.get(line.id) ?? []));
      counted.rails += this.#rails.get(line.id) ?? 0;
    }
    return counted;
  }

  #same(
    path: string,
    found: { readonly frames: number; readonly made: number; readonly railLength: number },
    due: OwnFrames,
  ): void {
    if (found.frames !== due.frames) this.#add('CHECK_POOL', `${path}.frames`, found.frames, due.frames);
    const made = due.frames - due.missing.length;
    if (found.made !== made) this.#add('CHECK_POOL', `${path}.made`, found.made, made);
    if (umOf(found.railLength) !== due.rails) {
      this.#add('CHECK_POOL', `${path}.railLength`, found.railLength, mm(due.rails));
    }
  }

  alone(path: string, found: CostAlone | null, due: CostAlone | null): void {
    if (found?.cost === due?.cost && found?.bound === due?.bound) return;
    this.#add('CHECK_SAVED', path, found?.cost ?? 'none', due?.cost ?? 'null, as not all is known alone');
  }

  saving(
    path: string,
    found: PoolSaving | null,
    cost: number,
    alone: { cost: number; bound: number } | null,
  ): void {
    if (alone === null) {
      if (found !== null) this.#add('CHECK_SAVED', path, found.value, 'null, as not all is known alone');
      return;
    }
    const cents = (money: number): Cents => Math.round(money * 100);
    const value = (cents(alone.cost) - cents(cost)) / 100;
    const least = (cents(alone.bound) - cents(cost)) / 100;
    if (found?.value !== value) this.#add('CHECK_SAVED', `${path}.value`, found?.value, value);
    if (found?.least !== least) this.#add('CHECK_SAVED', `${path}.least`, found?.least, least);
  }

  batch(part: PlannedBatch, at: number): void {
    const own = this.#batch.batches[at];
    const path = `batches[${at}]`;
    if (
      own === undefined ||
      part.batch !== own.id ||
      JSON.stringify(part.lines) !== JSON.stringify(own.lines)
    ) {
      this.#add('CHECK_POOL', path, `"${part.batch}"`, `"${own?.id ?? 'none'}" with its own lines`);
      return;
    }
    if ((part.due ?? null) !== own.due) this.#add('CHECK_POOL', `${path}.due`, part.due, own.due);
    const due = this.#counted(own, null);
    this.#same(path, part, due);
    if (JSON.stringify([...part.missing].sort()) !== JSON.stringify([...due.missing].sort())) {
      this.#add('CHECK_POOL', `${path}.missing`, part.missing.join(', '), due.missing.join(', '));
    }
    const late = own.due !== null && due.missing.length > 0;
    if (part.late !== late) this.#add('CHECK_POOL', `${path}.late`, part.late, late);
    const sum = part.mouldings.reduce((all, { share }) => all + centsOf(share), 0);
    if (centsOf(part.share) !== sum) this.#add('CHECK_SHARE', `${path}.share`, part.share, sum / 100);
    const known =
      due.missing.length === 0 && part.mouldings.every(({ alone, frames }) => alone?.made === frames);
    const alone = (of: 'cost' | 'bound'): number =>
      part.mouldings.reduce((all, one) => all + Math.round((one.alone?.[of] ?? 0) * 100), 0) / 100;
    const both = known ? { cost: alone('cost'), bound: alone('bound') } : null;
    this.alone(`${path}.alone`, part.alone, both);
    this.saving(`${path}.saved`, part.saved, part.share, both);
    part.mouldings.forEach((share, m) => {
      this.#same(`${path}.mouldings[${m}]`, share, this.#counted(own, share.moulding));
    });
  }

  /** Of each batch that orders something of the moulding. */
  shares(moulding: string): readonly { readonly batch: string; readonly share: ShareOfMoulding }[] {
    return (this.#on.plan.batches ?? []).flatMap(({ batch, mouldings }) =>
      mouldings.filter((share) => share.moulding === moulding).map((share) => ({ batch, share })),
    );
  }

  moulding(part: PooledMoulding, at: number, cost: Cents): void {
    const path = `pooling.mouldings[${at}]`;
    const shares = this.shares(part.moulding);
    const sum = shares.reduce((all, { share }) => all + centsOf(share.share), 0);
    if (centsOf(part.cost) !== cost) this.#add('CHECK_SHARE', `${path}.cost`, part.cost, cost / 100);
    if (sum !== cost) this.#add('CHECK_SHARE', path, `shares of ${sum / 100}`, cost / 100);
    for (const { batch, share } of shares) this.#limit(`${path} of "${batch}"`, part, share);
    if (part.rule !== 'core') this.#proportion(path, part, shares);
    part.coalitions.forEach(({ batches, cost: most, bound, pays }, c) => {
      const due = shares.reduce(
        (all, { batch, share }) => all + (batches.includes(batch) ? centsOf(share.share) : 0),
        0,
      );
      const here = `${path}.coalitions[${c}]`;
      if (centsOf(pays) !== due) this.#add('CHECK_SHARE', `${here}.pays`, pays, due / 100);
      if (bound > most) this.#add('CHECK_SHARE', `${here}.bound`, bound, `at most ${most}`);
      if (part.core === 'within' && pays > most)
        this.#add('CHECK_SHARE', `${here}.pays`, pays, `at most ${most}`);
    });
    const whole = shares.every(
      ({ share }) => share.alone?.made === share.frames && share.made === share.frames,
    );
    const alone = (of: 'cost' | 'bound'): number =>
      shares.reduce((all, { share }) => all + Math.round((share.alone?.[of] ?? 0) * 100), 0) / 100;
    const both = whole ? { cost: alone('cost'), bound: alone('bound') } : null;
    this.alone(`${path}.alone`, part.alone, both);
    this.saving(`${path}.saved`, part.saved, part.cost, both);
  }

  #limit(path: string, { core }: PooledMoulding, { share, limit, alone, frames }: ShareOfMoulding): void {
    const known: readonly (number | null)[] =
      alone !== null && alone.made === frames ? [alone.cost, alone.bound] : [null];
    if (!known.includes(limit)) this.#add('CHECK_SHARE', `${path}.limit`, limit, known.join(' or '));
    if (alone !== null && alone.bound > alone.cost) {
      this.#add('CHECK_SHARE', `${path}.alone.bound`, alone.bound, `at most ${alone.cost}`);
    }
    if (core !== 'empty' && limit !== null && share > limit) {
      this.#add('CHECK_SHARE', `${path}.share`, share, `at most ${limit}, its cost alone`);
    }
  }

  /** Everyone pays the same a length, to the cent, or his limit where that is less. */
  #proportion(
    path: string,
    { core, rule }: PooledMoulding,
    shares: readonly { readonly batch: string; readonly share: ShareOfMoulding }[],
  ): void {
    if (core === 'empty') return;
    const capped = (one: ShareOfMoulding): boolean =>
      rule === 'limited' && one.limit !== null && centsOf(one.share) === centsOf(one.limit);
    const free = shares.filter(({ share }) => !capped(share) && share.railLength > 0);
    const level = Math.min(...free.map(({ share }) => (centsOf(share.share) + 1) / umOf(share.railLength)));
    for (const { batch, share } of shares) {
      if (share.railLength === 0 || free.length === 0) continue;
      const least = (centsOf(share.share) - 1) / umOf(share.railLength);
      if (least > level * (1 + 1e-12)) {
        this.#add('CHECK_SHARE', `${path} of "${batch}"`, share.share, 'in proportion to rail length');
      }
    }
  }
}

export function checkPool(on: Context, entries: ReadonlyMap<string, CheckedPart>): void {
  const { batch, plan, findings } = on;
  const { batches = [], pooling } = plan;
  if (batches.length !== batch.batches.length || (pooling === undefined) !== (batches.length === 0)) {
    findings.add('CHECK_POOL', 'batches', `${batches.length}`, `the ${batch.batches.length} of the batch`);
    return;
  }
  if (pooling === undefined) return;
  const check = new PoolCheck(on);
  for (const [at, part] of batches.entries()) check.batch(part, at);
  const ordered = new Set(batch.frames.map(({ moulding }) => moulding));
  const named = new Set(pooling.mouldings.map(({ moulding }) => moulding));
  if (named.size !== pooling.mouldings.length || named.size !== ordered.size) {
    findings.add('CHECK_POOL', 'pooling.mouldings', `${named.size}`, `${ordered.size}, each once`);
  }
  for (const [at, part] of pooling.mouldings.entries()) {
    check.moulding(part, at, entries.get(part.moulding)?.cost ?? 0);
  }
  checkSum(check, pooling);
  if (centsOf(pooling.cost) !== centsOf(plan.totals.cost)) {
    findings.add('CHECK_SHARE', 'pooling.cost', `${pooling.cost}`, `${plan.totals.cost}`);
  }
}

/** What pooling saved in all is what it saved in each moulding. */
function checkSum(check: PoolCheck, { mouldings, cost, alone, saved }: PlanPooling): void {
  const whole = mouldings.every((part) => part.alone !== null);
  const sum = (of: 'cost' | 'bound'): number =>
    mouldings.reduce((all, part) => all + Math.round((part.alone?.[of] ?? 0) * 100), 0) / 100;
  const both = whole ? { cost: sum('cost'), bound: sum('bound') } : null;
  check.alone('pooling.alone', alone, both);
  check.saving('pooling.saved', saved, cost, both);
}
