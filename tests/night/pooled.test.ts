/** Batches planned as one: what they are together, and what each pays, against planning them apart. */
import { describe, expect, it } from 'vitest';
import { checkPlan } from '../../src/check/check.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import type { PlannedBatch } from '../../src/documents/plan/pooled.js';
import type { Plan } from '../../src/documents/plan/types.js';
import { compose } from '../../src/night/compose.js';
import { railsIn } from '../../src/rails/rails.js';
import { showPlan } from '../../src/show/plan.js';
import { showBatchPart } from '../../src/show/pooled.js';
import { orderOf, plannedHere, pooled } from './orders.js';

const cents = (money: number): number => Math.round(money * 100);

async function planned(document: BatchDocument): Promise<Plan> {
  const batch = checkBatch(document);
  const plan = plannedHere(document);
  expect(checkPlan(batch, plan).findings).toEqual([]);
  return plan;
}

function subsets<T>(all: readonly T[]): readonly (readonly T[])[] {
  return Array.from({ length: 2 ** all.length - 1 }, (_, bits) =>
    all.filter((__, i) => ((bits + 1) & (1 << i)) !== 0),
  );
}

describe('the check of a pooled plan', () => {
  it('finds shares that do not add up, foreign rails, and savings that are none', async () => {
    const document = pooled(['school', 'baker', 'smith'].map((id) => orderOf(id)));
    const batch = checkBatch(document);
    const plan = await planned(document);
    const [first, ...rest] = plan.batches!;
    const spoil = (part: object): readonly string[] => [
      ...new Set(
        checkPlan(batch, { ...plan, batches: [{ ...first!, ...part }, ...rest] }).findings.map(
          ({ code }) => code,
        ),
      ),
    ];
    const [share, ...others] = first!.mouldings;
    const dearer = { ...share!, share: share!.share + 0.01 };
    expect(spoil({ share: first!.share + 0.01 })).toContain('CHECK_SHARE');
    expect(spoil({ mouldings: [dearer, ...others], share: first!.share + 0.01 })).toContain('CHECK_SHARE');
    expect(spoil({ railLength: first!.railLength + 1 })).toEqual(['CHECK_POOL']);
    expect(spoil({ made: 0 })).toEqual(['CHECK_POOL']);
    expect(spoil({ lines: rest[0]!.lines })).toContain('CHECK_POOL');
    expect(spoil({ saved: { value: 1_000, least: 1_000 } })).toEqual(['CHECK_SAVED']);
    const without = { ...plan, batches: rest };
    expect(checkPlan(batch, without).findings.map(({ code }) => code)).toContain('CHECK_POOL');
    // A cent from one to another, which still adds up.
    const [second] = rest;
    const from = second!.mouldings.find(({ moulding }) => moulding === share!.moulding)!;
    const much = share!.share + 3;
    const moved = checkPlan(batch, {
      ...plan,
      batches: [
        {
          ...first!,
          share: Math.round((first!.share + 3) * 100) / 100,
          mouldings: [{ ...share!, share: much }, ...others],
        },
        {
          ...second!,
          share: Math.round((second!.share - 3) * 100) / 100,
          mouldings: second!.mouldings.map((one) =>
            one === from ? { ...one, share: Math.round((one.share - 3) * 100) / 100 } : one,
          ),
        },
        ...rest.slice(1),
      ],
    });
    expect(moved.findings.map(({ code }) => code)).toContain('CHECK_SHARE');
  });

  it('says which batch to take where it is checked against one of the night alone', async () => {
    const orders = ['school', 'baker'].map((id) => orderOf(id));
    const plan = await planned(pooled(orders));
    const report = checkPlan(checkBatch(orders[0]!), plan);
    expect(report.findings).toEqual([
      {
        code: 'CHECK_DOCUMENT',
        path: 'batch',
        found: `"${plan.batch}"`,
        holds: `"school"; or checked against the batch "${plan.batch}", in which "school" is one of 2 planned as one`,
      },
    ]);
    expect(report.ok).toBe(false);
    // Of no batch of the night that is said of nothing.
    const { findings } = checkPlan(checkBatch(orderOf('stranger')), plan);
    expect(findings[0]?.holds).toBe('"stranger"');
    expect(findings.length).toBeGreaterThan(1);
  });

  it('is shown batch by batch', async () => {
    const document = pooled(['school', 'baker'].map((id) => orderOf(id)));
    const plan = await planned(document);
    const page = showPlan(checkBatch(document), plan);
    const own = showBatchPart(checkBatch(document), plan, 'school');
    for (const text of [page, own]) {
      expect(text).toMatch(/[Pp]ooling saved/);
      expect(text).toContain(plan.batches![0]!.share.toFixed(2));
      expect(text).toContain('proven');
    }
    expect(() => showBatchPart(checkBatch(document), plan, 'nobody')).toThrow(/PS_UNKNOWN|nobody/);
  });
});

