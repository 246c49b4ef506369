/** What the door answers to `requests.ts`, by operation and status. The tests hold them against what it does answer. */
import { BATCH_EXAMPLE, COMPARISON_EXAMPLE, PLAN_EXAMPLE, RECUT_EXAMPLE } from './documents.js';

import { LISTS_EXAMPLE } from './lists.js';

/** By operation and status. */
export type AnswerExamples = Readonly<Record<string, Readonly<Record<number, unknown>>>>;

const [SUBMITTED, STARTED, FINISHED] = [1_795_733_996_647, 1_795_733_997_077, 1_795_733_997_709];

/** Of batches and of comparisons alike. */
function kindExamples(path: 'batches' | 'comparisons', work: 'plan' | 'compare'): AnswerExamples {
  const { id } = BATCH_EXAMPLE;
  const fingerprint =
    work === 'plan'
      ? 'cc9fd1141e2f728e90a550597f475433190f24a0e56723d2e93e308394a41169'
      : '172bfb8feae44104fd580f4d2e88549511cd5eea0d4e110742425cfd3f2c9521';
  const self = `/v1/${path}/${id}`;
  const links = { self, events: `${self}/events`, result: `${self}/${work === 'plan' ? 'plan' : 'result'}` };
  const submission = (outcome: 'new' | 'same', state: 'waiting' | 'done') => ({
    ...{ id, fingerprint, outcome, state, revision: 1, links },
  });
  const ended = { state: 'done', outcome: 'complete', urgency: 'now', revision: 1 };
  const status = {
    ...{ id, state: 'done', fingerprint, urgency: 'now', run: 1, revision: 1 },
    ...{ submitted: SUBMITTED, starts: null, started: STARTED, finished: FINISHED },
    ...{ pool: null, night: null, batches: [] },
    progress: {
      mouldings: { total: 1, done: 1, failed: 0 },
      planned: 1,
      cost: { value: 23.4, bound: 23.4 },
      length: null,
      gap: 0,
      elapsed: (FINISHED - STARTED) / 1_000,
      finish: { likely: 0, latest: 0 },
    },
    mouldings: [
      {
        moulding: 'ash-cap',
        state: 'done',
        proof: { status: 'optimal', measure: 'cost', value: 23.4, bound: 23.4 },
        frames: 2,
        ordered: 2,
      },
    ],
    sawing: work === 'plan' ? 536 : null,
    outcome: 'complete',
    failure: null,
  };
  const one = work === 'plan' ? 'Batch' : 'Comparison';
  return {
    [`submit${one}`]: { 202: submission('new', 'waiting'), 200: submission('same', 'done') },
    [work === 'plan' ? 'listBatches' : 'listComparisons']: {
      200: {
        batches: [{ id, work, ...ended, submitted: SUBMITTED, finished: FINISHED, cost: 23.4 }],
        next: null,
      },
    },
    [`status${one}`]: { 200: status },
    [`document${one}`]: { 200: BATCH_EXAMPLE },
    [`result${one}`]: { 200: work === 'plan' ? PLAN_EXAMPLE : COMPARISON_EXAMPLE },
  };
}

const CANCELLED = {
  ...{ id: 'order-c', state: 'cancelled' },
  fingerprint: '26fd47faf1ca53e904086eeb34d9903cdcf3d181894146835ef9b177a1be406f',
  ...{ urgency: 'now', run: 1, revision: 1, submitted: SUBMITTED, starts: null, started: null },
  ...{ finished: FINISHED, pool: null, night: null, batches: [], progress: null, mouldings: [] },
  ...{ sawing: null, outcome: null, failure: null },
};

const MADE = {
  id: 'cBE0hY0KaKiD6ZDc',
  status: 'complete',
  self: '/v1/batches/two-seascapes/recuts/cBE0hY0KaKiD6ZDc',
  sheet: '/v1/batches/two-seascapes/recuts/cBE0hY0KaKiD6ZDc?form=html',
  recut: RECUT_EXAMPLE,
};

