/** What the command rails does. */
import { CSV_BYTES } from '../../csv/read.js';
import { checkBatch } from '../../documents/batch/read.js';
import { PairstopError } from '../../errors.js';
import { sizeOf } from '../../orders/cells.js';
import { nearest } from '../../orders/columns.js';
import { readMouldings } from '../../orders/order.js';
import { show } from '../../read/problems.js';
import { showFrameRails } from '../../show/frame-rails.js';
import { frameRails } from '../../stock/one-frame.js';
import type { Units } from '../../terms.js';
import { EXIT_DONE } from '../ending.js';
import { print, readInput } from '../files.js';

export interface RailsOptions {
  readonly face?: string;
  readonly rabbet?: string;
  readonly measuredBy: string;
  readonly play?: string;
  readonly units?: string;
  readonly moulding?: string;
  readonly mouldings?: string;
  readonly kerf?: string;
  readonly recut?: string;
  readonly stopStep?: string;
  readonly endTrim?: string;
  readonly reversible?: boolean;
  readonly json?: boolean;
}

function usage(message: string): PairstopError {
  return new PairstopError('PS_USAGE', message);
}

/** `16x20`, or of a regular frame `6 sides of 9`. */
function shapeOf(size: string): object {
  const regular = /^\s*(\d{1,2})\s*sides?\s+of\s+(.+)$/i.exec(size);
  if (regular !== null) return { sides: Number(regular[1]), side: regular[2] };
  const sides = sizeOf(size, { decimalComma: true, unit: null });
  if (sides?.every(({ refused }) => refused === undefined))
    return { width: sides[0].value, height: sides[1].value };
  throw usage(
    `rails: given ${show(size)}; allowed: a size as in 16x20, "16 3/8 x 20", "405x500 mm", or "6 sides of 9"`,
  );
}

/** A moulding of mouldings.csv; options replace its fields. */
async function listed(path: string, id: string | undefined): Promise<Record<string, unknown>> {
  const mouldings = readMouldings({
    name: path,
    bytes: await readInput(path, CSV_BYTES),
    table: 'mouldings',
  });
  const names = mouldings.map((one) => String(one.id));
  if (id === undefined) {
    if (mouldings.length === 1) return mouldings[0]!;
    throw usage(`rails: given no --moulding; allowed: one of ${names.slice(0, 8).join(', ')}`);
  }
  const found = mouldings.find((one) => one.id === id);
  if (found !== undefined) return found;
  const near = nearest(id, names);
  throw usage(
    `--moulding: given ${show(id)}; allowed: ${near === null ? '' : `the nearest is ${near}; `}${names.slice(0, 8).join(', ')}`,
  );
}

/** Only keys with a value: an option that is not given leaves the default. */
function given(values: Readonly<Record<string, unknown>>): Record<string, unknown> {
  return Object.fromEntries(Object.entries(values).filter(([, value]) => value !== undefined));
}

/** Names problems by the option they came from, since the caller never wrote a batch. */
function byOption(error: unknown, size: string): unknown {
  if (!(error instanceof PairstopError) || error.code !== 'PS_BATCH') return error;
  const problems = error.problems.map((problem) => {
    const key = problem.path.split('.').at(-1) ?? '';
    const ofSize = ['width', 'height', 'side', 'sides'].includes(key);
    const option = ofSize
      ? `size ${show(size)}`
      : `--${key.replace(/[A-Z]/g, (letter) => `-${letter.toLowerCase()}`)}`;
    return { ...problem, path: option };
  });
  const lines = problems.map(
    ({ path, given: value, allowed }) => `${path}: given ${value}; allowed: ${allowed}`,
  );
  return new PairstopError('PS_USAGE', `the frame is refused\n${lines.join('\n')}`, problems);
}

const METRIC = /\d\s*(?:mm|cm|m)\b/i;
const INCHES = /\d\s*(?:in\b|inch|ft\b|feet|["'″′”’])/i;

/**
 * What a number without a unit means: as told, else the unit that the other lengths name, else inches. Where they name
 * both, a bare number could be either and is refused.
 */
function unitsOf(told: string | undefined, lengths: Readonly<Record<string, string | undefined>>): Units {
  if (told !== undefined) {
    if (told === 'in' || told === 'mm') return told;
    throw usage(`--units: given ${show(told)}; allowed: in, mm`);
  }
  const all = Object.entries(lengths).flatMap(([name, text]) =>
    text === undefined ? [] : [[name, text] as const],
  );
  const metric = all.some(([, text]) => METRIC.test(text));
  const inches = all.some(([, text]) => INCHES.test(text));
  const bare = all.find(([, text]) => !METRIC.test(text) && !INCHES.test(text) && /[1-9]/.test(text));
  if (metric && inches && bare !== undefined) {
    const [name, text] = bare;
    const option =
      name === 'size' ? 'size' : `--${name.replace(/[A-Z]/g, (letter) => `-${letter.toLowerCase()}`)}`;
    throw usage(
      `${option}: given ${show(text)}, which says no unit; allowed: a unit, as other lengths here have inches and millimetres; or --units in or mm`,
    );
  }
  return metric && !inches ? 'mm' : 'in';
}

/** The lengths of a moulding of a table, as they are written there. */
function texts(moulding: Readonly<Record<string, unknown>>): Record<string, string> {
  const { face, rabbet, endTrim } = moulding;
  return Object.fromEntries(
    Object.entries({ face, rabbet, endTrim }).filter(
      (one): one is [string, string] => typeof one[1] === 'string',
    ),
  );
}

export async function rails(size: string, options: RailsOptions): Promise<number> {
  const { mouldings, moulding, face, rabbet, endTrim, reversible } = options;
  if (moulding !== undefined && mouldings === undefined)
    throw usage('--moulding: goes with --mouldings FILE, the CSV that lists it');
  const known = mouldings === undefined ? {} : await listed(mouldings, moulding);
  if (mouldings === undefined && (face === undefined || rabbet === undefined)) {
    throw usage(
      'rails: given no --face and --rabbet; allowed: both, as in --face "1 1/4" --rabbet 1/4, or --mouldings FILE --moulding ID',
    );
  }
  const { play, kerf, recut, stopStep } = options;
  const units = unitsOf(options.units, {
    size,
    face,
    rabbet,
    play,
    kerf,
    recut,
    stopStep,
    endTrim,
    ...texts(known),
  });
  const document = {
    schema: 'pairstop/batch@1',
    id: 'rails',
    units,
    saw: given({ kerf, recut, stopStep }),
    mouldings: [{ ...known, ...given({ face, rabbet, endTrim, reversible }), id: 'moulding' }],
    frames: [
      {
        id: 'frame',
        moulding: 'moulding',
        measuredBy: options.measuredBy,
        ...given({ play }),
        ...shapeOf(size),
      },
    ],
  };
  try {
    const batch = checkBatch(document);
    const answer = frameRails(batch);
    await print(
      options.json === true ? `${JSON.stringify(answer, null, 1)}\n` : showFrameRails(batch, answer),
    );
    return EXIT_DONE;
  } catch (error) {
    throw byOption(error, size);
  }
}
