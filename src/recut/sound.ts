/** Whether an earlier recut, from which the work goes on, holds against its batch: wood, blade, stock and every rail. */

import { Settings } from '../check/settings.js';
import { jointOf, mitre } from '../check/wood/geometry.js';
import { copyOf, lineOfFrame, railId, refOfStick } from '../documents/ids.js';
import type { PlacedRail } from '../documents/plan/types.js';
import type { Recut, RecutStick } from '../documents/recut/types.js';
import { umFromMm } from '../lengths/units.js';
import { sidesOf } from '../rails/rails.js';
import { type Batch, type FrameLine, type Moulding, RAW_ENDS } from '../terms.js';
import { ringOf } from './units.js';

class SoundRecut {
  readonly wrong: string[] = [];
  readonly #batch: Batch;
  readonly #lines: ReadonlyMap<string, number>;
  readonly #settings: Settings;

  constructor(batch: Batch) {
    this.#batch = batch;
    this.#lines = new Map(batch.frames.map((line, i) => [line.id, i]));
    this.#settings = new Settings(batch);
  }

  #lineOf(rail: PlacedRail): number {
    return this.#lines.get(lineOfFrame(rail.frame)) ?? -1;
  }

  rail(rail: PlacedRail, moulding: Moulding): FrameLine | null {
    const index = this.#lineOf(rail);
    const line = this.#batch.frames[index];
    const copy = copyOf(rail.frame);
    const known =
      line !== undefined &&
      line.moulding === moulding.id &&
      ringOf(line).includes(rail.side) &&
      rail.rail === railId(rail.frame, rail.side) &&
      copy >= 1 &&
      copy <= line.quantity;
    const size = line?.shape.kind === 'rectangle' && ['left', 'right'].includes(rail.side) ? 1 : 0;
    const right =
      known &&
      (moulding.reversible || !rail.flipped) &&
      this.#settings.allows(index, size, moulding, umFromMm(rail.length));
    if (!right) this.wrong.push(`rail "${rail.rail}" is not one of this batch, or not as long as it must be`);
    return right ? line : null;
  }

  stick(stick: RecutStick, moulding: Moulding, pieces: number): void {
    const { batch } = { batch: this.#batch };
    const entry =
      stick.source === 'rack'
        ? batch.sticks.find(({ id }) => id === stick.ref)
        : batch.offers.find(({ id }) => id === stick.ref);
    const copy = refOfStick(stick.stick) === stick.ref ? copyOf(stick.stick) : 0;
    const there = copy >= 1 && copy <= pieces;
    if (entry?.moulding !== moulding.id || entry.length !== umFromMm(stick.length) || !there) {
      this.wrong.push(`stick "${stick.stick}" is not one of this batch`);
      return;
    }
    const flaws = 'flaws' in entry ? entry.flaws : [];
    const trims = ('ends' in entry ? entry.ends : RAW_ENDS).map((end) =>
      end === 'raw' ? moulding.endTrim : Math.min(moulding.endTrim, batch.saw.recut),
    );
    const [first, last] = [trims[0]!, entry.length - trims[1]!];
    const stands = [...stick.cut, ...stick.lost, ...stick.rails].flatMap((rail) => {
      const line = this.rail(rail, moulding);
      if (line === null) return [];
      const start = umFromMm(rail.start);
      const end = start + umFromMm(rail.length);
      const inFlaw = flaws.some(([from, to]) => start < to && end > from);
      if (start < first || end > last || inFlaw)
        this.wrong.push(`"${rail.rail}" has no wood on ${stick.stick}`);
      const angle = mitre(sidesOf(line), batch.saw.kerf, moulding.face);
      return [{ id: rail.rail, start, end, flipped: rail.flipped, mitre: angle }];
    });
    stands.sort((a, b) => a.start - b.start);
    for (const [i, right] of stands.entries()) {
      const left = stands[i - 1];
      if (left !== undefined && jointOf(left, right, batch.saw.recut) !== 'sound') {
        this.wrong.push(`"${left.id}" and "${right.id}" on ${stick.stick} have no room for the blade`);
      }
    }
  }

  /** Every rail of a frame once, or none of the frame; every rail to cut at one stop. */
  rails(recut: Recut): void {
    const seen = new Map<string, Set<string>>();
    const toCut = new Map<string, PlacedRail>();
    for (const { sticks } of recut.mouldings) {
      for (const { cut, rails } of sticks) {
        for (const rail of [...cut, ...rails]) {
          const sides = seen.get(rail.frame) ?? new Set();
          if (sides.has(rail.side)) this.wrong.push(`"${rail.rail}" twice`);
          seen.set(rail.frame, sides.add(rail.side));
        }
        for (const rail of rails) toCut.set(rail.rail, rail);
      }
    }
    for (const [frame, sides] of seen) {
      const line = this.#batch.frames[this.#lines.get(lineOfFrame(frame)) ?? -1];
      if (line !== undefined && sides.size !== sidesOf(line)) this.wrong.push(`frame "${frame}" lacks rails`);
    }
    for (const { stops } of recut.mouldings) {
      for (const stop of stops) {
        for (const id of stop.pairs.flatMap(({ rails }) => rails)) {
          const length = toCut.get(id)?.length;
          const right = length !== undefined && (length === stop.setting || length === stop.second);
          if (!right || !toCut.delete(id)) this.wrong.push(`"${id}" is not cut at ${stop.setting} mm`);
        }
      }
    }
    for (const id of toCut.keys()) this.wrong.push(`"${id}" is cut at no stop`);
  }
}

/** What is wrong with a whole recut; empty when it holds. */
export function unsound(batch: Batch, recut: Recut): readonly string[] {
  const sound = new SoundRecut(batch);
  const mouldings = new Map(batch.mouldings.map((moulding) => [moulding.id, moulding]));
  const bought = new Map<string, number>();
  for (const { offer, count } of [...recut.bought, ...recut.buy]) {
    bought.set(offer, (bought.get(offer) ?? 0) + count);
  }
  const rack = new Map(batch.sticks.map((entry) => [entry.id, entry.quantity]));
  const names = new Set<string>();
  for (const part of recut.mouldings) {
    const moulding = mouldings.get(part.moulding);
    if (moulding === undefined) {
      sound.wrong.push(`moulding "${part.moulding}" is not one of this batch`);
      continue;
    }
    for (const stick of part.sticks) {
      const key = `${stick.source} ${stick.stick}`;
      if (names.has(key)) sound.wrong.push(`stick "${stick.stick}" twice`);
      names.add(key);
      const pieces = (stick.source === 'rack' ? rack : bought).get(stick.ref) ?? 0;
      sound.stick(stick, moulding, pieces);
    }
  }
  sound.rails(recut);
  return sound.wrong;
}
