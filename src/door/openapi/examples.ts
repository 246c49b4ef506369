/** Examples of the OpenAPI document, by operation: each is checked against its schema. */

const batch = {
  schema: 'pairstop/batch@1',
  id: 'two-seascapes',
  units: 'in',
  saw: { kerf: '3/32', recut: '1/16', stopStep: '1/32' },
  mouldings: [{ id: 'ash-cap', face: '1 1/4', rabbet: '1/4', endTrim: '1/2' }],
  frames: [{ id: 'A-101', moulding: 'ash-cap', quantity: 2, width: '16', height: '20' }],
  sticks: [{ id: 'r17', moulding: 'ash-cap', length: '61 1/4' }],
  offers: [{ id: 'ash-10', moulding: 'ash-cap', length: "10'", price: 23.4 }],
};

export const REQUEST_EXAMPLES: Readonly<Record<string, unknown>> = {
  submitBatch: batch,
  submitComparison: batch,
  checkSaw: { batch, gap: '1/64', angles: [45.2] },
  rails: { batch },
  recutOfRecut: { lost: ['A-101/2/top'] },
  recutOfBatch: { lost: ['A-101/1/top'], cutSoFar: ['through A-101/1/bottom'] },
  tellCuts: { run: 1, spoiled: ['A-101/1/top'], place: 'bench' },
  receiveSticks: { offer: 'ash-10', count: 2, length: '9\' 11 1/2"' },
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
