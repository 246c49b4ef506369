/** Collects every problem of a document, bounded, each with its path, what was given and what is allowed. */
import { type ErrorCode, type InputProblem, PairstopError } from '../errors.js';
import { visible } from '../text/visible.js';
import { PROBLEMS_COUNTED, PROBLEMS_LISTED, SHOWN_LENGTH } from './limits.js';

export type Path = readonly (string | number)[];

function quoted(text: string): string {
  const cut = text.length > SHOWN_LENGTH ? `${text.slice(0, SHOWN_LENGTH)}…` : text;
  const size = text.length > SHOWN_LENGTH ? ` (${text.length} characters)` : '';
  return visible(JSON.stringify(cut)) + size;
}

/** Any value as a message repeats it: short and on one line. */
export function show(value: unknown): string {
  if (value === undefined) return 'nothing';
  if (typeof value === 'string') return quoted(value);
  if (Array.isArray(value)) {
    const short = value.length <= 3 && value.every((item) => item === null || typeof item !== 'object');
    return short ? `[${value.map(show).join(', ')}]` : `a list of ${value.length}`;
  }
  if (typeof value === 'object' && value !== null) {
    const keys = Object.keys(value);
    const first = keys.slice(0, 3).map(quoted).join(', ');
    return keys.length === 0 ? 'an empty object' : `an object with ${first}${keys.length > 3 ? ', …' : ''}`;
  }
  return typeof value === 'number' || typeof value === 'boolean' || value === null
    ? String(value)
    : `a ${typeof value}`;
}

/** `frames[3].width`; a key that is no plain name is quoted: `frames[3]["a b"]`. */
export function pathText(path: Path): string {
  let text = '';
  for (const step of path) {
    if (typeof step === 'number') text += `[${step}]`;
    else if (!/^[A-Za-z_$][\w$-]{0,63}$/.test(step)) text += `[${quoted(step)}]`;
    else text += text === '' ? step : `.${step}`;
  }
  return text;
}

function lookUp(document: unknown, path: Path): unknown {
  let at = document;
  for (const step of path) {
    if (typeof at !== 'object' || at === null || !Object.hasOwn(at, step)) return undefined;
    at = Reflect.get(at, step) as unknown;
  }
  return at;
}

/** The id of the line of a list that `path` leads into: nobody counts to `frames[27]`. Null where the id itself is meant. */
function lineId(document: unknown, path: Path): string | null {
  const [list, index, field] = path;
  if (typeof list !== 'string' || typeof index !== 'number' || field === 'id') return null;
  const id = lookUp(document, [list, index, 'id']);
  return typeof id === 'string' && id !== '' ? id : null;
}

/** `frames.csv line 14, width`, or where no file is known the path. */
function placeText({ path, of, file, line, column }: InputProblem): string {
  if (file === undefined) return of === undefined ? path : `${path} of ${quoted(of)}`;
  return `${file}${line === undefined ? '' : ` line ${line}`}${column === undefined ? '' : `, ${column}`}`;
}

/** One line for a person: `frames[3].width: given -3; allowed: …`, or `frames.csv line 14, width: given …`. */
export function problemText(problem: InputProblem): string {
  const place = placeText(problem);
  const where = place === '' ? '' : `${place}: `;
  return `${where}given ${problem.given}; allowed: ${problem.allowed}`;
}

/** The error for `total` problems, of which `listed` are shown; a last entry says when there are more. */
export function refusal(
  code: ErrorCode,
  what: string,
  listed: readonly InputProblem[],
  total: number,
): PairstopError {
  const counted = total >= PROBLEMS_COUNTED ? `at least ${PROBLEMS_COUNTED}` : `${total}`;
  const problems =
    total > listed.length
      ? [
          ...listed,
          {
            path: '',
            given: `${counted} problems`,
            allowed: `none; only the first ${listed.length} are listed`,
          },
        ]
      : listed;
  const count = total === 1 ? 'one problem' : `${counted} problems`;
  return new PairstopError(code, `${what}: ${count}\n${problems.map(problemText).join('\n')}`, problems);
}

export class InputProblems {
  readonly #document: unknown;
  readonly #listed: InputProblem[] = [];
  #total = 0;

  /** `document` is where the given values are looked up. */
  constructor(document: unknown) {
    this.#document = document;
  }

  get total(): number {
    return this.#total;
  }

  /** Nobody would read on: the walk through the document may stop. */
  get full(): boolean {
    return this.#total >= PROBLEMS_COUNTED;
  }

  /** `given` replaces the value at `path` where that alone would not say what is wrong. */
  add(path: Path, allowed: string, given?: string): void {
    this.#total += 1;
    if (this.#listed.length >= PROBLEMS_LISTED) return;
    const shown = given ?? show(lookUp(this.#document, path));
    const of = lineId(this.#document, path);
    this.#listed.push({ path: pathText(path), given: shown, allowed, ...(of !== null && { of }) });
  }

  throwIfAny(code: ErrorCode, what: string): void {
    if (this.#total > 0) throw refusal(code, what, this.#listed, this.#total);
  }
}
