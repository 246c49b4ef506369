/** Flaws found at the saw, and spoiled rails whose sound wood is used again: what is told of them, as facts of the work. */

import type { PlacedRail } from '../documents/plan/types.js';
import { joined } from '../documents/rack/flaws.js';
import type { FoundFlaw, ReusedPiece } from '../documents/recut/types.js';
import type { WorkInHand, WorkStick } from '../documents/recut/work.js';
import type { InputProblem } from '../errors.js';
import { needUm, supplyUm } from '../lengths/exact.js';
import { tryParseLength } from '../lengths/parse.js';
import { tryParseSpan } from '../lengths/span.js';
import { mmFromUm, umFromMm } from '../lengths/units.js';
import { bladeUm } from '../rails/mitre.js';
import { tagsOf } from '../rails/tags.js';
import { show } from '../read/problems.js';
import type { Batch, RackEntry, Um } from '../terms.js';
import type { Told } from './told-lines.js';

/** Micrometres, from the left end of the stick. */
type FlawSpan = readonly [from: Um, to: Um];

/** By the stick's id. */
export type FoundFlaws = ReadonlyMap<string, readonly FlawSpan[]>;

const FLAW_FORMS =
  'a stick of the plan, a colon, and from where to where the flaw lies, measured from the left end as the plan draws it, as in "r17/1:20-23 1/2"; or "r17/1:3-6 1/2 from the right"';

function stickNamed(sticks: readonly WorkStick[], name: string): WorkStick | null {
  const exact = sticks.find(({ stick }) => stick === name);
  if (exact !== undefined) return exact;
  // A rack piece of which there is one is called by its own id.
  const [only, ...more] = sticks.filter(({ ref }) => ref === name);
  return only !== undefined && more.length === 0 ? only : null;
}

function sticksOf({ mouldings }: WorkInHand): readonly WorkStick[] {
  return mouldings.flatMap(({ sticks }) => sticks);
}

/** What is wrong goes to `problems`. */
export function flawsTold(
  batch: Batch,
  work: WorkInHand,
  told: readonly Told[],
  problems: InputProblem[],
): FoundFlaws {
  const sticks = sticksOf(work);
  const flaws = new Map<string, FlawSpan[]>();
  for (const { path, text } of told) {
    const refuse = (allowed: string): number => problems.push({ path, given: show(text), allowed });
    const [, name = '', where = '', right = ''] =
      /^(.*):([^:]*?)(\s+from\s+(?:the\s+)?right)?$/.exec(text) ?? [];
    const stick = stickNamed(sticks, name.trim());
    const span = tryParseSpan(where.trim(), batch.units);
    if (stick === null || span === null) {
      refuse(
        stick === null && span !== null
          ? `${FLAW_FORMS}; a stick such as ${show(sticks[0]?.stick)}`
          : FLAW_FORMS,
      );
      continue;
    }
    const length = umFromMm(stick.length);
    const [from, to] = right === '' ? span : [length - span[1], length - span[0]];
    if (from < 0 || to > length) {
      refuse(`a flaw within the stick, which is ${mmFromUm(length)} mm long`);
      continue;
    }
    flaws.set(stick.stick, [...(flaws.get(stick.stick) ?? []), [from, to]]);
  }
  return flaws;
}

export function umSpans(flaws: readonly FoundFlaw[]): readonly FlawSpan[] {
  return flaws.map(([from, to]) => [umFromMm(from), umFromMm(to)] as const);
}

export function touches(flaws: readonly FlawSpan[], from: Um, to: Um): boolean {
  return flaws.some((flaw) => from < flaw[1] && to > flaw[0]);
}

function railTouches(flaws: readonly FlawSpan[], { start, length }: PlacedRail): boolean {
  return touches(flaws, umFromMm(start), umFromMm(start + length));
}

/** Rails that are cut and have one of these flaws in them. */
export function cutFromFlaws(
  work: WorkInHand,
  found: FoundFlaws,
  cut: ReadonlySet<string>,
): readonly string[] {
  return sticksOf(work).flatMap(({ stick, cut: before, rails }) => {
    const flaws = found.get(stick) ?? [];
    const sawn = [...before, ...rails.filter(({ rail }) => cut.has(rail))];
    return sawn.filter((rail) => railTouches(flaws, rail)).map(({ rail }) => rail);
  });
}

