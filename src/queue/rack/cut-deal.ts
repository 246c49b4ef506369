/** What was cut of a batch, as a change of the rack. */
import type { Plan } from '../../documents/plan/types.js';
import type { Recut } from '../../documents/recut/types.js';
import { workOfPlan, workOfRecut } from '../../documents/recut/work.js';
import { PairstopError } from '../../errors.js';
import { type CutStickOf, cutEvent } from '../../rack/cutting.js';
import type { Happening } from '../../rack/events.js';
import { boughtId } from '../../rack/names.js';
import { withPlanRack } from '../../rack/shop-pieces.js';
import type { Deal, RackStore } from '../../rack/store/rack-store.js';
import { expectedMap } from '../../rack/store/rack-store.js';
import { expectedKey } from '../../rack/sum.js';
import type { RackPiece, Shelved } from '../../rack/terms.js';
import { reusedEntries } from '../../recut/flaws.js';
import { railsTold } from '../../recut/told.js';
import type { Told } from '../../recut/told-lines.js';
import type { Batch } from '../../terms.js';
import type { CutOptions, RackCutting } from './desk-api.js';
import { ownOffcuts } from './own-sticks.js';

export interface CutWork {
  readonly batch: Batch;
  readonly plan: Plan;
}

function refuse(path: string, given: string, allowed: string): PairstopError {
  return new PairstopError('PS_RACK', `${path}: given ${given}; allowed: ${allowed}`, [
    { path, given, allowed },
  ]);
}

/** Sticks of a plan or a recut, offcuts to keep counted through. */
function sticksOf(work: Plan | Recut): readonly CutStickOf[] {
  let offcut = 1;
  const sticks: CutStickOf[] = [];
  for (const { moulding, sticks: some } of work.mouldings) {
    for (const stick of some) {
      sticks.push({
        moulding,
        stick: stick.stick,
        length: stick.length,
        rails: 'cut' in stick ? [...stick.cut, ...stick.rails] : stick.rails,
        lost: 'lost' in stick ? stick.lost : [],
        left: stick.left,
        offcut,
      });
      offcut += stick.left.filter(({ use }) => use === 'offcut').length;
    }
  }
  return sticks;
}

/** The rails of one run, as they would be told. */
function runTold(work: Plan | Recut, { run, moulding }: CutOptions): readonly Told[] {
  const parts = work.mouldings.filter((part) => moulding === undefined || part.moulding === moulding);
  if (parts.length === 0) {
    const allowed = work.mouldings.map((part) => part.moulding).join(', ');
    throw refuse('moulding', JSON.stringify(moulding), allowed);
  }
  if (run === undefined) return parts.flatMap((part) => rails(part.stops));
  const found = parts.flatMap((part) => {
    // Plans of older programs and recuts are cut in one run.
    const stops = part.stops.filter((stop) => ('run' in stop ? (stop.run ?? 1) : 1) === run);
    return stops.length === 0 ? [] : [stops];
  });
  if (found.length > 1) {
    throw refuse('run', String(run), 'the run of one moulding; say which: --moulding');
  }
  if (found.length === 0) throw refuse('run', String(run), 'a run of the plan');
  return rails(found.flat());

  function rails(stops: (typeof parts)[number]['stops']): readonly Told[] {
    return stops
      .flatMap(({ pairs }) => pairs.flatMap((pair) => pair.rails))
      .map((text) => ({ path: `run ${run ?? ''}`, text }));
  }
}

function toldOf(work: Plan | Recut, options: CutOptions): readonly Told[] | null {
  if (options.told !== undefined) return options.told;
  return options.run === undefined && options.moulding === undefined ? null : runTold(work, options);
}

/** A stick that was bought and is cut without having been received: it must have come. */
function bought(batch: Batch, stick: CutStickOf, offer: string): RackPiece {
  return {
    id: boughtId(batch.id, stick.stick),
    moulding: stick.moulding,
    length: Math.round(stick.length * 1000),
    ends: ['raw', 'raw'],
    flaws: [],
    value: null,
    place: null,
    from: { kind: 'delivery', batch: batch.id, offer },
  };
}

