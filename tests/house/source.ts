/** The files of `src`, and what each imports. */
import { readdirSync, readFileSync } from 'node:fs';
import { dirname, join, normalize, relative, sep } from 'node:path';
import { fileURLToPath } from 'node:url';

const root = fileURLToPath(new URL('../../src', import.meta.url));

export interface SourceFile {
  /** As `plan/pairs/pairs.ts`, from `src` on. */
  readonly path: string;
  readonly text: string;
}

export function sourceFiles(): readonly SourceFile[] {
  return readdirSync(root, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile() && /\.tsx?$/.test(entry.name))
    .map((entry) => join(entry.parentPath, entry.name))
    .sort()
    .map((path) => ({
      path: relative(root, path).split(sep).join('/'),
      text: readFileSync(path, 'utf8'),
    }));
}

/** How many files each folder of `src` holds itself. */
export function filesByFolder(): ReadonlyMap<string, number> {
  const counts = new Map<string, number>();
  for (const entry of readdirSync(root, { recursive: true, withFileTypes: true })) {
    if (!entry.isFile()) continue;
    const folder = relative(root, entry.parentPath);
    counts.set(folder, (counts.get(folder) ?? 0) + 1);
  }
  return counts;
}

/** Paths of the files of `src` that this one imports, types too. */
export function importsOf({ path, text }: SourceFile): readonly string[] {
  return [...text.matchAll(/\b(?:from|import)\s*\(?\s*'(\.[^']+)'/g)].map((match) =>
    normalize(join(dirname(path), match[1]!))
      .split(sep)
      .join('/'),
  );
}

/**
 * Files that import each other in a loop, types too: the strongly connected sets of more than one file, by Tarjan's
 * algorithm (Depth-first search and linear graph algorithms, SIAM J. Comput. 1972).
 */
export function circlesOf(files: readonly SourceFile[]): readonly (readonly string[])[] {
  const stem = (path: string): string => path.replace(/\.[jt]sx?$/, '');
  const byStem = new Map(files.map((file) => [stem(file.path), file]));
  const [order, low] = [new Map<string, number>(), new Map<string, number>()];
  const stack: string[] = [];
  const circles: string[][] = [];
  const visit = (at: string): void => {
    order.set(at, order.size);
    low.set(at, order.get(at)!);
    stack.push(at);
    for (const to of importsOf(byStem.get(at)!).map(stem)) {
      if (!byStem.has(to)) continue;
      if (!order.has(to)) {
        visit(to);
        low.set(at, Math.min(low.get(at)!, low.get(to)!));
      } else if (stack.includes(to)) low.set(at, Math.min(low.get(at)!, order.get(to)!));
    }
    if (low.get(at) !== order.get(at)) return;
    const circle = stack.splice(stack.indexOf(at)).map((one) => byStem.get(one)!.path);
    if (circle.length > 1) circles.push(circle.sort());
  };
  for (const at of byStem.keys()) if (!order.has(at)) visit(at);
  return circles;
}

/** Paths of the files of `src` that are loaded when this one is: all it imports but types, and what those import. */
export function loadedBy(path: string, files: readonly SourceFile[]): ReadonlySet<string> {
  const texts = new Map(files.map((file) => [file.path, file.text]));
  const loaded = new Set<string>();
  const visit = (at: string): void => {
    if (loaded.has(at)) return;
    loaded.add(at);
    const text = (texts.get(at) ?? '').replaceAll(/\b(?:import|export) type [^;]+;/g, '');
    for (const to of importsOf({ path: at, text })) visit(to.replace(/\.js$/, '.ts'));
  };
  visit(path);
  return loaded;
}

/** `plan` of `plan/pairs/pairs.ts`, `terms` of `terms.ts`. */
export function topOf(path: string): string {
  return path.split('/')[0]!.replace(/\.[jt]sx?$/, '');
}
