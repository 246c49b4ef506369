/** Recuts of random plans, re-checked from the definition. */
import { describe, expect, it } from 'vitest';
import { checkRecut } from '../../src/check/recut/recut.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import type { PlacedRail, Plan } from '../../src/documents/plan/types.js';
import { checkRecutDocument } from '../../src/documents/recut/read.js';
import { recutSchema } from '../../src/documents/recut/schema.js';
import type { Recut } from '../../src/documents/recut/types.js';
import { PairstopError } from '../../src/errors.js';
import { showRecut } from '../../src/show/recut.js';
import { PAGE } from '../../src/text/page.js';
import { dice, randomBatch } from '../plan/batches.js';
import { planned, steppedClock } from '../plan/kit.js';
import { recutFaults } from '../tools/recheck-recut.js';
import { BASE, type Mishap, recutOf } from './kit.js';

function orderOf(plan: Pick<Plan | Recut, 'mouldings'>): readonly string[] {
  return plan.mouldings.flatMap(({ stops }) =>
    stops.flatMap(({ pairs }) => pairs.flatMap(({ rails }) => rails)),
  );
}

function cutThrough(plan: Plan, rail: string): readonly string[] {
  const order = orderOf(plan);
  return order.slice(0, order.indexOf(rail) + 1);
}

async function mishap(name: string, document: BatchDocument): Promise<Mishap | null> {
  const at = dice(name);
  const plan = await planned(document);
  const order = orderOf(plan);
  if (order.length === 0) return null;
  const last = at.whole(0, order.length - 1);
  const lost = new Set([order[last]!]);
  for (let i = at.whole(0, 3); i > 0; i--) lost.add(order[at.whole(0, last)]!);
  return { document, plan, lost: [...lost], cut: new Set(order.slice(0, last + 1)) };
}

async function sound(one: Mishap): Promise<Recut> {
  const made = await recutOf(one);
  const batch = checkBatch(one.document);
  expect(recutFaults(batch, one.plan, one.cut, new Set(one.lost), made)).toEqual([]);
  expect(recutSchema.parse(JSON.parse(JSON.stringify(made)))).toEqual(made);
  for (const { moulding, proof } of made.mouldings) {
    const cost = made.buy.reduce((sum, buy) => sum + (buy.moulding === moulding ? buy.cost : 0), 0);
    expect(proof.value).toBeCloseTo(cost, 6);
    expect(proof.bound <= proof.value && (proof.status === 'optimal') === (proof.bound === proof.value)).toBe(
      true,
    );
  }
  return made;
}

