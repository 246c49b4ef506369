/** Examples of the OpenAPI document, by operation: each is checked against its schema. */
import {
  BATCH_EXAMPLE as batch,
  COMPARISON_EXAMPLE as comparison,
  PLAN_EXAMPLE as plan,
  RECUT_EXAMPLE as recut,
} from './documents.js';

export const REQUEST_EXAMPLES: Readonly<Record<string, unknown>> = {
  submitBatch: batch,
  submitComparison: batch,
  checkSaw: { batch, gap: '1/64', angles: [45.2] },
  rails: { batch },
  recut: { batch, plan, lost: ['A-101/1/top'], cutSoFar: ['through A-101/1/bottom'] },
  check: { batch, plan },
  recutOfRecut: { lost: ['A-101/2/top'] },
  recutOfBatch: { lost: ['A-101/1/top'], cutSoFar: ['through A-101/1/bottom'] },
  tellCuts: { run: 1, spoiled: ['A-101/1/top'], place: 'bench' },
  receiveSticks: { offer: 'ash-10', count: 1, length: '9\' 11 1/2"' },
  countRack: { pieces: [{ id: 'r17', length: '61 1/4 in' }, { id: 'r21' }], settle: true },
  changePiece: { place: 'wall', why: 'tidied up' },
  enterPieces: {
    schema: 'pairstop/rack@1',
    units: 'in',
    pieces: [{ id: 'r17', moulding: 'ash-cap', length: '61 1/4', place: 'wall' }],
  },
  changeWebhook: { url: 'https://shop.example/pairstop', events: ['done'] },
  setNight: { close: '22:00', zone: 'Europe/Berlin', atMost: 24 },
  quote: { batch, against: 'night', hold: 30 },
  addWebhook: { url: 'https://shop.example/pairstop', events: ['done', 'failed'], every: true },
};

/** Where a body may be of several kinds, one of each. */
export const MORE_REQUESTS: Readonly<Record<string, Readonly<Record<string, unknown>>>> = {
  check: {
    plan: { batch, plan },
    recut: { batch, plan, recut },
    comparison: { batch, comparison },
  },
};

const order = [
  'id,moulding,quantity,width (mm),height (mm)',
  'A-101,ash-cap,2,400,500',
  '',
  '[mouldings]',
  'id,face (mm),rabbet (mm)',
  'ash-cap,32,6',
  '',
  '[offers]',
  'id,moulding,length (mm),price',
  'ash-24,ash-cap,2400,20',
].join('\n');

/** Bodies in CSV, by operation. */
export const CSV_EXAMPLES: Readonly<Record<string, string>> = {
  submitBatch: order,
  submitComparison: order,
  enterPieces: ['id;moulding;length (mm);place', 'r17;ash-cap;1555.8;wall'].join('\n'),
};

export const PROBLEM_EXAMPLE = {
  type: '/v1/problems/PS_BATCH',
  title: 'the batch breaks the contract; every problem is listed',
  status: 422,
  detail: 'the batch is refused: one problem',
  code: 'PS_BATCH',
  problems: [
    {
      path: 'frames[3].width',
      given: '-3',
      allowed: 'a length of 0.001 to 100000 mm',
    },
  ],
};
