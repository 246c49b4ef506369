/** The pool of batches that are planned as one, and what one more order adds to it. */
import * as z from 'zod';
import type { BatchDocument } from '../../documents/batch/schema.js';
import { AGAINST } from '../../documents/quote/against.js';
import { choiceField, numberField } from '../../read/fields.js';
import { callerIn } from '../caller.js';
import type { DoorApp, DoorContext } from '../context.js';
import { bytesIn } from '../http/bytes.js';
import { bodyIn } from '../http/read-body.js';
import { bodyOf, documents, resource } from '../openapi/resources.js';
import { answers, problems } from '../openapi/responses.js';

const BODY_MOST = 8 * 2 ** 20;
const WAIT_MS = 20_000;
const MINUTE = 60_000;
const MINUTES_MOST = 7 * 24 * 60;

const moment = z.number().nullable().describe('milliseconds since 1970, by the clock of Redis, or null');

export const nightStatus = resource(
  'Night',
  z.looseObject({
    opened: moment,
    closes: moment,
    waiting: z.array(z.looseObject({ id: z.string() })).describe('in the order of arrival'),
    nights: z
      .array(z.looseObject({ id: z.string(), batches: z.array(z.string()) }))
      .describe('closed, and still worked on'),
    settings: z.looseObject({
      close: z.string().nullable().describe('time of day, as 22:00'),
      zone: z.string(),
      atMost: z.number().describe('hours a batch waits at most'),
    }),
  }),
);

const closing = resource(
  'NightClosing',
  z.object({
    closed: z
      .object({ night: z.string().describe('id of its plan'), batches: z.int() })
      .nullable()
      .describe('null: nothing waited'),
  }),
);

const range = z.looseObject({ value: z.number(), least: z.number(), most: z.number() });
const quote = resource(
  'Quote',
  z
    .looseObject({
      schema: z.literal('pairstop/quote@1'),
      batch: z.string(),
      against: z.enum(AGAINST),
      status: z.enum(['complete', 'short']),
      money: range.describe('wood to buy: as found, and what is proven of it'),
      sure: z.enum(['proven', 'within']),
      seconds: z.number().describe('sawing time it adds: the difference of two plans as found, not proven'),
    })
    .describe('what one more order adds (pairstop/quote@1)'),
);

const quoteBody = bodyOf(
  'QuoteRequest',
  z
    .strictObject({
      batch: documents.Batch,
      against: choiceField(AGAINST, 'what it is added to; the night where nothing is given').optional(),
      hold: numberField(0, MINUTES_MOST, 'minutes for which the pieces of the rack are held').optional(),
    })
    .describe('an object with batch, against and hold'),
);

const settingsBody = bodyOf(
  'NightSettings',
  z
    .strictObject({
      close: z.string().max(8).nullable().describe('time of day as 22:00, or null for none').optional(),
      zone: z.string().max(64).describe("the time's zone, as Europe/Berlin").optional(),
      atMost: numberField(0, 744, 'hours a batch waits at most').optional(),
    })
    .describe('an object with close, zone and atMost'),
);

/** Fields that are not given are left out. */
function given<T extends object>(of: T): { [K in keyof T]: Exclude<T[K], undefined> } {
  return Object.fromEntries(Object.entries(of).filter(([, value]) => value !== undefined)) as {
    [K in keyof T]: Exclude<T[K], undefined>;
  };
}

export function addNightRoutes(app: DoorApp, _context: DoorContext): void {
  const tags = ['night'];
  app.get(
    '/v1/night',
    {
      config: { scope: 'read' },
      schema: {
        operationId: 'night',
        summary: 'What waits in the pool, and when it closes',
        tags,
        response: { 200: answers('the pool', nightStatus), ...problems() },
      },
    },
    async (request) => (await callerIn(request).client.night.status()) as never,
  );
  app.put(
    '/v1/night',
    {
      config: { scope: 'operate' },
      schema: {
        operationId: 'setNight',
        summary: 'Set when the pool closes',
        tags,
        body: settingsBody,
        response: { 200: answers('the pool', nightStatus), ...problems(413, 415, 422) },
      },
    },
    async (request) => {
      const settings = bodyIn(settingsBody, bytesIn(request));
      return (await callerIn(request).client.night.set(given(settings))) as never;
    },
  );
  app.post(
    '/v1/night/closings',
    {
      config: { scope: 'operate' },
      schema: {
        operationId: 'closeNight',
        summary: 'Close the pool now',
        tags,
        response: { 200: answers('what was closed', closing), ...problems() },
      },
    },
    async (request) => ({ closed: await callerIn(request).client.night.close() }),
  );
  app.post(
    '/v1/quotes',
    {
      config: { scope: 'submit', bodyMost: BODY_MOST },
      schema: {
        operationId: 'quote',
        summary: 'What one more order adds in wood, money and hours',
        description:
          'The difference of two plans, and as sure as their bounds. Reserves nothing unless asked to hold.',
        tags,
        body: quoteBody,
        response: { 200: answers('the quote', quote), ...problems(413, 415, 422) },
      },
    },
    async (request) => {
      const { batch, against, hold = 0 } = bodyIn(quoteBody, bytesIn(request));
      const found = await callerIn(request).client.quote(batch as unknown as BatchDocument, {
        ...(against !== undefined && { against }),
        hold: Math.round(hold * MINUTE),
        wait: WAIT_MS,
      });
      return found as never;
    },
  );
}
