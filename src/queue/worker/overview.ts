/** What a batch's job needs to know of its mouldings, read at once where they are few. */
import * as z from 'zod';
import { PairstopError } from '../../errors.js';
import { PHASES, type Phase } from '../../processes/share.js';
import type { ExpectedTimes } from '../../processes/solver/tasks.js';
import { LINES } from '../../read/limits.js';
import { fieldOf } from '../record/fields.js';
import { figuresFrom, type PartFigures } from '../record/figures.js';
import type { Store } from '../record/store.js';

const CHUNK = 200;

export interface MouldingOverview {
  readonly moulding: string;
  /** Its part is final for this round. */
  readonly final: boolean;
  readonly failed: boolean;
  readonly figures: PartFigures | null;
  /** Milliseconds. */
  readonly allotted: number;
  readonly used: number;
}

export interface Overview {
  /** Milliseconds of solving for the whole batch. */
  readonly limit: number;
  /** Milliseconds since 1970; null: not yet. */
  readonly started: number | null;
  /** How often the time left over has been handed out. */
  readonly round: number;
  /** When a worker took it first, milliseconds since 1970; null: just now, or by a worker of version 0.1.0. */
  readonly arrived: number | null;
  /** Null: a worker of version 0.1.0 read it. */
  readonly expected: ExpectedTimes | null;
  /** Its wood may be searched for before how it is cut. */
  readonly woodFirst: boolean;
  readonly phase: Phase;
  readonly mouldings: readonly MouldingOverview[];
}

const idsSchema = z.array(z.string().min(1)).min(1).max(LINES);

/** Ids of the batch's mouldings, in its order. Throws PS_STORE. */
export function mouldingIds(text: string | undefined): string[] {
  try {
    return idsSchema.parse(JSON.parse(text ?? ''));
  } catch {
    throw new PairstopError('PS_STORE', 'the record of the batch is damaged: its list of mouldings');
  }
}

function number(name: string, value: Buffer | undefined): number {
  const number = value === undefined ? 0 : Number(value.toString());
  if (Number.isFinite(number) && number >= 0) return number;
  throw new PairstopError('PS_STORE', `the record of the batch is damaged: its ${name}`);
}

const expectedSchema = z.array(z.number().min(0));

/** Guesses: damaged ones are done without. */
function expectedFrom(text: string | undefined, small: boolean, total: number): ExpectedTimes | null {
  try {
    const { data } = expectedSchema.safeParse(JSON.parse(text ?? ''));
    return data?.length === total ? { each: data, small } : null;
  } catch {
    return null;
  }
}

const HEAD = [
  'mouldings',
  'limit',
  'started',
  'round',
  'arrived',
  'expected',
  'small',
  'wood',
  'phase',
] as const;
const PER_MOULDING = ['final', 'failure', 'partFigures', 'allotted', 'used'] as const;

/** `total` as the record has it. Throws PS_STORE for a damaged record. */
export async function overviewOf(store: Store, jobId: string, total: number): Promise<Overview> {
  const fields = (from: number): string[] => {
    const some = Array.from({ length: Math.min(CHUNK, total - from) }, (_, i) => from + i);
    return PER_MOULDING.flatMap((field) => some.map((i) => fieldOf(field, i)));
  };
  const [list, limit, started, round, arrived, expected, small, wood, phase, ...values] = await store.read(
    jobId,
    [...HEAD, ...fields(0)],
  );
  const ids = mouldingIds(list?.toString());
  if (ids.length !== total)
    throw new PairstopError('PS_STORE', 'the record of the batch is damaged: its size');
  const mouldings: MouldingOverview[] = [];
  for (let from = 0; from < total; from += CHUNK) {
    const found = from === 0 ? values : await store.read(jobId, fields(from));
    const count = Math.min(CHUNK, total - from);
    for (let i = 0; i < count; i++) {
      const at = (field: (typeof PER_MOULDING)[number]) => found[PER_MOULDING.indexOf(field) * count + i];
      mouldings.push({
        moulding: ids[from + i]!,
        final: at('final') !== undefined,
        failed: at('failure') !== undefined,
        figures: figuresFrom(at('partFigures')?.toString() ?? ''),
        allotted: number('time allotted', at('allotted')),
        used: number('time used', at('used')),
      });
    }
  }
  return {
    limit: number('limit', limit),
    started: started === undefined ? null : number('started', started),
    round: number('round', round),
    arrived: arrived === undefined ? null : number('arrival', arrived),
    expected: expectedFrom(expected?.toString(), small !== undefined, total),
    woodFirst: wood !== undefined,
    phase: PHASES.find((known) => known === phase?.toString()) ?? 'all',
    mouldings,
  };
}

/** A batch that has only just been entered. */
export function freshOverview(
  mouldings: readonly string[],
  limit: number,
  expected: ExpectedTimes,
  woodFirst: boolean,
): Overview {
  const none = { final: false, failed: false, figures: null, allotted: 0, used: 0 } as const;
  const all = mouldings.map((moulding) => ({ moulding, ...none }));
  return { limit, started: null, round: 0, arrived: null, expected, woodFirst, phase: 'all', mouldings: all };
}
