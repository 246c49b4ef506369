/** The door: the service over HTTP. Thin over the typed client; it has no rule of its own about batches or plans. */
import { constants } from 'node:zlib';
import compress from '@fastify/compress';
import cors from '@fastify/cors';
import swagger from '@fastify/swagger';
import Fastify, {
  type FastifyBaseLogger,
  type FastifyReply,
  type FastifyRequest,
  LogController,
} from 'fastify';
import type { ZodTypeProvider } from 'fastify-type-provider-zod';
import type { Logger } from 'pino';
import { PairstopError } from '../errors.js';
import { Session } from '../queue/client/session.js';
import { parseJson } from '../read/json.js';
import { VERSION } from '../version.js';
import { callerOf, type Gate, requireScope } from './caller.js';
import type { DoorApp, DoorContext } from './context.js';
import { HeavyPool } from './heavy/pool.js';
import { BodyRoom, readBody } from './http/body.js';
import { UseLimits } from './http/limits.js';
import { answerMalformed } from './http/malformed.js';
import { knownError, PROBLEM_TYPE, problemAnswer, refuseRequest } from './http/problem.js';
import { safetyHeaders } from './http/safety.js';
import { validatorCompiler } from './http/validate.js';
import { KeyRing } from './keys/keys.js';
import { DoorMetrics } from './metrics.js';
import { swaggerOptions } from './openapi/document.js';
import { Hub } from './progress/hub.js';
import { RecutBook } from './recuts.js';
import { addRoutes } from './routes/routes.js';
import type { DoorSettings } from './settings.js';
import { Shops } from './shops.js';
import { WebhookBook } from './webhooks/book.js';
import { Courier } from './webhooks/courier.js';
import { type Resolve, WebhookGuard } from './webhooks/guard.js';

/** Longest id, every character of it four bytes and percent-encoded. */
const PARAMETER_MOST = 1_600;
const COMPRESS_FROM = 1_024;
const BROTLI_QUALITY = 4;
const SMALL_JSON = { bytes: 65_536, values: 1_000 };
const PING_MS = 2_000;
/** The page of the OpenAPI document has its style within. */
const CONTENT_POLICY = {
  useDefaults: false,
  directives: {
    defaultSrc: ["'none'"],
    styleSrc: ["'unsafe-inline'"],
    imgSrc: ["'self'", 'data:'],
    baseUri: ["'none'"],
    formAction: ["'none'"],
    frameAncestors: ["'none'"],
  },
};

export interface DoorOptions {
  readonly log: Logger;
  /** Where it listens only this machine can reach. */
  readonly loopback: boolean;
  /** How the names of webhooks are looked up; by the system where nothing is given. */
  readonly resolve?: Resolve;
}

export interface Door {
  readonly app: DoorApp;
  readonly keys: KeyRing;
  readonly close: () => Promise<void>;
}

function sendProblem(error: unknown, request: FastifyRequest, reply: FastifyReply): FastifyReply {
  const known = knownError(error);
  if (known === null || known.code === 'PS_INTERNAL') {
    const reason = error instanceof Error ? (error.stack ?? error.message) : String(error);
    request.log.error(
      { reason, method: request.method, route: request.routeOptions.url },
      'a fault in the program',
    );
  }
  const { status, headers, body } = problemAnswer(
    known === null || known.code === 'PS_INTERNAL'
      ? new PairstopError('PS_INTERNAL', 'a fault in the program; the log has the reason')
      : known,
  );
  if (status === 413) reply.header('connection', 'close');
  return reply.code(status).headers(headers).type(PROBLEM_TYPE).send(JSON.stringify(body));
}

