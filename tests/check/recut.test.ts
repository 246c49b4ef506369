/** The check of a recut: every field of the document, changed, is found wrong, and so is every list with one less. */
import { beforeAll, describe, expect, it } from 'vitest';
import { checkRecut } from '../../src/check/recut/recut.js';
import { recutRules } from '../../src/check/rules.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import type { Plan } from '../../src/documents/plan/types.js';
import { checkRecutDocument } from '../../src/documents/recut/read.js';
import type { Recut } from '../../src/documents/recut/types.js';
import { PairstopError } from '../../src/errors.js';
import type { Batch } from '../../src/terms.js';
import { planned } from '../plan/kit.js';
import { recutOf } from '../recut/kit.js';
import { type Spoiled, spoiledFields } from '../tools/spoil-fields.js';

const FRAMES = {
  schema: 'pairstop/batch@1',
  id: 'recheck',
  units: 'in',
  saw: { kerf: '1/8', recut: '1/16', clampBelow: '6' },
  mouldings: [{ id: 'ash', face: 1, rabbet: 0, endTrim: '1/4', keepOver: 12 }],
  gauges: [{ id: 'G', length: 20 }],
} as const;
const LINE = { moulding: 'ash', measuredBy: 'outside' } as const;

interface Case {
  readonly document: BatchDocument;
  readonly lost: readonly string[];
  readonly flaws?: readonly string[];
  readonly reuse?: readonly string[];
  readonly told: string;
}

const CASES: Readonly<Record<string, Case>> = {
  'flaws, pieces used again, an offcut': {
    document: {
      ...FRAMES,
      frames: [
        { ...LINE, id: 'A', width: 30, height: 20 },
        { ...LINE, id: 'B', width: 24, height: 18, match: 'pair' },
      ],
      sticks: [
        { id: 'r', moulding: 'ash', length: 110 },
        { id: 's', moulding: 'ash', length: 130, flaws: [[3, 5]] },
        { id: 't', moulding: 'ash', length: 60, ends: ['sawn', 'raw'] },
      ],
    },
    lost: ['A/1/top'],
    flaws: ['r/1:100-101'],
    reuse: ['A/1/top'],
    told: 'through A/1/bottom',
  },
  'what was bought and what is bought now': {
    document: {
      ...FRAMES,
      labour: { rate: 30 },
      frames: [{ ...LINE, id: 'A', quantity: 3, width: 30, height: 20 }],
      offers: [
        { id: 'ash-8', moulding: 'ash', length: "8'", price: 17.5, breaks: [{ from: 9, price: 16 }] },
        { id: 'ash-5', moulding: 'ash', length: "5'", price: 12, pack: 2, available: 6 },
      ],
    },
    lost: ['A/1/top', 'A/2/top', 'A/3/right'],
    told: 'through A/1/right',
  },
  'too little wood': {
    document: {
      ...FRAMES,
      frames: [{ ...LINE, id: 'A', quantity: 2, width: 30, height: 20 }],
      offers: [{ id: 'ash-9', moulding: 'ash', length: "9'", price: 17.5, available: 2 }],
    },
    lost: ['A/1/top', 'A/2/top'],
    told: 'through A/2/bottom',
  },
  'rings of equal rails': {
    document: {
      ...FRAMES,
      frames: [
        { ...LINE, id: 'H', sides: 6, side: 12 },
        { ...LINE, id: 'F', width: 16, height: 12, match: 'frame' },
      ],
      offers: [{ id: 'ash-9', moulding: 'ash', length: "9'", price: 17.5 }],
    },
    lost: ['H/1/side2'],
    told: 'through H/1/side2',
  },
};

/** What a recut may say either way: told elsewhere in words, of no wood, or below what only a search can prove. */
const FREE = [
  /^notices/,
  /^cutSoFar other$/,
  /\.bound$ lower/,
  // Waste need not be listed; what is, is checked.
  /\.left less/,
  // Facts of older programs are left out.
  /^(.*\.)?(tag|run|runs|seconds|piece|reused|flaws) gone$/,
];

