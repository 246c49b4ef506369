/**
 * Cuts a printed plan from top to bottom as the man at the saw does, and counts the sticks that lie begun. It reads the
 * page alone: the stops in their order, and how many rails each gives from which sticks.
 */

/** One stick taken up at one stop, for so many rails. */
interface TakenUp {
  readonly moulding: string;
  readonly run: number;
  readonly setting: string;
  readonly stick: string;
  readonly rails: number;
}

const RULE = /^-{20,}$/;
const STOP = /^ {2}\[ \] (.+?): \d+ rails?/;
const RUN = /^Run (\d+) of \d+:/;
const FROM = /^(\d+)(?: each)? from (.+)$/;

/** `ash-10/2…4` as three names. */
function names(text: string): readonly string[] {
  const [, id, from, to] = /^(.+)\/(\d+)(?:…(\d+))?$/.exec(text) ?? [];
  if (id === undefined) throw new Error(`not the name of a stick: ${text}`);
  const first = Number(from);
  return Array.from({ length: Number(to ?? from) - first + 1 }, (_, i) => `${id}/${first + i}`);
}

/** The sticks of one row, `2 each from ash-10/1…3, r04/1, 1 from ash-8/2`. */
function sticksOf(text: string): readonly { readonly stick: string; readonly rails: number }[] {
  let rails = 0;
  return text.split(', ').flatMap((part) => {
    const [, count, name] = FROM.exec(part) ?? [];
    rails = count === undefined ? rails : Number(count);
    return names(name ?? part).map((stick) => ({ stick, rails }));
  });
}

/** Rows of a stop: their last column, put together where it is broken over lines. */
function lastColumn(lines: readonly string[]): readonly string[] {
  const at = Math.min(
    ...lines.map((line) => line.search(/\d+(?: each)? from /)).filter((place) => place >= 0),
  );
  const rows: string[] = [];
  for (const line of lines) {
    const text = line.slice(at).trim();
    if (/[^ ,]$/.test(rows.at(-1) ?? 'x') && FROM.test(text) && line.slice(8, 9) !== ' ') rows.push(text);
    else if (text !== '') rows[rows.length - 1] = `${rows.at(-1)} ${text}`;
  }
  return rows;
}

export function takenUp(page: string): readonly TakenUp[] {
  const lines = page.split('\n');
  const found: TakenUp[] = [];
  let [moulding, run, setting] = ['', 1, ''];
  for (let i = 0; i < lines.length; i++) {
    const line = lines[i]!;
    if (RULE.test(line)) {
      moulding = lines[i - 1]!.split(',')[0]!;
      run = 1;
    }
    run = Number(RUN.exec(line)?.[1] ?? run);
    const stop = STOP.exec(line);
    if (stop === null) continue;
    setting = stop[1]!;
    const own: string[] = [];
    while (lines[i + 1]?.startsWith('        ')) own.push(lines[++i]!);
    for (const row of lastColumn(own)) {
      for (const { stick, rails } of sticksOf(row)) found.push({ moulding, run, setting, stick, rails });
    }
  }
  return found;
}

/** Most sticks of a moulding that lie begun at once, and the rails cut in all. */
export function cutFromPage(page: string): { readonly begunMost: number; readonly rails: number } {
  const visits = takenUp(page);
  const left = new Map<string, number>();
  for (const { moulding, stick, rails } of visits) {
    const key = `${moulding} ${stick}`;
    left.set(key, (left.get(key) ?? 0) + rails);
  }
  const begun = new Set<string>();
  let [begunMost, cut] = [0, 0];
  for (const { moulding, stick, rails } of visits) {
    const key = `${moulding} ${stick}`;
    begun.add(key);
    begunMost = Math.max(begunMost, begun.size);
    cut += rails;
    left.set(key, left.get(key)! - rails);
    if (left.get(key) === 0) begun.delete(key);
  }
  return { begunMost, rails: cut };
}