describe('a recut', () => {
  it('holds by the definition, whatever the batch and whatever is lost', async () => {
    let [replaced, moved, bought] = [0, 0, 0];
    for (let i = 0; i < 40; i++) {
      const one = await mishap(`recut ${i}`, randomBatch(`recut ${i}`, { reversible: i % 2 === 0 }));
      if (one === null) continue;
      const made = await sound(one);
      expect(made.totals.lost).toBe(one.lost.length);
      replaced += made.totals.replaced;
      moved += made.totals.moved;
      bought += made.buy.length;
    }
    // The cases are worth something only when all of these happen.
    for (const count of [replaced, moved, bought]) expect(count).toBeGreaterThan(0);
  }, 300_000);

  it('goes on where a whole moulding was skipped, since nothing holds its frames', async () => {
    const document: BatchDocument = {
      ...BASE,
      mouldings: [...BASE.mouldings, { id: 'oak', face: 1, rabbet: 0 }],
      frames: [{ id: 'O', moulding: 'oak', measuredBy: 'outside', width: 10, height: 20 }, ...BASE.frames],
      options: { skipImpossible: true },
    };
    const plan = await planned(document);
    expect(plan.mouldings.map(({ moulding, sticks }) => [moulding, sticks.length])).toEqual([
      ['ash', 1],
      ['oak', 0],
    ]);
    const made = await sound({
      document,
      plan,
      lost: ['A/1/top'],
      cut: new Set(cutThrough(plan, 'A/1/top')),
    });
    expect(made.mouldings.map(({ moulding }) => moulding)).toEqual(['ash']);
    // The wood of a moulding that has sticks may not vanish.
    const gone = { ...made, mouldings: [] };
    const findings = checkRecut(checkBatch(document), gone, plan).findings;
    expect(findings.map(({ holds }) => holds)).toContain('every moulding of before that has sticks');
  });

  it('holds where stock is short, and says what would complete the frames', async () => {
    let short = 0;
    for (let i = 0; i < 30; i++) {
      const one = await mishap(`scarce ${i}`, randomBatch(`scarce recut ${i}`, { scarce: true }));
      if (one === null) continue;
      const made = await sound(one);
      for (const { frames, rails, needs, buy, cost } of made.shortfall) {
        short += 1;
        expect(frames.length).toBeGreaterThan(0);
        // A lost rail, or frames not begun whose wood another one got.
        const begun = new Set(
          made.mouldings.flatMap((m) => m.sticks.flatMap((s) => s.cut.map(({ frame }) => frame))),
        );
        const givenUp = made.totals.replaced > 0 && frames.every((frame) => !begun.has(frame));
        expect(givenUp || rails.some((rail) => one.lost.includes(rail))).toBe(true);
        const lengths = new Map(
          one.plan.mouldings.flatMap((m) =>
            m.sticks.flatMap((s) => s.rails.map((r) => [r.rail, r.length] as const)),
          ),
        );
        expect(needs).toBeGreaterThanOrEqual(Math.max(...rails.map((rail) => lengths.get(rail)!)));
        expect(cost === null).toBe(buy.length === 0);
      }
    }
    expect(short).toBeGreaterThan(0);
  }, 300_000);

  it('holds whatever was cut from whichever stick, as the file tells it', async () => {
    let finished = 0;
    for (let i = 0; i < 25; i++) {
      const at = dice(`told recut ${i}`);
      const document = randomBatch(`told recut ${i}`, i % 3 === 0 ? { reversible: true } : {});
      const [plan, batch] = [await planned(document), checkBatch(document)];
      const flaws = new Map(batch.sticks.map((entry) => [entry.id, entry.flaws]));
      const cut: string[] = [];
      for (const { source, ref, rails } of plan.mouldings.flatMap((part) => part.sticks)) {
        const spans = source === 'rack' ? (flaws.get(ref) ?? []) : [];
        for (let lane = 0; lane <= spans.length; lane++) {
          const own = rails.filter(
            (rail) => spans.filter(([from]) => from <= Math.round(rail.start * 1000)).length === lane,
          );
          cut.push(...own.slice(0, at.whole(0, own.length)).map((rail) => rail.rail));
        }
      }
      if (cut.length === 0) continue;
      const lost = [...new Set([at.pick(cut), at.pick(cut), at.pick(cut)])];
      const made = await recutOf({ document, plan, lost }, JSON.stringify(cut));
      expect(recutFaults(batch, plan, new Set(cut), new Set(lost), made)).toEqual([]);
      finished += made.mouldings.flatMap((part) => part.stops).filter((stop) => stop.finish).length;
    }
    expect(finished).toBeGreaterThan(0);
  }, 300_000);

  it('goes on from a recut after the next mishap, and after the one after that', async () => {
    let [again, rounds] = [0, 0];
    for (let i = 0; i < 20; i++) {
      const at = dice(`again ${i}`);
      const document = randomBatch(`again ${i}`);
      let work: Plan | Recut = await planned(document);
      for (let round = 0; round < 3; round++) {
        const order = orderOf(work);
        if (order.length === 0) break;
        const last = at.whole(0, order.length - 1);
        const cutNow = new Set(order.slice(0, last + 1));
        const goods =
          work.schema === 'pairstop/recut@1'
            ? work.mouldings.flatMap((m) => m.sticks.flatMap((s) => s.cut))
            : [];
        const lost = new Set([order[last]!, order[at.whole(0, last)]!]);
        // A rail that was cut well before the first mishap may be dropped after it.
        if (goods.length > 0) lost.add(at.pick(goods).rail);
        const made: Recut = await recutOf({ document, plan: work, lost: [...lost] });
        const wasGood = new Set(
          [...goods.map((rail) => rail.rail), ...cutNow].filter((rail) => !lost.has(rail)),
        );
        const isGood = made.mouldings.flatMap((m) => m.sticks.flatMap((s) => s.cut.map((rail) => rail.rail)));
        expect(new Set(isGood)).toEqual(wasGood);
        // Wood that is gone stays gone, where it was.
        const gone = (doc: Plan | Recut) =>
          new Map(
            doc.mouldings.flatMap((m) =>
              m.sticks
                .map((s) => ['lost' in s ? JSON.stringify(s.lost) : '[]', s.stick] as const)
                .map(([g, n]) => [n, g] as const),
            ),
          );
        for (const [stick, before] of gone(work)) {
          const after = JSON.parse(gone(made).get(stick) ?? '[]') as PlacedRail[];
          for (const rail of JSON.parse(before) as PlacedRail[]) expect(after).toContainEqual(rail);
        }
        if (made.status === 'short') break;
        rounds += 1;
        if (made.totals.replaced > 0 && round > 0) again += 1;
        work = made;
      }
    }
    expect(rounds).toBeGreaterThan(20);
    expect(again).toBeGreaterThan(5);
  }, 300_000);

  it('does not go on from a recut that does not hold', async () => {
    const plan = await planned(BASE);
    const made = await recutOf({ document: BASE, plan, lost: ['A/1/left'] });
    const next = made.mouldings[0]!.stops[0]!.pairs[0]!.rails[0]!;
    const refusal = async (other: Recut): Promise<string> =>
      recutOf({ document: BASE, plan: checkRecutDocument(other), lost: [next] }).then(
        () => 'nothing',
        (error: unknown) => (error instanceof PairstopError ? `${error.code} ${error.message}` : 'a fault'),
      );
    expect(await refusal(made)).toBe('nothing');
    const [part] = made.mouldings;
    const [stick] = part!.sticks;
    const withStick = (changed: Partial<typeof stick>): Recut => ({
      ...made,
      mouldings: [{ ...part!, sticks: [{ ...stick!, ...changed }] }],
    });
    const rails = stick!.rails;
    expect(await refusal({ ...made, status: 'short' })).toMatch(/^PS_RECUT the earlier recut is short/);
    expect(await refusal(withStick({ length: 4000 }))).toMatch(/CHECK_STICK_LENGTH/);
    expect(await refusal(withStick({ rails: rails.slice(1) }))).toMatch(/CHECK_STOP_RAIL/);
    expect(await refusal(withStick({ rails: rails.map((rail) => ({ ...rail, start: 0 })) }))).toMatch(
      /CHECK_WOOD/,
    );
    expect(
      await refusal(withStick({ rails: rails.map((rail) => ({ ...rail, length: rail.length + 1 })) })),
    ).toMatch(/CHECK_LENGTH/);
    expect(await refusal({ ...made, mouldings: [{ ...part!, stops: [] }] })).toMatch(/PS_RECUT/);
    expect(() => checkRecutDocument({ ...made, lost: 7 })).toThrow(
      /PS_PLAN|the recut is refused: one problem\nlost: given 7/,
    );
  });

  it('replaces a rail behind the others where there is room, and moves and buys nothing', async () => {
    const plan = await planned(BASE);
    const made = await recutOf({ document: BASE, plan, lost: ['A/1/left'] });
    expect(made.totals).toMatchObject({ replaced: 1, moved: 0, cost: 0 });
    const [stick] = made.mouldings[0]!.sticks;
    expect(stick?.rails.find((rail) => rail.replaces)).toMatchObject({
      rail: 'A/1/left',
      length: 508,
      was: 'r/1',
    });
    // Longest first: what is left of the stick begins with the longest that is still to be cut.
    expect(stick?.rails[0]?.length).toBe(508);
    expect(made.mouldings[0]?.stops.map((stop) => stop.setting)).toEqual([508, 254]);
    expect(made.mouldings[0]?.stops[0]?.setBy).toBe('A/1/right');
  });

  it('takes offcuts of begun sticks, then of others, then the rack, then buys', async () => {
    // Four places for a rail of 10 in, taken away one by one.
    const rails = {
      id: 'A',
      moulding: 'ash',
      quantity: 1,
      measuredBy: 'outside',
      width: 10,
      height: 10,
    } as const;
    const from = (sticks: NonNullable<BatchDocument['sticks']>): BatchDocument => ({
      ...BASE,
      frames: [rails],
      sticks,
    });
    const plan = async (document: BatchDocument) =>
      recutOf({ document, plan: await planned(document), lost: ['A/1/top'] });
    const home = (made: Recut): string | undefined =>
      made.mouldings[0]?.sticks.find((stick) => stick.rails.some((rail) => rail.replaces))?.stick;
    const both = await plan(from([{ id: 'a', moulding: 'ash', length: 35, quantity: 2 }]));
    expect(home(both)).toMatch(/^a\/[12]$/);
    expect(both.totals).toMatchObject({ moved: 0, cost: 0 });
    const rack = await plan(
      from([
        { id: 'a', moulding: 'ash', length: 40 },
        { id: 'b', moulding: 'ash', length: 50 },
      ]),
    );
    expect(home(rack)).toBe('b/1');
    const buys = await plan(from([{ id: 'a', moulding: 'ash', length: 40 }]));
    expect(home(buys)).toBe('ash-8/1');
    expect(buys.buy).toEqual([{ moulding: 'ash', offer: 'ash-8', count: 1, cost: 17.5 }]);
  });

  it('moves rails only to save buying, and then few', async () => {
    // Tails of 10 and 25 in; the lost 30 fits only when one rail of 20 moves over.
    const document: BatchDocument = {
      ...BASE,
      frames: [{ id: 'A', moulding: 'ash', quantity: 1, measuredBy: 'outside', width: 20, height: 30 }],
      sticks: [
        { id: 'a', moulding: 'ash', length: 90 },
        { id: 'b', moulding: 'ash', length: 45 },
      ],
    };
    const made = await planned(document);
    const [part] = made.mouldings;
    const rails = new Map(part!.sticks.flatMap((stick) => stick.rails.map((rail) => [rail.side, rail])));
    const on = (stick: string, sides: readonly string[]) => {
      const placed: PlacedRail[] = [];
      for (const side of sides) {
        const before = placed.at(-1);
        placed.push({ ...rails.get(side)!, start: before === undefined ? 0 : before.start + before.length });
      }
      const [last, length] = [placed.at(-1)!, stick === 'a' ? 2286 : 1143];
      const from = last.start + last.length;
      const use = length - from >= 304.8 ? ('offcut' as const) : ('waste' as const);
      return {
        stick: `${stick}/1`,
        source: 'rack' as const,
        ref: stick,
        length,
        run: 1,
        rails: placed,
        left: [{ from, to: length, use }],
      };
    };
    const { handling: _, runs: _runs, seconds: _time, ...bare } = part!;
    const { handling: __, seconds: _all, ...totals } = made.totals;
    const plan: Plan = {
      ...made,
      mouldings: [{ ...bare, sticks: [on('a', ['right', 'left', 'top']), on('b', ['bottom'])] }],
      totals: { ...totals, offcutLength: 635, wasteLength: 254 },
    };
    const first = orderOf(plan)[0]!;
    const answer = await recutOf({ document, plan, lost: [first] });
    expect(answer.totals).toMatchObject({ cost: 0, moved: 1, replaced: 1 });
    const gone = new Set([first]);
    expect(recutFaults(checkBatch(document), plan, gone, gone, answer)).toEqual([]);
  });

  it('cuts a ring anew as one run when none of it is cut for good, and says so when part of it is', async () => {
    const document: BatchDocument = {
      ...BASE,
      frames: [
        {
          id: 'A',
          moulding: 'ash',
          quantity: 1,
          measuredBy: 'outside',
          width: 10,
          height: 20,
          match: 'frame',
        },
      ],
    };
    const plan = await planned(document);
    const first = await recutOf({ document, plan, lost: ['A/1/top'] });
    expect(first.mouldings[0]?.stops).toMatchObject([{ setting: 508, second: 254, finish: false }]);
    expect(first.notices.map((one) => one.code)).toEqual(['PS_ALONG_WITH']);
    const later = await recutOf({ document, plan, lost: ['A/1/right'] });
    expect(later.notices.map((one) => one.code)).toEqual(['PS_MATCH_BROKEN', 'PS_ALONG_WITH']);
    const told = 'through A/1/bottom';
    const begun = await recutOf({ document, plan, lost: ['A/1/right'] }, told);
    expect(begun.mouldings[0]?.stops.map((stop) => [stop.finish, stop.pairs[0]?.rails])).toEqual([
      [true, ['A/1/left']],
      [false, ['A/1/right']],
    ]);
  });

  it('is the same each time, byte for byte', async () => {
    const one = await mishap('again', randomBatch('recut again'));
    const make = async () => JSON.stringify(await recutOf(one!, null, steppedClock(0.01)));
    expect(await make()).toBe(await make());
  });

  it('stays on its page, which marks short rails where they are cut and always carries the cautions', async () => {
    for (let i = 0; i < 12; i++) {
      const random = randomBatch(`recut page ${i}`);
      const one = await mishap(`recut page ${i}`, { ...random, saw: { ...random.saw, clampBelow: '12 in' } });
      if (one === null) continue;
      const made = await recutOf(one);
      const page = showRecut(checkBatch(one.document), made);
      for (const line of page.split('\n')) expect(line.length).toBeLessThanOrEqual(PAGE);
      if (made.totals.toCut === 0) continue;
      expect(page).toContain("The saw's manual and your local rules come before anything printed here.");
      const touched = made.mouldings.filter((part) =>
        part.sticks.some((s) => s.rails.some((r) => r.replaces)),
      );
      const clamped = touched
        .flatMap((part) => part.stops)
        .filter((stop) => (stop.second ?? stop.setting) < 304.8);
      expect(page.split('CLAMP OR JIG').length - 1).toBe(clamped.length);
    }
  }, 120_000);
});