export const ANSWER_EXAMPLES: AnswerExamples = {
  live: { 200: { live: true } },
  ready: { 200: { ready: true, why: null }, 503: { ready: false, why: 'Redis does not answer' } },
  me: {
    200: {
      key: null,
      name: 'this machine',
      shop: 'pairstop',
      scopes: ['read', 'submit', 'operate'],
      rate: 1000,
      ends: null,
    },
  },
  service: {
    200: {
      workers: [
        {
          id: '963d6c4f-7855-4271-969a-0bdf08d232b0',
          host: 'workshop',
          pid: 4711,
          at: 1795734005362,
          started: 1795733989992,
          every: 5000,
          slots: { now: 1, tonight: 1 },
          running: [],
          done: 4,
          failed: 0,
          memory: 117964800,
          version: '0.1.0',
          dropped: 0,
          rails: 1665805,
          passing: true,
        },
      ],
      lost: [],
      queues: {
        now: {
          batches: { waiting: 0, active: 0, delayed: 0, divided: 0, failed: 0, oldest: null },
          mouldings: { waiting: 0, active: 0, delayed: 0, divided: 0, failed: 0, oldest: null },
        },
        tonight: {
          batches: { waiting: 0, active: 0, delayed: 0, divided: 0, failed: 0, oldest: null },
          mouldings: { waiting: 0, active: 0, delayed: 0, divided: 0, failed: 0, oldest: null },
        },
      },
      errors: [],
      toSaw: { plans: 2, seconds: 1072, unknown: 0 },
    },
  },
  problemType: {
    200: { code: 'PS_BATCH', about: 'the batch breaks the contract; every problem is listed', status: 422 },
  },
  ...kindExamples('batches', 'plan'),
  cancelBatch: { 200: CANCELLED },
  ...kindExamples('comparisons', 'compare'),
  cancelComparison: { 200: CANCELLED },
  listsOfBatch: { 200: LISTS_EXAMPLE },
  recutOfBatch: { 201: MADE },
  recutOfRecut: { 201: MADE },
  recutKept: { 200: RECUT_EXAMPLE },
  recut: { 200: RECUT_EXAMPLE },
  check: {
    200: {
      ok: true,
      findings: [],
      total: 0,
      counts: {},
      verified: {
        mouldings: 1,
        frames: 2,
        sticks: 2,
        rails: 8,
        joints: 6,
        remainders: 2,
        stops: 2,
        pairs: 4,
        purchases: 1,
      },
    },
  },
  checkSaw: {
    200: {
      schema: 'pairstop/saw@1',
      batch: 'two-seascapes',
      units: 'in',
      gap: 0.396,
      frames: [
        {
          frame: 'A-101',
          moulding: 'ash-cap',
          sides: 4,
          mitre: 45,
          ends: 8,
          face: 31.75,
          joint: 44.901,
          angle: 0.063,
          lastJoint: 0.504,
          pairs: [
            { rails: ['top', 'bottom'], length: 460.375, difference: 9.912 },
            { rails: ['right', 'left'], length: 561.975, difference: 8.12 },
          ],
          measured: {
            angle: 45.2,
            error: 0.2,
            lastJoint: 1.6,
            gap: 1.258,
            shared: 0.315,
            miss: 10.109,
            opens: 'sight',
            holds: false,
          },
        },
      ],
      holds: false,
      tests: [
        {
          sides: 4,
          mitre: 45,
          moulding: 'ash-cap',
          face: 31.75,
          setting: 152.4,
          clamp: false,
          scrap: 649.868,
          pass: 0.396,
          readings: [
            { gap: 0.198, past: 0.0316, short: 0.0316 },
            { gap: 0.396, past: 0.0631, short: 0.0632 },
            { gap: 0.792, past: 0.1261, short: 0.1266 },
            { gap: 1.584, past: 0.2516, short: 0.2538 },
          ],
        },
      ],
      notices: [],
    },
  },
  rails: {
    200: {
      batch: 'two-seascapes',
      units: 'in',
      lengths: 'mm',
      frames: [
        {
          frame: 'A-101',
          moulding: 'ash-cap',
          quantity: 2,
          rails: [
            { sides: ['top', 'bottom'], length: 460.375, angle: 45 },
            { sides: ['right', 'left'], length: 561.975, angle: 45 },
          ],
        },
      ],
    },
  },
};
