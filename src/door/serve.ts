/** The door as a process: listens until it is told to stop, and then ends for certain. */
import type { Logger } from 'pino';
import { Session } from '../queue/client/session.js';
import { connect } from '../queue/redis/connection.js';
import { isOutage } from '../queue/redis/outage.js';
import { createDoor, type Door } from './door.js';
import { KeyRing } from './keys/keys.js';
import type { DoorSettings } from './settings.js';
import { warmUp } from './warm.js';
import type { Resolve } from './webhooks/guard.js';

const LAST_WORD_MS = 500;
const LOOK_FOR_KEYS_MS = 2_000;
const LOOPBACK = '127.0.0.1';

export function isLoopback(host: string): boolean {
  return host === 'localhost' || host === '::1' || /^127(\.\d{1,3}){3}$/.test(host);
}

export interface RunningDoor {
  /** Where it listens. */
  readonly url: string;
  readonly stop: () => Promise<void>;
}

/** Waits for Redis, for as long as the settings say, and asks whether there is a key. */
async function anyKey(settings: DoorSettings, log: Logger): Promise<boolean> {
  const { redis: connection, prefix, retention, timing, startWait } = settings;
  const session = new Session({ connection, prefix, patience: timing.patience, retention });
  try {
    await connect(session.redis, connection, startWait, log);
    return await new KeyRing(session, prefix).some();
  } finally {
    await session.close();
  }
}

/**
 * Listens where the settings say; where others could reach it, only once there is a key, and until then on this
 * machine alone. Throws PS_REDIS when Redis does not answer, and what listening throws.
 */
export async function startDoor(
  settings: DoorSettings,
  log: Logger,
  resolve?: Resolve,
): Promise<RunningDoor> {
  let timer: NodeJS.Timeout | undefined;
  let door: Door | null = null;
  const open = async (host: string): Promise<string> => {
    const loopback = isLoopback(host);
    const made = await createDoor(settings, { log, loopback, ...(resolve === undefined ? {} : { resolve }) });
    try {
      const url = await made.app.listen({ host, port: settings.port, listenTextResolver: () => 'listening' });
      door = made;
      return url;
    } catch (error) {
      await made.close();
      throw error;
    }
  };
  const some = await anyKey(settings, log);
  const wide = !isLoopback(settings.host);
  const url = await open(wide && !some ? LOOPBACK : settings.host);
  if (!some) {
    log.warn(
      { listens: url, wanted: settings.host },
      'there is no key, so only this machine may call, without one; make one with: pairstop keys add',
    );
  }
  if (wide && !some) {
    const look = async (): Promise<void> => {
      if (!(await door?.keys.some())) return;
      clearInterval(timer);
      await door?.close();
      log.info({ listens: await open(settings.host) }, 'there is a key now: the door is open to others');
    };
    timer = setInterval(() => void look().catch(() => {}), LOOK_FOR_KEYS_MS);
  }
  log.info({ listens: url, prefix: settings.prefix }, 'door ready');
  return {
    url,
    stop: async () => {
      clearInterval(timer);
      log.info('closing the door');
      await door?.close();
      log.info('door closed');
    },
  };
}

/** Resolves with the exit code once the door has been closed, by SIGTERM, SIGINT or a fault. */
export async function serveDoorUntilStopped(settings: DoorSettings, log: Logger): Promise<number> {
  let stop: (code: number) => void = () => {};
  const told = new Promise<number>((resolve) => {
    stop = resolve;
  });
  for (const signal of ['SIGTERM', 'SIGINT'] as const) process.on(signal, () => stop(0));
  process.on('unhandledRejection', (error) => {
    if (isOutage(error)) return;
    log.fatal({ reason: error instanceof Error ? error.stack : String(error) }, 'a fault in the program');
    stop(1);
  });
  await warmUp();
  const door = await startDoor(settings, log);
  const code = await told;
  const late = setTimeout(() => process.exit(code), settings.timing.stop + LAST_WORD_MS);
  await door.stop();
  clearTimeout(late);
  return code;
}