export async function cutDeal(
  rack: RackStore,
  { batch: ordered, plan }: CutWork,
  options: CutOptions,
): Promise<Deal<RackCutting>> {
  const offcutsToo = options.offcuts === true;
  if (ordered.rack === null && !offcutsToo) {
    const given = `${JSON.stringify(ordered.id)}, planned from sticks of its own, which the rack does not know`;
    throw refuse(
      'batch',
      given,
      'a batch with "rack": "shop"; --offcuts puts what its sticks leave on the rack',
    );
  }
  const work = options.recut ?? plan;
  if (work.batch !== ordered.id)
    throw refuse('recut', JSON.stringify(work.batch), JSON.stringify(ordered.id));
  const batch = withPlanRack(ordered, work);
  const inHand = work.schema === 'pairstop/recut@1' ? workOfRecut(work) : workOfPlan(work);
  const told = toldOf(work, options);
  const { cut, lost } = railsTold(batch, inHand, told, options.spoiled ?? []);
  const sticks = sticksOf(work);
  const before = inHand.mouldings.flatMap((part) => part.sticks);
  const allCut = new Set([...cut, ...before.flatMap((one) => one.cut.map(({ rail }) => rail))]);

  // Wood of spoiled rails was booked as waste of their sticks: what is left of it after all comes in as found.
  const reused = new Set(inHand.reused.map(({ id }) => id));
  const ownRefs = new Set([...ordered.sticks.map(({ id }) => id), ...reused]);
  const sources = new Map(work.mouldings.flatMap((part) => part.sticks).map((one) => [one.stick, one]));
  const idOf = (stick: string): string => {
    const source = sources.get(stick);
    return source?.source === 'rack' ? source.ref : boughtId(batch.id, stick);
  };
  const held = await rack.held(batch.id);
  const there = await rack.pieces([...new Set([...held, ...sticks.map(({ stick }) => idOf(stick))])]);
  const pieces = new Map(there.map((shelved) => [shelved.piece.id, shelved]));
  const lines = expectedMap(await rack.expected(batch.id));
  const taken = new Set(await rack.ids());
  const happenings: Happening[] = [];
  const answer = { rails: 0, spoiled: 0, waste: 0 };
  const [used, begun]: [string[], string[]] = [[], []];
  const offcuts: RackPiece[] = [];
  const coming = new Map([...lines].map(([key, line]) => [key, line.count]));
  const own: (CutStickOf & { readonly ref: string })[] = [];
  for (const stick of sticks) {
    const source = sources.get(stick.stick);
    const again = source !== undefined && reused.has(source.ref);
    if (!again && stick.lost.length === 0 && !stick.rails.some(({ rail }) => allCut.has(rail))) continue;
    if (ordered.rack === null || (source?.source === 'rack' && ownRefs.has(source.ref))) {
      own.push({ ...stick, ref: source?.ref ?? stick.stick });
      continue;
    }
    let shelved = pieces.get(idOf(stick.stick));
    if (shelved === undefined && source?.source === 'offer') {
      const piece = bought(batch, stick, source.ref);
      const key = expectedKey(batch.id, source.ref);
      const left = coming.get(key) ?? 0;
      const { length, moulding } = piece;
      if (left === 0 && options.recut !== undefined) {
        const line = { batch: batch.id, offer: source.ref, moulding, length, count: 1 };
        happenings.push({ kind: 'expected', batch: batch.id, lines: [line] });
      } else coming.set(key, left - 1);
      happenings.push({ kind: 'received', batch: batch.id, offer: source.ref, reserve: true, piece });
      shelved = { piece, state: { kind: 'reserved', batch: batch.id }, revision: '' };
      taken.add(piece.id);
    }
    if (shelved === undefined) throw refuse('stick', JSON.stringify(stick.stick), 'a piece the rack knows');
    const { state } = shelved;
    if (state.kind === 'used' && state.batch === batch.id) continue;
    const event = cutEvent(
      {
        batch,
        cut: allCut,
        spoiled: lost,
        taken,
        place: options.place ?? null,
        recut: options.recut !== undefined,
      },
      stick,
      shelved,
    );
    if (event === null) continue;
    happenings.push(event);
    answer.rails += event.rails.length;
    answer.spoiled += event.spoiled.length;
    answer.waste += event.waste;
    (event.done ? used : begun).push(event.piece);
    for (const offcut of event.offcuts) {
      taken.add(offcut.id);
      offcuts.push(offcut);
    }
  }
  const left = await ownOffcuts(rack, {
    batch: { ...batch, sticks: [...batch.sticks, ...reusedEntries(inHand.reused)] },
    sticks: own
      .filter(({ ref }) => offcutsToo || reused.has(ref))
      .filter(({ rails }) => rails.every(({ rail }) => allCut.has(rail))),
    place: options.place ?? null,
    recut: options.recut !== undefined,
    taken,
  });
  for (const piece of left.offcuts) {
    happenings.push({ kind: 'added', how: 'entered', piece });
    offcuts.push(piece);
  }
  const everything = sticks.every(({ rails }) => rails.every(({ rail }) => allCut.has(rail)));
  const released = everything ? unneeded(held, pieces, batch.id, [...used, ...begun]) : [];
  if (released.length > 0) {
    happenings.push({ kind: 'released', batch: batch.id, how: 'unused', pieces: released });
  }
  const touched = new Set([...used, ...begun, ...released]);
  return {
    known: {
      pieces: there.filter(({ piece }) => touched.has(piece.id)),
      expected: [...lines.values()],
    },
    happenings,
    answer: {
      batch: batch.id,
      ...answer,
      used,
      begun,
      offcuts,
      released,
      own: own.map(({ stick }) => stick),
      entered: left.entered,
    },
  };
}

/** Reserved for the batch, and nothing cut from it although all is cut: after a recut. */
function unneeded(
  held: readonly string[],
  pieces: ReadonlyMap<string, Shelved>,
  batch: string,
  cut: readonly string[],
): readonly string[] {
  const done = new Set(cut);
  return held.filter((id) => {
    const state = pieces.get(id)?.state;
    return !done.has(id) && state?.kind === 'reserved' && state.batch === batch;
  });
}