/** The work with these flaws on its sticks, and these pieces beside them. */
export function workWith(work: WorkInHand, found: FoundFlaws, pieces: readonly ReusedPiece[]): WorkInHand {
  return {
    ...work,
    reused: [...work.reused, ...pieces],
    mouldings: work.mouldings.map((part) => ({
      ...part,
      sticks: [
        ...part.sticks.map((stick) => {
          const more = found.get(stick.stick);
          if (more === undefined) return stick;
          const all = joined([...umSpans(stick.flaws), ...more], umFromMm(stick.length));
          return { ...stick, flaws: all.map(([from, to]) => [mmFromUm(from), mmFromUm(to)] as const) };
        }),
        ...pieces
          .filter(({ moulding }) => moulding === part.moulding)
          .map(({ id, length, stick }): WorkStick => {
            const run = part.sticks.find((one) => one.stick === stick)?.run;
            return {
              stick: `${id}/1`,
              source: 'rack',
              ref: id,
              length,
              run,
              flaws: [],
              cut: [],
              lost: [],
              rails: [],
            };
          }),
      ],
    })),
  };
}

/** The pieces as entries of the rack: what is cut from them first, as they would be thrown away. */
export function reusedEntries(reused: readonly ReusedPiece[]): readonly RackEntry[] {
  return reused.map(({ id, moulding, length, ends, flaws }) => ({
    id,
    moulding,
    length: umFromMm(length),
    quantity: 1,
    ends,
    flaws: umSpans(flaws),
    value: null,
  }));
}

const REUSE_FORMS = 'a lost rail, or a lost rail and how long its sound wood is, as in "A3T=14 1/2"';

/**
 * Pieces made of spoiled rails. Where nobody says how much of one is sound, a blade's width, or a step of the stop where
 * that is more, is cut off each end: it is then shorter than the rail that it no longer is.
 */
export function piecesTold(
  batch: Batch,
  work: WorkInHand,
  told: readonly Told[],
  {
    lost,
    named,
    found,
  }: {
    readonly lost: ReadonlySet<string>;
    readonly named: (text: string, path: string) => readonly string[];
    readonly found: FoundFlaws;
  },
  problems: InputProblem[],
): readonly ReusedPiece[] {
  const tags = tagsOf(batch);
  const taken = new Set([...batch.sticks, ...batch.offers, ...work.reused].map(({ id }) => id));
  const places = new Map(
    work.mouldings.flatMap(({ moulding, sticks }) =>
      sticks.flatMap((stick) =>
        [...stick.cut, ...stick.rails].map((rail) => [rail.rail, { moulding, stick, rail }] as const),
      ),
    ),
  );
  const made: ReusedPiece[] = [];
  for (const { path, text } of told) {
    const [name, given] = text.split(/\s*=\s*/, 2) as [string, string?];
    for (const id of named(name.trim(), path)) {
      const place = places.get(id);
      const refuse = (allowed: string): number => problems.push({ path, given: show(text), allowed });
      if (place === undefined || !lost.has(id)) {
        refuse(REUSE_FORMS);
        continue;
      }
      const { moulding, stick, rail } = place;
      const [start, whole] = [umFromMm(rail.start), umFromMm(rail.length)];
      const sound = given === undefined ? null : tryParseLength(given, batch.units);
      const measured = sound === null ? null : supplyUm(sound);
      if (
        (given !== undefined && measured === null) ||
        (measured !== null && !(measured > 0 && measured < whole))
      ) {
        refuse(`${REUSE_FORMS}, above 0 and shorter than the rail`);
        continue;
      }
      const sides = Math.round(180 / rail.angle);
      const off = Math.max(bladeUm(batch.saw.kerf, sides), needUm(batch.saw.stopStep));
      const [from, length] = measured === null ? [start + off, whole - 2 * off] : [start, measured];
      if (length <= 0) {
        refuse('a rail longer than what its two new ends take');
        continue;
      }
      const flaws = [...umSpans(stick.flaws), ...(found.get(stick.stick) ?? [])]
        .filter((flaw) => measured === null && touches([flaw], from, from + length))
        .map(([a, b]) => [Math.max(0, a - from), b - from] as const);
      const tag = tags.rail(rail.frame, rail.side);
      let piece = tag;
      for (let nth = 2; taken.has(piece); nth++) piece = `${tag}-${nth}`;
      taken.add(piece);
      made.push({
        id: piece,
        rail: id,
        stick: stick.stick,
        moulding,
        length: mmFromUm(length),
        ends: ['mitred', 'mitred'],
        flaws: joined(flaws, length).map(([a, b]) => [mmFromUm(a), mmFromUm(b)] as const),
      });
    }
  }
  return made;
}
