/** Where each value of a document made of CSV stood, so that a problem of the document is told by file, line and column. */
import type { InputProblem, PairstopError } from '../errors.js';
import { PROBLEMS_LISTED } from '../read/limits.js';
import { pathText, refusal, show } from '../read/problems.js';

export interface Origin {
  readonly file: string;
  readonly line?: number;
  readonly column?: string;
  /** The cell as written; absent: nothing is written there. */
  readonly cell?: string;
}

type DocumentPath = readonly (string | number)[];

/** `a[1].b`, `a[1]`, `a`. */
function selfAndAbove(path: string): readonly string[] {
  const steps = path.split(/(?=[.[])/);
  return steps.map((_, i) => steps.slice(0, steps.length - i).join(''));
}

export class Origins {
  readonly #places = new Map<string, Origin>();
  /** Values whose absence or form has been told of already, by path. */
  readonly #told = new Set<string>();
  readonly #toldItself = new Set<string>();

  set(path: DocumentPath, origin: Origin): void {
    this.#places.set(pathText(path), origin);
  }

  at(path: DocumentPath): Origin | undefined {
    return this.#places.get(pathText(path));
  }

  told(path: DocumentPath): void {
    this.#told.add(pathText(path));
  }

  /** Of this value itself; what stands in it is another matter. */
  toldItself(path: DocumentPath): void {
    this.#toldItself.add(pathText(path));
  }

  /** The nearest thing with a place: `frames[3].flaws[0][1]` stands where `frames[3].flaws` does. */
  #nearest(path: string): Origin | undefined {
    const known = selfAndAbove(path).find((one) => this.#places.has(one));
    return known === undefined ? undefined : this.#places.get(known);
  }

  #isTold(path: string): boolean {
    return this.#toldItself.has(path) || selfAndAbove(path).some((one) => this.#told.has(one));
  }

  /** The problem where it stands in the files; null where it has been told of already. */
  #placed(problem: InputProblem, document: object): InputProblem | null {
    if (problem.file !== undefined) return problem;
    if (this.#isTold(problem.path)) return null;
    const origin = this.#nearest(problem.path);
    if (origin === undefined) return problem;
    const { cell, ...place } = origin;
    const exact = this.#places.get(problem.path);
    // Where the message repeats the value, the cell is what was given; a converted text would puzzle.
    const given =
      exact?.cell !== undefined && problem.given === show(valueAt(document, problem.path))
        ? show(cell)
        : problem.given;
    // A field without a cell of its own stands in its row.
    const key = /\.([A-Za-z]+)$/.exec(problem.path)?.[1];
    const column =
      exact === undefined && place.column === undefined && key !== undefined ? { column: key } : {};
    const allowed = this.#spoken(problem.allowed, place.file);
    return { ...problem, given, allowed, ...place, ...column };
  }

  /** A line of the document, named in a text, as the line of its file. */
  #spoken(text: string, file: string): string {
    return text.replaceAll(/\b[a-z]+\[\d+\](?:\.\w+)*/g, (path) => {
      const origin = this.#nearest(path);
      if (origin?.line === undefined) return path;
      return `line ${origin.line}${origin.file === file ? '' : ` of ${origin.file}`}`;
    });
  }

  /** The same refusal, each problem where it stands in the files, behind those of the files themselves. */
  refusal(error: PairstopError, own: readonly InputProblem[], document: object): PairstopError {
    const placed = error.problems.flatMap((problem) => {
      const one = this.#placed(problem, document);
      return one === null ? [] : [one];
    });
    const what = error.message.split(': ')[0] ?? error.message;
    return refusalOf(error.code, what, byPlace([...own, ...placed]));
  }
}

/** Files in the order they come up in, each from its first line to its last. */
function byPlace(problems: readonly InputProblem[]): readonly InputProblem[] {
  const files = [...new Set(problems.map(({ file }) => file))];
  const rank = ({ file }: InputProblem): number => files.indexOf(file);
  return problems.toSorted((a, b) => rank(a) - rank(b) || (a.line ?? 0) - (b.line ?? 0));
}

export function refusalOf(
  code: PairstopError['code'],
  what: string,
  problems: readonly InputProblem[],
): PairstopError {
  return refusal(code, what, problems.slice(0, PROBLEMS_LISTED), problems.length);
}

function valueAt(document: object, path: string): unknown {
  let at: unknown = document;
  for (const step of path.split(/[.[\]]+/).filter((one) => one !== '')) {
    at = typeof at === 'object' && at !== null ? (Reflect.get(at, step) as unknown) : undefined;
  }
  return at;
}