export async function createDoor(
  settings: DoorSettings,
  { log, loopback, resolve }: DoorOptions,
): Promise<Door> {
  const { redis, prefix, retention, timing, bodyMost, bodiesMost } = settings;
  const session = new Session({ connection: redis, prefix, patience: timing.patience, retention });
  const keys = new KeyRing(session, prefix);
  const shops = new Shops(settings);
  const hub = new Hub();
  const heavy = new HeavyPool({ connection: redis, patience: timing.patience, retention });
  const limits = new UseLimits();
  const room = new BodyRoom(bodiesMost);
  const gate: Gate = { keys, shops, settings, loopback };
  const alive = async (): Promise<boolean> => {
    const late = new Promise<false>((resolve) => setTimeout(() => resolve(false), PING_MS).unref());
    const answer = session
      .ask('asking whether Redis answers', () => session.redis.ping())
      .then(
        () => true,
        () => false,
      );
    return Promise.race([answer, late]);
  };
  const recuts = new RecutBook(session, retention);
  const book = new WebhookBook(session, prefix);
  const guard = new WebhookGuard(settings.networks, resolve);
  const metrics = new DoorMetrics({
    watched: () => hub.size,
    listeners: () => hub.listeners,
    bodies: () => room.taken,
    waiting: () => heavy.waiting,
    alive,
  });
  const courier = new Courier({ settings, book, guard, shops, log, told: metrics.told });
  const context: DoorContext = {
    settings,
    shops,
    hub,
    heavy,
    limits,
    alive,
    recuts,
    book,
    guard,
    courier,
    metrics,
  };

  const app: DoorApp = Fastify({
    loggerInstance: log as FastifyBaseLogger,
    logController: new LogController({ disableRequestLogging: true }),
    bodyLimit: bodyMost,
    routerOptions: { maxParamLength: PARAMETER_MOST, caseSensitive: true },
    requestTimeout: timing.request,
    connectionTimeout: timing.idle,
    keepAliveTimeout: timing.idle,
    // A missing Host is refused below, in words; Node would answer it without any.
    http: { headersTimeout: timing.head, connectionsCheckingInterval: 1_000, requireHostHeader: false },
    clientErrorHandler: answerMalformed,
    frameworkErrors: sendProblem as never,
    forceCloseConnections: true,
    exposeHeadRoutes: true,
    return503OnClosing: true,
  }).withTypeProvider<ZodTypeProvider>() as DoorApp;

  app.setValidatorCompiler(validatorCompiler as never);
  // What is sent is what the client answered; tests hold it against the document.
  app.setSerializerCompiler(() => (data) => JSON.stringify(data));
  app.setErrorHandler((error, request, reply) => {
    metrics.refused(knownError(error)?.code ?? 'PS_INTERNAL');
    return sendProblem(error, request, reply);
  });
  app.decorateRequest('caller', null);

  const safe = await safetyHeaders({
    contentSecurityPolicy: CONTENT_POLICY,
    crossOriginResourcePolicy: { policy: settings.origins.length > 0 ? 'cross-origin' : 'same-origin' },
    strictTransportSecurity: false,
  });
  app.addHook('onRequest', (_request, reply, done) => {
    reply.headers(safe);
    done();
  });
  if (settings.origins.length > 0) {
    await app.register(cors, {
      origin: [...settings.origins],
      methods: ['GET', 'HEAD', 'POST', 'PUT', 'PATCH', 'DELETE'],
      allowedHeaders: [
        'authorization',
        'content-type',
        'content-encoding',
        'accept',
        'prefer',
        'if-none-match',
        'last-event-id',
      ],
      exposedHeaders: ['location', 'content-location', 'etag', 'retry-after', 'preference-applied'],
      maxAge: 600,
    });
  }
  await app.register(compress, {
    global: true,
    threshold: COMPRESS_FROM,
    encodings: ['br', 'gzip'],
    brotliOptions: { params: { [constants.BROTLI_PARAM_QUALITY]: BROTLI_QUALITY } },
    globalDecompression: false,
  });
  await app.register(swagger, swaggerOptions(VERSION));

  app.removeAllContentTypeParsers();
  const read = async (request: FastifyRequest, payload: NodeJS.ReadableStream): Promise<Buffer> => {
    const most = request.routeOptions.config.bodyMost ?? bodyMost;
    return readBody(payload as never, request.headers, most, room);
  };
  app.addContentTypeParser(
    'application/json',
    async (request: FastifyRequest, payload: NodeJS.ReadableStream) => read(request, payload),
  );
  app.addContentTypeParser('text/csv', async (request: FastifyRequest, payload: NodeJS.ReadableStream) => {
    if (request.routeOptions.config.csv === true) return read(request, payload);
    throw new PairstopError('PS_MEDIA', 'Content-Type: given "text/csv"; allowed here: application/json');
  });

  app.addHook('onRequest', async (request, reply) => {
    if (request.headers.host === undefined && request.raw.httpVersion === '1.1')
      throw refuseRequest('headers.host', 'none', 'the name or address the door is called by');
    const { scope } = request.routeOptions.config;
    if (scope === undefined) return;
    const caller = await callerOf(request, gate);
    request.caller = caller;
    const leave = limits.enter(caller.key ?? '', caller.allowance);
    reply.raw.once('close', leave);
    requireScope(caller, scope);
  });
  // Nothing moves on a connection while its answer is worked out or waited for; that is no reason to cut it off.
  app.addHook('preHandler', (request, _reply, done) => {
    request.raw.socket.setTimeout(0);
    done();
  });
  app.addHook('onSend', (request, _reply, payload, done) => {
    request.raw.socket.setTimeout(timing.idle);
    done(null, payload);
  });
  app.addHook('onResponse', (request, reply, done) => {
    const { caller, method } = request;
    const { url: route } = request.routeOptions;
    const [status, took] = [reply.statusCode, reply.elapsedTime];
    metrics.answered(method, route, status, took / 1_000);
    if (log.isLevelEnabled('debug'))
      log.debug({ key: caller?.key ?? null, method, route, status, ms: Math.round(took) }, 'answered');
    done();
  });
  app.addHook('preValidation', (request, _reply, done) => {
    try {
      if (request.routeOptions.config.parsed === true)
        request.body = parseJson((request.body as Buffer | undefined) ?? '', SMALL_JSON);
      done();
    } catch (error) {
      done(error as Error);
    }
  });
  addRoutes(app, context);
  await app.ready();
  courier.start();

  const close = async (): Promise<void> => {
    hub.close();
    await app.close();
    await courier.close();
    await Promise.all([heavy.close(), shops.close(), session.close()]);
  };
  return { app, keys, close };
}
