/** An offcut entered in the rack as the plan states it loses its end trim once. Reckoned by hand. */
import { expect, it } from 'vitest';
import { checkPlan } from '../../src/check/check.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import type { Plan } from '../../src/documents/plan/types.js';
import { sheetJob } from '../../src/sheet/job.js';
import { labelsOf } from '../../src/sheet/labels/labels.js';
import { showPlan } from '../../src/show/plan.js';
import { Words } from '../../src/words/words.js';
import { planned } from './kit.js';

const KERF = 3;
const TRIM = 12;
const RECUT = 1;
/** The blade at 45°, as a planner on whole micrometres counts it. */
const BLADE = 4.243;

function order(size: number, stick: NonNullable<BatchDocument['sticks']>[number]): BatchDocument {
  return {
    schema: 'pairstop/batch@1',
    id: 'offcut',
    units: 'mm',
    saw: { kerf: KERF, recut: RECUT, stopStep: 1 },
    mouldings: [{ id: 'ash', face: 20, rabbet: 0, endTrim: TRIM, keepOver: 300 }],
    frames: [{ id: 'A', moulding: 'ash', measuredBy: 'outside', width: size, height: size }],
    sticks: [stick],
  };
}

/** A frame of 300 mm square, and then one of 200: what the first leaves, the second just takes. */
const FIRST = TRIM + 4 * 300 + 3 * (BLADE + RECUT);
const SECOND = 4 * 200 + 3 * (BLADE + RECUT);
const LENGTH = Math.ceil((FIRST + BLADE + RECUT + SECOND + TRIM) * 1000) / 1000;

function pieceOf(plan: Plan) {
  const left = plan.mouldings[0]!.sticks[0]!.left.find(({ use }) => use === 'offcut');
  return left!;
}

it('an offcut entered as the plan states it holds a frame that just fits', async () => {
  const document = order(300, { id: 'r1', moulding: 'ash', length: LENGTH });
  const plan = await planned(document);
  const { from, to, piece } = pieceOf(plan);
  // The tape runs from the mitre to the raw end, trim and all.
  expect(piece!.length).toBeCloseTo(LENGTH - from, 6);
  expect(to).toBeCloseTo(LENGTH - TRIM, 6);
  expect(piece!.ends).toEqual(['mitred', 'raw']);
  const { length, ends } = piece!;
  const again = (of: number, as: typeof ends): Promise<Plan> =>
    planned(order(200, { id: 'r2', moulding: 'ash', length: of, ends: [...as] }));
  expect((await again(length, ends)).status).toBe('complete');
  expect((await again(length - 0.01, ends)).status).toBe('short');
  // As it was stated before, between the trims and with rough ends, it lost both again.
  expect((await again(to - from, ['raw', 'raw'])).status).toBe('short');

  const wrong = structuredClone(plan) as { -readonly [K in keyof Plan]: Plan[K] };
  Object.assign(pieceOf(wrong).piece!, { length: length - TRIM });
  expect(checkPlan(checkBatch(document), wrong).findings.map(({ code }) => code)).toEqual([
    'CHECK_LEFT_PIECE',
  ]);
});

it('says on page and labels what the tape measures, and the ends', async () => {
  const document = order(300, { id: 'r1', moulding: 'ash', length: 2_100 });
  const plan = await planned(document);
  const batch = checkBatch(document);
  const words = new Words(batch);
  const tape = words.tape(Math.round(pieceOf(plan).piece!.length * 1000));
  const page = showPlan(batch, plan);
  expect(page).toContain(`keep ${tape}`.replaceAll('\u00a0', ' '));
  expect(page.replaceAll(/\s+/g, ' ')).toContain('its ends (left, right): mitred, raw.');
  const label = labelsOf(sheetJob(batch, plan), words).find(({ kind }) => kind === 'offcut')!;
  expect(label.mark).toBe(tape);
  expect(label.lines).toContain('ends mitred, raw');
});

it('is sawn at a flaw, and keeps the ends of its stick where nothing is cut', async () => {
  // 420 clear before the flaw, where no rail of 500 goes; the frame stands behind it.
  const stick = { id: 'r1', moulding: 'ash', length: 2_600, flaws: [[420, 430]], ends: ['sawn', 'raw'] };
  const plan = await planned(order(500, stick as never));
  const [before] = plan.mouldings[0]!.sticks[0]!.left;
  expect(before).toMatchObject({ use: 'offcut', piece: { length: 420, ends: ['sawn', 'sawn'] } });
});
