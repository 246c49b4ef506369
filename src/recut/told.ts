/** What has been cut so far, by a file or by the plan's order; refuses what cannot be. */

import { cuttingOrder, type WorkInHand } from '../documents/recut/work.js';
import { type InputProblem, PairstopError } from '../errors.js';
import { toNumber } from '../lengths/exact.js';
import { formatLength } from '../lengths/format.js';
import { tryParseLength } from '../lengths/parse.js';
import { umFromMm } from '../lengths/units.js';
import { show } from '../read/problems.js';
import type { Batch } from '../terms.js';
import { cutFromFlaws, type FoundFlaws, flawsTold, piecesTold, umSpans, workWith } from './flaws.js';
import { RailNames } from './names.js';
import type { Told } from './told-lines.js';

export interface SoFar {
  readonly cut: ReadonlySet<string>;
  readonly lost: ReadonlySet<string>;
}

/** A mishap as it is told. */
export interface MishapTold {
  readonly lost: readonly string[];
  readonly told: readonly Told[] | null;
  readonly flaws?: readonly Told[];
  readonly reuse?: readonly Told[];
}

const CUT_SO_FAR = '--cut-so-far';

const PROBLEMS_TOLD = 100;

function refuse(problems: readonly InputProblem[]): void {
  if (problems.length === 0) return;
  const listed = problems.slice(0, PROBLEMS_TOLD);
  const lines = listed.map(({ path, given, allowed }) => `${path}: given ${given}; allowed: ${allowed}`);
  const count = problems.length === 1 ? 'one problem' : `${problems.length} problems`;
  throw new PairstopError('PS_RECUT', `the recut is refused: ${count}\n${lines.join('\n')}`, listed);
}

const FORMS =
  'a rail of the plan ("A-101/3/top", or its tag), a frame ("A-101/3"), "through" and a rail, "stop" and a setting, or "stick" and a stick';

class ToldReader {
  readonly problems: InputProblem[] = [];
  readonly #order: readonly string[];
  readonly #at: ReadonlyMap<string, number>;
  readonly #batch: Batch;
  readonly #work: WorkInHand;
  /** Includes good rails cut before: they can be lost, but not cut again. */
  readonly #names: RailNames;

  constructor(batch: Batch, work: WorkInHand) {
    this.#batch = batch;
    this.#work = work;
    this.#names = new RailNames(batch, work);
    this.#order = cuttingOrder(work);
    this.#at = new Map(this.#order.map((rail, i) => [rail, i]));
  }

  through(rail: string): readonly string[] {
    return this.#order.slice(0, (this.#at.get(rail) ?? -1) + 1);
  }

  last(rails: Iterable<string>): string | null {
    let last = -1;
    for (const rail of rails) last = Math.max(last, this.#at.get(rail) ?? -1);
    return this.#order[last] ?? null;
  }

  /** The rails meant by an id, a tag or a frame; none, and a problem, where nothing has this name. */
  named(text: string, path: string): readonly string[] {
    const found = this.#names.of(text);
    if (found !== null) return found;
    const allowed = `a rail that this plan cuts, such as ${show(this.#order[0])}, its tag, or a whole frame`;
    this.problems.push({ path, given: show(text), allowed });
    return [];
  }

  /** Up to and including every cut at a setting; the last stop of that length in the order. */
  #stop({ path, text }: Told, given: string): readonly string[] {
    const { units, saw } = this.#batch;
    const length = tryParseLength(given, units);
    const written = (um: number): string => formatLength(um, units, saw.stopStep);
    const wanted = length === null ? null : written(Math.round(toNumber(length)));
    const stops = this.#work.mouldings.flatMap((part) => part.stops);
    const found = stops.findLast((stop) => written(umFromMm(stop.setting)) === wanted);
    if (found === undefined) {
      const settings = [...new Set(stops.map((stop) => written(umFromMm(stop.setting))))].join(', ');
      this.problems.push({ path, given: show(text), allowed: `a stop setting of the plan: ${settings}` });
      return [];
    }
    return this.through(found.pairs.at(-1)?.rails.at(-1) ?? '');
  }

