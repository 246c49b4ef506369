/** Frame copies in few words. */
import { copyOf, frameId, lineOfFrame } from '../documents/ids.js';

/** `A/1, A/2, A/3, B/7` as `A/1…3, B/7`. */
export function ranges(names: readonly string[]): string {
  const runs: { id: string; from: number; to: number }[] = [];
  for (const name of names) {
    const [id, copy] = [lineOfFrame(name), copyOf(name)];
    const last = runs.at(-1);
    if (last !== undefined && last.id === id && last.to + 1 === copy) last.to = copy;
    else runs.push({ id, from: copy, to: copy });
  }
  return runs
    .map(({ id, from, to }) => (from === to ? frameId(id, from) : `${frameId(id, from)}…${to}`))
    .join(', ');
}
