/** What the door answers of the rack, the night and webhooks, by operation and status. */
import type { AnswerExamples } from './answers.js';

export const SHOP_EXAMPLES: AnswerExamples = {
  enterPieces: { 201: { entered: 1 } },
  rack: {
    200: {
      schema: 'pairstop/rack@1',
      units: 'mm',
      pieces: [
        {
          id: 'r17',
          moulding: 'ash-cap',
          length: 1555.75,
          ends: ['raw', 'raw'],
          flaws: [],
          value: null,
          place: 'wall',
          state: 'free',
          batch: null,
        },
      ],
    },
  },
  changePiece: {
    200: {
      schema: 'pairstop/rack@1',
      units: 'mm',
      pieces: [
        {
          id: 'r17',
          moulding: 'ash-cap',
          length: 1555.75,
          ends: ['raw', 'raw'],
          flaws: [],
          value: null,
          place: 'wall',
          state: 'free',
          batch: null,
        },
      ],
    },
  },
  pieceHistory: {
    200: {
      id: 'r17',
      entries: [
        {
          id: '1795734008534-0',
          event: {
            v: 1,
            who: 'this machine',
            why: null,
            kind: 'added',
            how: 'imported',
            piece: {
              id: 'r17',
              moulding: 'ash-cap',
              length: 1555750,
              ends: ['raw', 'raw'],
              flaws: [],
              value: null,
              place: 'wall',
              from: { kind: 'entered' },
            },
          },
        },
        {
          id: '1795734008605-0',
          event: { v: 1, who: 'this machine', why: 'tidied up', kind: 'moved', piece: 'r17', place: 'wall' },
        },
      ],
    },
  },
  countRack: {
    200: {
      right: 1,
      moved: [],
      unclear: ['r21'],
      odd: [],
      lengths: 'mm',
      settled: true,
      missing: [],
      found: [],
      measured: [],
    },
  },
  auditRack: {
    200: {
      ok: true,
      entries: 2,
      pieces: 1,
      balances: [
        {
          moulding: 'ash-cap',
          came: 1555750,
          rails: 0,
          waste: 0,
          gone: 0,
          lying: 1555750,
          offcuts: 0,
          off: 0,
        },
      ],
      findings: [],
      total: 0,
    },
  },
  expectedSticks: {
    200: {
      lengths: 'mm',
      expected: [{ batch: 'from-the-rack', offer: 'ash-10', moulding: 'ash-cap', length: 3048, count: 1 }],
    },
  },
  receiveSticks: {
    200: {
      batch: 'from-the-rack',
      dropped: [],
      lengths: 'mm',
      received: [
        {
          id: 'from-the-rack/ash-10/1',
          offer: 'ash-10',
          length: 3035.3,
          stick: 'ash-10/1',
          fits: true,
        },
      ],
      expected: [],
    },
  },
  tellCuts: {
    200: {
      batch: 'from-the-rack',
      rails: 7,
      spoiled: 1,
      used: ['from-the-rack/ash-10/1', 'r17'],
      begun: [],
      released: [],
      own: [],
      entered: [],
      lengths: 'mm',
      waste: 563.949,
      offcuts: [
        {
          id: 'from-the-rack/o1',
          code: 'pairstop:rack/from-the-rack%2Fo1',
          moulding: 'ash-cap',
          length: 410.776,
          ends: ['mitred', 'raw'],
          place: 'bench',
        },
      ],
    },
  },
  night: {
    200: {
      opened: 1795734009246,
      closes: 1795813200000,
      waiting: [{ id: 'order-c', submitted: 1795734009246, due: null, frames: 2 }],
      nights: [],
      settings: { close: '22:00', zone: 'Europe/Berlin', atMost: 24 },
    },
  },
  setNight: {
    200: {
      opened: null,
      closes: null,
      waiting: [],
      nights: [],
      settings: { close: '22:00', zone: 'Europe/Berlin', atMost: 24 },
    },
  },
  closeNight: { 200: { closed: { night: 'night-1', batches: 1 } } },
  quote: {
    200: {
      schema: 'pairstop/quote@1',
      batch: 'two-seascapes',
      against: 'night',
      status: 'complete',
      frames: 2,
      missing: [],
      railLength: 4089.4,
      money: { value: 46.8, least: 46.8, most: 46.8 },
      sure: 'proven',
      sticks: 1,
      stockLength: 4540.25,
      rackLength: -1555.75,
      seconds: 366,
      mouldings: [{ moulding: 'ash-cap', money: { value: 46.8, least: 46.8, most: 46.8 } }],
      beside: { batches: 1, frames: 2, pieces: 0 },
      held: null,
    },
  },
  addWebhook: {
    201: {
      id: 'wh_RumIsefSXfWz',
      url: 'https://shop.example/pairstop',
      events: ['done', 'failed'],
      every: true,
      made: 1795734009668,
      stopped: null,
      secret: 'whsec_bm90IGEgc2VjcmV0LCBvbmx5IGFuIGV4YW1wbGUu',
    },
  },
  listWebhooks: {
    200: {
      webhooks: [
        {
          id: 'wh_RumIsefSXfWz',
          url: 'https://shop.example/pairstop',
          events: ['done', 'failed'],
          every: true,
          made: 1795734009668,
          stopped: null,
        },
      ],
    },
  },
  webhook: {
    200: {
      id: 'wh_RumIsefSXfWz',
      url: 'https://shop.example/pairstop',
      events: ['done', 'failed'],
      every: true,
      made: 1795734009668,
      stopped: null,
    },
  },
  changeWebhook: {
    200: {
      id: 'wh_RumIsefSXfWz',
      url: 'https://shop.example/pairstop',
      events: ['done'],
      every: true,
      made: 1795734009668,
      stopped: null,
    },
  },
  rotateWebhook: {
    200: {
      id: 'wh_RumIsefSXfWz',
      url: 'https://shop.example/pairstop',
      events: ['done'],
      every: true,
      made: 1795734009668,
      stopped: null,
      secret: 'whsec_bm90IGEgc2VjcmV0LCBvbmx5IGFuIGV4YW1wbGUu',
    },
  },
  testWebhook: {
    202: {
      id: 'msg_maWhrFOuXkia8N_I0ji1uawm-8c',
      webhook: 'wh_RumIsefSXfWz',
      type: 'pairstop.test',
      batch: null,
      state: 'delivered',
      made: 1795734009789,
      attempts: [{ at: 1795734009819, ms: 57, status: 204, error: null }],
      next: null,
    },
  },
  deliveries: {
    200: {
      deliveries: [
        {
          id: 'msg_maWhrFOuXkia8N_I0ji1uawm-8c',
          webhook: 'wh_RumIsefSXfWz',
          type: 'pairstop.test',
          batch: null,
          state: 'delivered',
          made: 1795734009789,
          attempts: [{ at: 1795734009819, ms: 57, status: 204, error: null }],
          next: null,
        },
      ],
    },
  },
};
