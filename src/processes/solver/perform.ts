/** What a solver process does with a task. Runs in the child, by the child's own clock, and knows no queue. */
import { checkPlan } from '../../check/check.js';
import { checkRecut } from '../../check/recut/recut.js';
import { type CheckReport, findingText } from '../../check/report.js';
import { answer } from '../../compare/answer.js';
import { readBatch } from '../../documents/batch/read.js';
import { PairstopError } from '../../errors.js';
import { alonePart } from '../../night/alone.js';
import { withShares } from '../../night/shares.js';
import { assemblePlan } from '../../plan/assemble.js';
import { planMoulding } from '../../plan/moulding.js';
import type { Improvement, MouldingPart, PartPooling } from '../../plan/part.js';
import { unplannedPart } from '../../plan/short/unplanned.js';
import { framesIn } from '../../plan/solving.js';
import { expectedOf, piecesIn, shopPiece, withShopPieces } from '../../rack/shop-pieces.js';
import { railsIn } from '../../rails/rails.js';
import { BATCH_BYTES } from '../../read/limits.js';
import { recut } from '../../recut/recut.js';
import type { Engine } from '../../solve/engine.js';
import { ResolvedBatch } from '../../stock/resolved.js';
import type { Batch } from '../../terms.js';
import { assembleParts, comparePart } from '../compare-part.js';
import { partOf, sealPart, sealPlan, soundPlan } from '../documents.js';
import { openEnvelope } from '../envelope.js';
import { firstFit } from '../first-fit.js';
import { unseal } from '../seal.js';
import { composeIn } from './composing.js';
import { Holding } from './holding.js';
import type { Perform, TaskNews } from './serve.js';
import { summaryOf } from './summary.js';
import {
  type AskedAnswer,
  type AskTask,
  type AssembleTask,
  type BatchSummary,
  type ComposeTask,
  type Improved,
  type ReadTask,
  type RecutAnswer,
  type RecutBatchTask,
  type SealedPart,
  type SealedPlan,
  type SolveTask,
  sizeOf,
  type Task,
  type TaskAnswer,
} from './tasks.js';

/** Except for the first, checkpoints are at least this far apart and take at most this share of the time. */
const CHECKPOINT_MS = 50;
const CHECKPOINT_SHARE = 0.05;
/** The first plan is rough; a moment later there is a much better one, or the search has ended. */
const FIRST_SEALS = 2;
const FIRST_SEAL_MS = 100;
const FIRST_SEAL_SHARE = 0.2;
const SECOND_SEAL_MS = 150;
/** At this share of the time the newest plan is sealed whatever that takes: a library may not come back in time. */
const LAST_CALL = 0.6;
/** Milliseconds a rail for a first plan laid out and sealed; no checkpoints where that is more than such a share of the time. */
const SEAL_A_RAIL_MS = 0.1;
const SEALING_MOST = 0.25;
/** Milliseconds between progress messages without a checkpoint. */
const NEWS_MS = 100;
const FINDINGS_TOLD = 5;
/** Most of a pooled moulding's time that goes to what its batches come to alone. */
const ALONE_SHARE = 0.3;

function read(task: ReadTask, held: Holding<ResolvedBatch>): BatchSummary {
  return summaryOf(openEnvelope(task.text), held);
}

function batchOf(
  { batch: { key, source } }: Exclude<Task, ReadTask | ComposeTask>,
  held: Holding<ResolvedBatch>,
): ResolvedBatch {
  if (source === null) {
    const resolved = held.get(key);
    if (resolved === undefined) {
      throw new PairstopError('PS_INTERNAL', 'a solver process was told of a batch it does not hold');
    }
    held.use(key);
    return resolved;
  }
  const batch =
    source.kind === 'batch'
      ? source.batch
      : readBatch(unseal({ kind: 'batch', batch: key, moulding: '' }, source.sealed, BATCH_BYTES));
  const resolved = new ResolvedBatch(batch);
  held.keep(key, sizeOf(source), resolved);
  return resolved;
}

/** The batch as it is planned: with the pieces of the shop's rack that it may have. */
function withPieces(ordered: ResolvedBatch, rack: SolveTask['rack']): ResolvedBatch {
  const batch = withShopPieces(ordered.batch, rack);
  return batch === ordered.batch ? ordered : new ResolvedBatch(batch);
}