  #stick({ path, text }: Told, given: string): readonly string[] {
    const sticks = this.#work.mouldings.flatMap((part) => part.sticks);
    const found = sticks.find(({ stick }) => stick === given);
    if (found === undefined) {
      this.problems.push({ path, given: show(text), allowed: 'a stick of the plan, such as "r17/1"' });
      return [];
    }
    return found.rails.map(({ rail }) => rail);
  }

  entry(told: Told): readonly string[] {
    const { text, path } = told;
    const named = this.#names.of(text);
    if (named !== null) return named;
    const [, word = '', rest = ''] = /^(through|stop|stick)\s+(.+)$/.exec(text) ?? [];
    switch (word) {
      case 'through':
        return this.through(this.last(this.named(rest, path)) ?? '');
      case 'stop':
        return this.#stop(told, rest);
      case 'stick':
        return this.#stick(told, rest);
      default:
        this.problems.push({ path, given: show(text), allowed: FORMS });
        return [];
    }
  }

  /** A stick is cut from its left end: everything to the left of a cut rail, up to a flaw, is cut too. */
  fromTheLeft(cut: ReadonlySet<string>, found: FoundFlaws = new Map()): void {
    const known = new Map(this.#batch.sticks.map((entry) => [entry.id, entry.flaws]));
    for (const { stick, source, ref, rails, flaws } of this.#work.mouldings.flatMap((part) => part.sticks)) {
      const ends = [
        ...(source === 'rack' ? (known.get(ref) ?? []) : []),
        ...umSpans(flaws),
        ...(found.get(stick) ?? []),
      ];
      const laneOf = (start: number): number => ends.filter(([from]) => from <= umFromMm(start)).length;
      const open = new Map<number, string>();
      for (const { rail, start } of rails.toSorted((a, b) => a.start - b.start)) {
        const lane = laneOf(start);
        const before = open.get(lane);
        if (!cut.has(rail)) open.set(lane, before ?? rail);
        else if (before !== undefined) {
          this.problems.push({
            path: CUT_SO_FAR,
            given: `${show(rail)} as cut but not ${show(before)}, left of it on ${stick}`,
            allowed: 'cuts from the left end of a stick on',
          });
        }
      }
    }
  }
}

/**
 * Without `told`, everything up to the last lost rail in the plan's order has been cut. With `told`, what it says and the
 * lost rails. A rail that is cut and has a flaw in it is lost too. `work`: with what was found. Throws PS_RECUT listing
 * everything that does not fit.
 */
export function soFarOf(
  batch: Batch,
  work: WorkInHand,
  { lost, told, flaws = [], reuse = [] }: MishapTold,
): SoFar & { readonly work: WorkInHand } {
  const reading = new ToldReader(batch, work);
  if (work.batch !== batch.id) {
    const allowed = `the plan of this batch, ${show(batch.id)}`;
    refuse([{ path: 'plan', given: `the plan of ${show(work.batch)}`, allowed }]);
  }
  if (lost.length === 0 && flaws.length === 0) {
    refuse([
      { path: '--lost', given: 'nothing', allowed: 'the rails that were lost, or a flaw found: --flaw' },
    ]);
  }
  if (lost.length === 0 && told === null) {
    const allowed = 'with a flaw alone, what has been cut: --cut-so-far FILE, or --cut-so-far nothing';
    refuse([{ path: CUT_SO_FAR, given: 'nothing', allowed }]);
  }
  const known = new Set(lost.flatMap((text) => reading.named(text, '--lost')));
  const cut = new Set(known);
  const last = reading.last(known);
  const rails =
    told === null ? (last === null ? [] : reading.through(last)) : told.flatMap((one) => reading.entry(one));
  for (const rail of rails) cut.add(rail);
  const found = flawsTold(batch, work, flaws, reading.problems);
  if (reading.problems.length === 0) reading.fromTheLeft(cut, found);
  for (const rail of cutFromFlaws(work, found, cut)) {
    known.add(rail);
    cut.add(rail);
  }
  const named = (text: string, path: string): readonly string[] => reading.named(text, path);
  const pieces = piecesTold(batch, work, reuse, { lost: known, named, found }, reading.problems);
  refuse(reading.problems);
  return { cut, lost: known, work: workWith(work, found, pieces) };
}

/** What has been cut, spoiled rails included; `told` null: everything. Throws PS_RECUT. */
export function railsTold(
  batch: Batch,
  work: WorkInHand,
  told: readonly Told[] | null,
  spoiled: readonly string[],
): SoFar {
  const reading = new ToldReader(batch, work);
  const lost = new Set(spoiled.flatMap((text) => reading.named(text, '--spoiled')));
  const rails = told === null ? cuttingOrder(work) : told.flatMap((one) => reading.entry(one));
  const cut = new Set([...lost, ...rails]);
  if (reading.problems.length === 0) reading.fromTheLeft(cut);
  refuse(reading.problems);
  return { cut, lost };
}
