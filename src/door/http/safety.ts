/** Headers that keep browsers from doing more with an answer than it is for. */
import helmet, { type FastifyHelmetOptions } from '@fastify/helmet';
import Fastify from 'fastify';

/** What every answer has anyway. */
const USUAL: ReadonlySet<string> = new Set(['content-length', 'content-type', 'date', 'connection']);

/** As helmet has them. They are the same for every answer, so it is asked once and not at each request. */
export async function safetyHeaders(
  options: FastifyHelmetOptions,
): Promise<Readonly<Record<string, string>>> {
  const app = Fastify();
  await app.register(helmet, options);
  app.get('/', async () => '');
  const { headers } = await app.inject('/');
  await app.close();
  return Object.fromEntries(
    Object.entries(headers).flatMap(([name, value]) => (USUAL.has(name) ? [] : [[name, String(value)]])),
  );
}