/** Passes improvements on, with the newest part sealed as often as its size allows. */
class Checkpoints {
  readonly #key: string;
  readonly #send: (improved: Improved) => void;
  #pending: Improvement | null = null;
  #sealDue = 0;
  #newsDue = 0;
  #seals = 0;
  #lastCall: number;

  /** `budget` in milliseconds from now. */
  constructor(key: string, budget: number, rails: number, send: (improved: Improved) => void) {
    this.#key = key;
    this.#send = send;
    const begin = performance.now();
    this.#lastCall = begin + LAST_CALL * budget;
    this.#sealDue = begin + Math.min(FIRST_SEAL_MS, FIRST_SEAL_SHARE * budget);
    // The first plan, laid out and sealed, would take the time of the search for a better one.
    if (rails * SEAL_A_RAIL_MS > SEALING_MOST * budget) this.#sealDue = this.#lastCall = Infinity;
  }

  improved(improvement: Improvement): void {
    this.#pending = improvement;
    this.look();
  }

  /** Also called between improvements, so that the last of a burst is not held back. */
  look(): void {
    const pending = this.#pending;
    if (pending === null) return;
    const begin = performance.now();
    const { moulding, proof, frames, ordered } = pending;
    if (begin >= Math.min(this.#sealDue, this.#lastCall)) {
      if (begin >= this.#lastCall) this.#lastCall = Infinity;
      this.#pending = null;
      this.#send({ moulding, proof, frames, ordered, sealed: sealPart(this.#key, pending.part()) });
      const end = performance.now();
      this.#seals++;
      const took = end - begin;
      const share = this.#seals < FIRST_SEALS ? Math.max(SECOND_SEAL_MS, took) : took / CHECKPOINT_SHARE;
      this.#sealDue = end + Math.max(CHECKPOINT_MS, share);
      this.#newsDue = end + NEWS_MS;
    } else if (begin >= this.#newsDue) {
      this.#send({ moulding, proof, frames, ordered, sealed: null });
      this.#newsDue = begin + NEWS_MS;
    }
  }
}

/** An earlier part, if it can be used. If it is damaged, only the head start is lost. */
function startFrom(task: SolveTask): MouldingPart | null {
  if (task.start === null) return null;
  try {
    return partOf(task.batch.key, task.moulding, task.start);
  } catch {
    return null;
  }
}

/** What the batches of a pool come to alone; null for a batch by itself. Before all else, so that every checkpoint has it. */
function aloneOf(batch: Batch, task: SolveTask, engine: Engine, end: number): PartPooling | null {
  if (batch.batches.length === 0) return null;
  const now = (): number => performance.now();
  const deadline = end - task.budget * (1 - ALONE_SHARE);
  return alonePart(batch, task.moulding, engine, { now, deadline, seed: batch.options.seed });
}

/** Rails of one moulding, or of all. */
function railsOfTask(task: Exclude<Task, ReadTask | ComposeTask>, { batch }: ResolvedBatch): number {
  if (task.kind !== 'solve') return railsIn(batch);
  return railsIn({ frames: batch.frames.filter(({ moulding }) => moulding === task.moulding) });
}

function solve(
  task: SolveTask,
  ordered: ResolvedBatch,
  engine: Engine,
  send: (i: Improved) => void,
): SealedPart {
  const resolved = withPieces(ordered, task.rack);
  const { batch } = resolved;
  if (task.work === 'compare') {
    const { batch: ref, moulding, budget, start } = task;
    const engineFor = task.effort === 'quick' ? firstFit : engine;
    return comparePart({ key: ref.key, moulding, budget, start }, resolved, engineFor);
  }
  const now = (): number => performance.now();
  const checkpoints = new Checkpoints(task.batch.key, task.budget, railsOfTask(task, resolved), send);
  const start = startFrom(task);
  const chosen = task.effort === 'quick' ? firstFit : engine;
  const end = now() + task.budget;
  const pooling = start?.pooling ?? aloneOf(batch, task, chosen, end);
  const whole = (part: MouldingPart): MouldingPart => (pooling === null ? part : { ...part, pooling });
  const planned = planMoulding(resolved, task.moulding, chosen, {
    now,
    deadline: end,
    seed: batch.options.seed,
    brisk: task.brisk === true,
    woodOnly: task.woodOnly === true,
    onImproved: (improvement) =>
      checkpoints.improved({ ...improvement, part: () => whole(improvement.part()) }),
    stopped: () => {
      checkpoints.look();
      return false;
    },
    ...(start === null ? {} : { start }),
  });
  const part = whole(planned);
  const wanted = batch.frames.reduce(
    (sum, line) => sum + (line.moulding === task.moulding ? line.quantity : 0),
    0,
  );
  return {
    moulding: task.moulding,
    sealed: sealPart(task.batch.key, part),
    proof: part.plan.proof,
    frames: framesIn(part.copies),
    ordered: wanted,
    overfull: part.notices.some(({ code }) => code === 'PS_BENCH_FULL'),
  };
}

function assemble(task: AssembleTask, ordered: ResolvedBatch): SealedPlan {
  const { key } = task.batch;
  const { batch } = ordered;
  const resolved = withPieces(ordered, task.rack);
  if (task.work === 'compare') return assembleParts(key, resolved, task.parts, task.failed, task.rack);
  const parts = [
    ...task.parts.map(({ moulding, sealed }) => partOf(key, moulding, sealed)),
    ...task.failed.map((one) => unplannedPart(resolved, one)),
  ];
  const made = withShares(batch, assemblePlan(resolved, parts), parts);
  const pieces = batch.rack === null ? [] : piecesIn(made, task.rack);
  const plan = soundPlan(batch.rack === null ? made : { ...made, rack: pieces.map(shopPiece) });
  refuseFaulty('plan', checkPlan(batch, plan));
  return {
    sealed: sealPlan(key, plan),
    status: plan.status,
    cost: plan.totals.cost,
    seconds: plan.totals.seconds ?? null,
    takes: pieces.map(({ id }) => id),
    buys: batch.rack === null ? [] : expectedOf(batch, plan),
    members: (plan.batches ?? []).map(({ batch: id, missing, share }) => ({
      id,
      status: missing.length === 0 ? 'complete' : 'short',
      cost: share,
    })),
  };
}

/** Nothing goes out that does not pass its check. */
function refuseFaulty(what: string, report: CheckReport): void {
  if (report.ok) return;
  const told = report.findings.slice(0, FINDINGS_TOLD).map(findingText).join('; ');
  throw new PairstopError(
    'PS_INTERNAL',
    `the ${what} failed its check with ${report.total} findings: ${told}`,
  );
}

function ask({ question, budget }: AskTask, { batch }: ResolvedBatch, engine: Engine): AskedAnswer {
  const now = (): number => performance.now();
  return { answer: answer(batch, question, engine, { now, deadline: now() + budget }) };
}

function recutIn({ request, budget }: RecutBatchTask, { batch }: ResolvedBatch, engine: Engine): RecutAnswer {
  const now = (): number => performance.now();
  const clock = { now, deadline: now() + budget, seed: batch.options.seed };
  const made = recut({ ...request, batch }, engine, clock);
  refuseFaulty('recut', checkRecut(batch, made, request.plan));
  return { recut: made };
}

function perform(task: Task, held: Holding<ResolvedBatch>, engine: Engine, news: TaskNews): TaskAnswer<Task> {
  const ready = (about: Exclude<Task, ReadTask | ComposeTask>): ResolvedBatch => {
    const resolved = batchOf(about, held);
    news.read(railsOfTask(about, resolved));
    return resolved;
  };
  switch (task.kind) {
    case 'read':
      return read(task, held);
    case 'compose':
      return composeIn(task);
    case 'solve':
      return solve(task, ready(task), engine, news.improved);
    case 'assemble':
      return assemble(task, ready(task));
    case 'ask':
      return ask(task, ready(task), engine);
    case 'recut':
      return recutIn(task, ready(task), engine);
    default:
      task satisfies never;
      throw new PairstopError('PS_INTERNAL', 'a solver process was given a task of an unknown kind');
  }
}

export function performer(engine: Engine): Perform {
  const held = new Holding<ResolvedBatch>();
  return (task, news) => {
    try {
      return perform(task, held, engine, news);
    } catch (error) {
      held.clear();
      throw error;
    }
  };
}