/** As `pairstop check` does: read, then verified. */
function holds(batch: Batch, document: unknown, plan: Plan): boolean {
  try {
    return checkRecut(batch, checkRecutDocument(document), plan).ok;
  } catch (error) {
    expect(error).toBeInstanceOf(PairstopError);
    return false;
  }
}

describe.each(Object.entries(CASES))('a recut: %s', (_name, one) => {
  let plan: Plan;
  let made: Recut;
  let spoiled: readonly Spoiled[];

  beforeAll(async () => {
    plan = await planned(one.document);
    made = JSON.parse(JSON.stringify(await recutOf({ ...one, plan }, one.told))) as Recut;
    spoiled = spoiledFields(made);
  });

  it('holds', () => {
    expect(checkRecut(checkBatch(one.document), made, plan).findings).toEqual([]);
  });

  it('is found wrong in every field', () => {
    const batch = checkBatch(one.document);
    expect(spoiled.length).toBeGreaterThan(200);
    // A stick from which nothing more is cut may be of any run.
    const idle = made.mouldings[0]!.sticks.flatMap(({ rails }, s) => (rails.length === 0 ? [s] : []));
    const free = [...FREE, new RegExp(`sticks.(${idle.join('|') || 'x'}).\\.run `)];
    const passed = spoiled.filter(({ document }) => holds(batch, document, plan));
    expect(passed.map(({ what }) => what).filter((what) => !free.some((one) => one.test(what)))).toEqual([]);
  });
});

it('finds a rail cut to the right of one that is still to be cut', async () => {
  const one = CASES['too little wood']!;
  const plan = await planned(one.document);
  const made = await recutOf({ ...one, plan, lost: ['A/2/top'] }, one.told);
  const [part] = made.mouldings;
  const sticks = part!.sticks.map((stick) => {
    const [first, ...rest] = stick.cut;
    if (first === undefined || rest.length === 0) return stick;
    return { ...stick, cut: rest, rails: [{ ...first, replaces: false, was: stick.stick }, ...stick.rails] };
  });
  const report = checkRecut(checkBatch(one.document), { ...made, mouldings: [{ ...part!, sticks }] });
  expect(report.counts.CHECK_CUT).toBeGreaterThan(0);
});

it('lets a stick be put off to a later run only while nothing has been cut from it', async () => {
  const one = CASES['what was bought and what is bought now']!;
  const plan = await planned(one.document);
  const made = await recutOf({ ...one, plan, lost: ['A/1/top'] }, 'A/1/top');
  const [part] = made.mouldings;
  const earlier = (s: number): number => {
    const sticks = part!.sticks.map((stick, at) => (at === s ? { ...stick, run: stick.run! + 1 } : stick));
    const late = { ...made, mouldings: [{ ...part!, sticks }] };
    return checkRecut(checkBatch(one.document), late, plan).counts.CHECK_EARLIER ?? 0;
  };
  const known = new Set(plan.mouldings[0]!.sticks.map(({ stick }) => stick));
  const found = part!.sticks.flatMap(({ stick, cut, lost }, s) =>
    known.has(stick) ? [{ begun: cut.length + lost.length > 0, refused: earlier(s) > 0 }] : [],
  );
  expect(new Set(found.map(({ begun }) => begun))).toEqual(new Set([true, false]));
  expect(found.filter(({ begun, refused }) => begun !== refused)).toEqual([]);
});

it('leaves no rule untried', async () => {
  const codes = new Set<string>(['CHECK_CUT']);
  for (const one of Object.values(CASES)) {
    const plan = await planned(one.document);
    const made = await recutOf({ ...one, plan }, one.told);
    for (const { document } of spoiledFields(JSON.parse(JSON.stringify(made)))) {
      for (const code of Object.keys(checkRecut(checkBatch(one.document), document as Recut, plan).counts)) {
        codes.add(code);
      }
    }
  }
  expect(Object.keys(recutRules).filter((rule) => !codes.has(rule))).toEqual([]);
});