describe('where what pooling saved a batch is not known', () => {
  it('its page says why', async () => {
    const document = pooled(['school', 'baker'].map((id) => orderOf(id)));
    const plan = await planned(document);
    const [first, ...rest] = plan.batches!;
    const [share, ...others] = first!.mouldings;
    const page = (part: Partial<PlannedBatch>): string =>
      showBatchPart(
        checkBatch(document),
        { ...plan, batches: [{ ...first!, alone: null, saved: null, ...part }, ...rest] },
        first!.batch,
      ).replaceAll(/\s+/g, ' ');
    expect(page({ missing: ['school/f1/1'] })).toContain('not known: 1 frame of it cannot be made here');
    const unplanned = { ...share!, alone: null };
    expect(page({ mouldings: [unplanned, ...others] })).toContain(
      `not known: there was no time to plan ${share!.moulding} alone`,
    );
    const short = { ...share!, frames: 2, alone: { ...share!.alone!, made: 1 } };
    expect(page({ mouldings: [short] })).toContain(`only 1 of 2 frames in ${share!.moulding} can be made`);
  });
});

describe('a pool', () => {
  it('shares its cost so that no group of its batches pays more than planned alone', async () => {
    const orders = ['school', 'baker', 'smith'].map((id) => orderOf(id));
    const plan = await planned(pooled(orders));
    const pays = new Map(plan.batches!.map(({ batch, share }) => [batch, cents(share)]));
    expect([...pays.values()].reduce((sum, share) => sum + share, 0)).toBe(cents(plan.totals.cost));
    for (const group of subsets(orders)) {
      const alone = await planned(group.length === 1 ? group[0]! : pooled(group));
      const due = group.reduce((sum, { id }) => sum + pays.get(id)!, 0);
      expect(due).toBeLessThanOrEqual(cents(alone.totals.cost));
      const [only] = group;
      const part = plan.batches!.find(({ batch }) => batch === only!.id);
      if (group.length === 1) expect(cents(part!.alone!.cost)).toBe(cents(alone.totals.cost));
    }
    expect(plan.pooling!.saved!.value).toBeGreaterThan(0);
  });

  it('takes the same rack for each alone, in the order of arrival', async () => {
    const rack = [
      { id: 'r1', moulding: 'ash', length: 2900 },
      { id: 'r2', moulding: 'oak', length: 2000 },
    ];
    const orders = ['first', 'second', 'third', 'fourth'].map((id) => orderOf(id, { sticks: rack }));
    const plan = await planned(pooled(orders));
    // The definition again: each by itself, without the pieces that those before it cut.
    let left: readonly (typeof rack)[number][] = rack;
    for (const order of orders) {
      const alone = await planned({ ...order, sticks: left });
      const part = plan.batches!.find(({ batch }) => batch === order.id);
      expect(cents(part!.alone!.cost)).toBe(cents(alone.totals.cost));
      expect(part!.saved!.value).toBeGreaterThanOrEqual(0);
      const cut = new Set(alone.mouldings.flatMap(({ sticks }) => sticks.map(({ ref }) => ref)));
      left = left.filter(({ id }) => !cut.has(id));
    }
  });

  it('keeps every batch its own lines, with ids that no other has', async () => {
    const orders = [orderOf('a/b'), orderOf('a'), orderOf('x'.repeat(127))];
    const [first, second] = orders;
    const clash = { ...second!, frames: [{ ...second!.frames[0]!, id: `b/${first!.frames[0]!.id}` }] };
    const plan = await planned(pooled([first!, clash, orders[2]!]));
    const tags = plan.mouldings.flatMap(({ sticks }) =>
      sticks.flatMap(({ rails }) => rails.map(({ tag }) => tag)),
    );
    expect(new Set(tags).size).toBe(tags.length);
    const frames = plan.batches!.flatMap(({ lines }) => lines.map(({ frame }) => frame));
    expect(new Set(frames).size).toBe(frames.length);
    expect(plan.batches!.map(({ lines }) => lines.map(({ line }) => line))).toEqual(
      [first!, clash, orders[2]!].map(({ frames: lines }) => lines.map(({ id }) => id)),
    );
  });

  it('does not mix what one id means twice, and says so', async () => {
    const thin = { id: 'ash', face: 28, rabbet: 6 };
    const [a, b] = [orderOf('a'), orderOf('b')];
    const other = {
      ...b,
      mouldings: [thin, b.mouldings[1]!],
      frames: [{ ...b.frames[0]!, moulding: 'ash' }],
    };
    const plan = await planned(pooled([{ ...a, frames: [{ ...a.frames[0]!, moulding: 'ash' }] }, other]));
    const cut = plan.mouldings.filter(({ sticks }) => sticks.length > 0);
    expect(cut.map(({ moulding }) => moulding)).toEqual(['ash', 'ash~2']);
    expect(plan.notices.map(({ code }) => code)).toContain('PS_APART');
  });

  it('makes another plan of batches with another saw', () => {
    const orders = [orderOf('a'), orderOf('b', { saw: { kerf: 4 } }), orderOf('c')];
    const members = orders.map((document) => ({ document, batch: checkBatch(document) }));
    const made = compose(members, (index) => `night-${index + 1}`);
    expect(made.map(({ members: ids }) => ids)).toEqual([['a', 'c'], ['b']]);
    expect(made[1]!.document.batches![0]!.apart![0]!.why).toContain('saw');
  });

  it('makes another plan where one would hold more than the workers can', () => {
    const members = ['a', 'b', 'c', 'd'].map((id) => {
      const document = { ...orderOf('a'), id };
      return { document, batch: checkBatch(document) };
    });
    const each = railsIn(members[0]!.batch);
    const name = (index: number): string => `night-${index + 1}`;
    const made = compose(members, name, 'UTC', { rails: 2 * each, lines: 1_000 });
    expect(made.map(({ members: ids }) => ids)).toEqual([
      ['a', 'b'],
      ['c', 'd'],
    ]);
    for (const { document } of made) expect(railsIn(checkBatch(document))).toBe(2 * each);
    expect(made[1]!.document.batches![1]!.apart![0]!.why).toContain('more than one plan holds');
    const alone = compose(members, name, 'UTC', { rails: 1, lines: 1_000 });
    expect(alone.map(({ members: ids }) => ids)).toEqual([['a'], ['b'], ['c'], ['d']]);
  });

  it('makes first what is due first where stock is short, and says what will be late', async () => {
    const frames = [{ id: 'f', moulding: 'ash', width: 500, height: 600 }];
    const mouldings = [{ id: 'ash', face: 30, rabbet: 6 }];
    const order = (id: string, due?: string): BatchDocument => ({
      schema: 'pairstop/batch@1',
      id,
      units: 'mm',
      mouldings,
      frames,
      sticks: [{ id: 'r', moulding: 'ash', length: 2700 }],
      options: { timeLimit: 5 },
      ...(due !== undefined && { due }),
    });
    const orders = [order('whenever'), order('monday', '2026-11-30'), order('noon', '2026-11-30T12:00:00Z')];
    const plan = await planned(pooled(orders));
    const parts = plan.batches!;
    expect(parts.map(({ batch, made, late }) => [batch, made, late])).toEqual([
      ['whenever', 0, false],
      ['monday', 0, true],
      ['noon', 1, false],
    ]);
    const alone = await planned({
      ...order('alone', '2026-11-30'),
      frames: [{ ...frames[0]!, quantity: 2 }],
    });
    expect(alone.notices.map(({ code }) => code)).toContain('PS_LATE');
    const late = plan.notices.filter(({ code }) => code === 'PS_LATE');
    expect(late.map(({ message }) => message)).toEqual([
      expect.stringContaining('"monday", needed by 2026-11-30'),
    ]);
  });
});
