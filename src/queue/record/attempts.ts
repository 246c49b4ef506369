/** The tries of workers at one moulding, in the record of its batch. */
import { PHASES } from '../../processes/share.js';
import type { SealedPart } from '../../processes/solver/tasks.js';
import { figuresOf, type PartFigures } from './figures.js';
import type { RunScript } from './run-script.js';
import type { Attempt, AttemptStart, BeatAnswer, Resolution } from './steps.js';

export class AttemptStore {
  readonly #run: RunScript;

  constructor(run: RunScript) {
    this.#run = run;
  }

  async begin(jobId: string, index: number, run: number, moulding: string): Promise<AttemptStart> {
    const reply = await this.#run('begin', jobId, [index, run]);
    const kind = reply.one(0, ['go', 'done', 'failed', 'ended']);
    if (kind === 'ended' && reply.text(1) === 'gone') return { kind: 'gone' };
    if (kind !== 'go') return { kind };
    return {
      kind,
      fence: reply.count(1),
      spent: reply.count(2),
      waiting: reply.count(3),
      size: reply.count(4),
      limit: reply.count(5),
      allotted: reply.text(6) === '' ? null : reply.count(6),
      used: reply.count(7),
      best: reply.part(moulding, 8),
      late: reply.part(moulding, 10),
      shop: reply.text(12) !== '',
      phase: reply.text(13) === '' ? 'all' : reply.one(13, PHASES),
      beyond: reply.count(14),
      ended: reply.count(15),
      promised: reply.count(16),
    };
  }

  /** The share of a first attempt, in milliseconds: others have to know of it. */
  async allot({ jobId, index, run, fence }: Attempt, share: number): Promise<void> {
    await this.#run('allot', jobId, [index, run, fence, Math.round(share)]);
  }

  /** Reading the batch is over: the time of the attempt counts from now on. */
  async clock({ jobId, index, run, fence }: Attempt): Promise<void> {
    await this.#run('clock', jobId, [index, run, fence]);
  }

  /** Says that the attempt is alive, stores what is new, and asks whether to go on. */
  async beat(
    attempt: Attempt,
    moulding: string,
    allotted: number,
    figures: PartFigures | null,
    best: SealedPart | null,
  ): Promise<BeatAnswer> {
    const reply = await this.#run('beat', attempt.jobId, [
      attempt.index,
      attempt.run,
      attempt.fence,
      Math.round(allotted),
      figures === null ? '' : JSON.stringify(figures),
      best?.sealed ?? '',
      best === null ? '' : JSON.stringify(figuresOf(best)),
      attempt.jobId,
    ]);
    const kind = reply.one(0, ['go', 'late', 'stale', 'ended']);
    if (kind !== 'late') return { kind };
    const part = reply.part(moulding, 1);
    return part === null ? { kind: 'go' } : { kind, part };
  }

  async finish(
    attempt: Attempt,
    part: SealedPart,
    allotted: number,
  ): Promise<'stored' | 'exists' | 'stale' | 'ended'> {
    const { jobId, index, run, fence } = attempt;
    const figures = JSON.stringify(figuresOf(part));
    const reply = await this.#run('finish', jobId, [
      index,
      run,
      fence,
      part.sealed,
      figures,
      Math.round(allotted),
    ]);
    return reply.one(0, ['stored', 'exists', 'stale', 'ended']);
  }

  /** `fence` null: whatever attempt it was. */
  async fail(
    attempt: Omit<Attempt, 'fence'> & { readonly fence: number | null },
    failure: string,
  ): Promise<void> {
    const { jobId, index, run, fence } = attempt;
    await this.#run('fail', jobId, [index, run, fence ?? '', failure]);
  }

  async release({ jobId, index, run, fence }: Attempt): Promise<void> {
    await this.#run('release', jobId, [index, run, fence]);
  }

  /** The pieces of this round of a moulding: those given, or what an earlier attempt found. */
  async resolve(attempt: Attempt, pieces: string): Promise<Resolution> {
    const { jobId, index, run, fence } = attempt;
    const reply = await this.#run('resolve', jobId, [index, run, fence, pieces]);
    const kind = reply.one(0, ['go', 'stale', 'ended']);
    return kind === 'go' ? { kind, pieces: reply.text(1) } : { kind };
  }
}
