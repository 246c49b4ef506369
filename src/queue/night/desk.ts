/** The pool as the client sees it. */
import { checkBatch } from '../../documents/batch/read.js';
import { PairstopError } from '../../errors.js';
import { documentOf } from '../../processes/documents.js';
import type { Session } from '../client/session.js';
import { batchOfJob, NIGHT_QUEUE } from '../names.js';
import { STATES } from '../record/steps.js';
import type { NightChoices, NightDesk, NightOfPool, NightStatus, WaitingBatch } from './desk-api.js';
import { addNightJob, scheduleClosing } from './joining.js';
import { closingAfter, type NightSettings, requireClose, requireZone } from './schedule.js';

const HOUR = 3_600_000;
const HOURS_MOST = 31 * 24;

export class QueueNightDesk implements NightDesk {
  readonly #session: Session;

  constructor(session: Session) {
    this.#session = session;
  }

  status(): Promise<NightStatus> {
    return this.#session.ask('asking for the pool', () => this.#status());
  }

  set({ close, zone, atMost }: NightChoices): Promise<NightStatus> {
    const given = {
      ...(close !== undefined && { close: close === null ? null : requireClose(close) }),
      ...(zone !== undefined && { zone: requireZone(zone) }),
      ...(atMost !== undefined && { atMost: requireHours(atMost) * HOUR }),
    };
    const { store } = this.#session;
    return this.#session.ask('setting when the pool closes', async () => {
      const { settings: before, opened } = await store.night.state();
      const settings: NightSettings = { ...before, ...given };
      const from = opened ?? (await store.now());
      await store.night.set(settings, closingAfter(from, settings));
      await scheduleClosing(this.#session.queue(NIGHT_QUEUE), store);
      return this.#status();
    });
  }

  close(): Promise<{ readonly night: string; readonly batches: number } | null> {
    const { store, who } = this.#session;
    return this.#session.ask('closing the pool', async () => {
      const closing = await store.night.close(true, who);
      if (closing.kind !== 'closed') return null;
      await addNightJob(this.#session.queue(NIGHT_QUEUE), `make-${closing.jobId}`, 0);
      return { night: batchOfJob(closing.jobId), batches: closing.batches };
    });
  }

  async #status(): Promise<NightStatus> {
    const { store } = this.#session;
    const { settings, opened, closes, waiting } = await store.night.state();
    const batches: WaitingBatch[] = [];
    for (const jobId of waiting) batches.push(await this.#waiting(jobId));
    const nights: NightOfPool[] = [];
    for (const jobId of await store.night.open()) nights.push(await this.#night(jobId));
    return {
      opened,
      closes,
      waiting: batches,
      nights,
      settings: { close: settings.close, zone: settings.zone, atMost: settings.atMost / HOUR },
    };
  }

  async #waiting(jobId: string): Promise<WaitingBatch> {
    const [submitted, fingerprint, sealed] = await this.#session.store.read(jobId, [
      'submitted',
      'fingerprint',
      'batch',
    ]);
    const known = { id: batchOfJob(jobId), submitted: Number(submitted?.toString() ?? 0) };
    if (fingerprint === undefined || sealed === undefined) return { ...known, due: null, frames: 0 };
    const { due, frames } = checkBatch(documentOf(fingerprint.toString(), sealed));
    return { ...known, due, frames: frames.reduce((sum, { quantity }) => sum + quantity, 0) };
  }

  async #night(jobId: string): Promise<NightOfPool> {
    const [state, members, status, cost] = await this.#session.store.read(jobId, [
      'state',
      'members',
      'status',
      'cost',
    ]);
    const outcome = status?.toString();
    return {
      id: batchOfJob(jobId),
      state: STATES.find((one) => one === state?.toString()) ?? 'waiting',
      batches: (JSON.parse(members?.toString() ?? '[]') as string[]).map(batchOfJob),
      outcome: outcome === 'complete' || outcome === 'short' ? outcome : null,
      cost: cost === undefined ? null : Number(cost.toString()),
    };
  }
}

function requireHours(hours: number): number {
  if (hours > 0 && hours <= HOURS_MOST) return hours;
  throw new PairstopError('PS_USAGE', `atMost: given ${hours}; allowed: hours above 0, up to ${HOURS_MOST}`);
}
