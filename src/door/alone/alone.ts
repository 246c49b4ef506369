import type { Logger } from 'pino';
import type { Environment } from '../../queue/settings.js';
import type { DoorSettings } from '../settings.js';
export async function serveAlone(
  dir: string,
  _settings: DoorSettings,
  _environment: Environment,
  _log: Logger,
): Promise<number> {
  throw new Error(dir);
}
