/**
 * A recut against what it was made of, the plan or an earlier recut: nothing that was cut has changed its place, every
 * rail is still accounted for, and what was bought stays bought. A stick that was begun is not put off to a later run.
 */
import type { PlacedRail, Plan } from '../../documents/plan/types.js';
import type { FoundFlaw, Recut } from '../../documents/recut/types.js';
import { type WorkStick, workOfPlan, workOfRecut } from '../../documents/recut/work.js';
import { isBegun, type OnRecut } from './context.js';

function placeOf({ rail, start, length, angle, flipped }: PlacedRail): string {
  return JSON.stringify([rail, start, length, angle, flipped]);
}

function counted(all: readonly { readonly offer: string; readonly count: number }[]): string {
  return JSON.stringify(
    all.map(({ offer, count }) => [offer, count] as const).sort(([a], [b]) => (a < b ? -1 : 1)),
  );
}

/** Every one of `inner` lies within one of `outer`. */
function within(inner: readonly FoundFlaw[], outer: readonly FoundFlaw[]): boolean {
  return inner.every(([from, to]) => outer.some((one) => one[0] <= from && one[1] >= to));
}

function checkStick(
  on: OnRecut,
  before: WorkStick,
  path: string,
  after: Recut['mouldings'][number]['sticks'][number],
  finishes: boolean,
): void {
  const add = (at: string, found: string, holds: string): void =>
    on.findings.add('CHECK_EARLIER', `${path}.${at}`, found, holds);
  if (after.length !== before.length) add('length', String(after.length), String(before.length));
  // Only a stick that nothing has been cut from may be put off.
  if ((after.run ?? 1) > (before.run ?? 1) && (isBegun(after) || finishes))
    add('run', String(after.run), `${before.run ?? 1} or an earlier one`);
  if (!within(before.flaws, after.flaws ?? [])) add('flaws', 'fewer', 'those of before too');
  const places = new Set([...before.cut, ...before.lost, ...before.rails].map(placeOf));
  for (const name of ['cut', 'lost'] as const) {
    after[name].forEach((rail, r) => {
      if (!places.has(placeOf(rail))) add(`${name}[${r}]`, placeOf(rail), 'a rail where it was planned');
    });
  }
  const still = new Set([...after.cut, ...after.lost].map(placeOf));
  for (const rail of [...before.cut, ...before.lost]) {
    if (!still.has(placeOf(rail))) add('cut', `none of "${rail.rail}"`, 'what was cut stays cut or is lost');
  }
}

export function checkBefore(on: OnRecut, earlier: Plan | Recut): void {
  const { recut, findings } = on;
  const work = earlier.schema === 'pairstop/recut@1' ? workOfRecut(earlier) : workOfPlan(earlier);
  const add = (path: string, found: string, holds: string): void =>
    findings.add('CHECK_EARLIER', path, found, holds);
  if (work.batch !== recut.batch) add('batch', `"${recut.batch}"`, `"${work.batch}"`);
  if (counted(work.bought) !== counted(recut.bought))
    add('bought', counted(recut.bought), counted(work.bought));
  const short = new Set(recut.shortfall.flatMap(({ rails }) => rails));
  for (const part of work.mouldings) {
    const m = recut.mouldings.findIndex(({ moulding }) => moulding === part.moulding);
    const now = recut.mouldings[m];
    if (now === undefined) {
      // Of a moulding that nothing could be cut from, nothing goes on.
      if (part.sticks.length > 0) {
        add('mouldings', `none for "${part.moulding}"`, 'every moulding of before that has sticks');
      }
      continue;
    }
    const homes = new Map(
      part.sticks.flatMap(({ stick, rails }) => rails.map((rail) => [rail.rail, { stick, rail }] as const)),
    );
    const lostFrom = new Map(
      part.sticks.flatMap(({ stick, cut }) => cut.map((rail) => [rail.rail, { stick, rail }] as const)),
    );
    const finished = new Set(
      now.stops.filter(({ finish }) => finish).flatMap(({ pairs }) => pairs.flatMap(({ rails }) => rails)),
    );
    for (const before of part.sticks) {
      const s = now.sticks.findIndex(
        ({ stick, source }) => stick === before.stick && source === before.source,
      );
      if (s < 0) add(`mouldings[${m}].sticks`, `none "${before.stick}"`, 'every stick of before');
      else {
        const finishes = now.sticks[s]!.rails.some(({ rail }) => finished.has(rail));
        checkStick(on, before, `mouldings[${m}].sticks[${s}]`, now.sticks[s]!, finishes);
      }
    }
    const seen = new Set(now.sticks.flatMap(({ cut, rails }) => [...cut, ...rails].map(({ rail }) => rail)));
    for (const id of [...homes.keys(), ...lostFrom.keys()]) {
      if (!seen.has(id) && !short.has(id)) add(`mouldings[${m}]`, `none of "${id}"`, 'every rail of before');
    }
    now.sticks.forEach(({ rails }, s) => {
      rails.forEach((rail, r) => {
        const path = `mouldings[${m}].sticks[${s}].rails[${r}]`;
        const home = homes.get(rail.rail) ?? lostFrom.get(rail.rail);
        if (home === undefined) add(path, `"${rail.rail}"`, 'a rail of before');
        else if (home.stick !== rail.was) add(`${path}.was`, `"${rail.was}"`, `"${home.stick}"`);
        else if (home.rail.length !== rail.length)
          add(`${path}.length`, String(rail.length), String(home.rail.length));
      });
    });
  }
}
