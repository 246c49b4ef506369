/** A ring of mitred rails as wood on a bench: trapezoids turned and moved one after the other, and measured. */

export interface Point {
  readonly x: number;
  readonly y: number;
}

/** A rail's corners: long points and sight points, at its first and second end. */
export interface Rail {
  readonly outer: readonly [Point, Point];
  readonly inner: readonly [Point, Point];
}

function add(a: Point, b: Point, times = 1): Point {
  return { x: a.x + times * b.x, y: a.y + times * b.y };
}

export function distance(a: Point, b: Point): number {
  return Math.hypot(a.x - b.x, a.y - b.y);
}

function turned({ x, y }: Point, by: number): Point {
  const [cos, sin] = [Math.cos(by), Math.sin(by)];
  return { x: x * cos - y * sin, y: x * sin + y * cos };
}

/** A rail cut at `cut` off square at both ends, its long edge from `at` in `direction`, its sight edge to the left. */
export function railAt(at: Point, direction: number, length: number, face: number, cut: number): Rail {
  const place = (x: number, y: number): Point => add(at, turned({ x, y }, direction));
  const lean = face * Math.tan(cut);
  return {
    outer: [place(0, 0), place(length, 0)],
    inner: [place(lean, face), place(length - lean, face)],
  };
}

/** Lengths of the shortest slides that together move by `want`, each along its own direction. */
function shortestSlides(along: readonly Point[], want: Point): readonly number[] {
  let [xx, xy, yy] = [0, 0, 0];
  for (const { x, y } of along) {
    xx += x * x;
    xy += x * y;
    yy += y * y;
  }
  const determinant = xx * yy - xy * xy;
  const a = (yy * want.x - xy * want.y) / determinant;
  const b = (xx * want.y - xy * want.x) / determinant;
  return along.map(({ x, y }) => x * a + y * b);
}

/**
 * Rails with ends cut at `cut`, each pressed face to face against the one before. The joints have slid along their
 * faces, as little as possible, until the last two ends touch at `touch`.
 */
export function pressed(
  lengths: readonly number[],
  face: number,
  cut: number,
  touch: 'outer' | 'inner',
): readonly Rail[] {
  const build = (slides: readonly number[]): Rail[] => {
    const rails: Rail[] = [];
    let at: Point = { x: 0, y: 0 };
    lengths.forEach((length, k) => {
      const rail = railAt(at, 2 * cut * k, length, face, cut);
      rails.push(rail);
      at = add(rail.outer[1], faceOf(rail), (slides[k] ?? 0) / distance(rail.outer[1], rail.inner[1]));
    });
    return rails;
  };
  const free = build([]);
  const along = free.slice(0, -1).map((rail) => {
    const size = distance(rail.outer[1], rail.inner[1]);
    const { x, y } = faceOf(rail);
    return { x: x / size, y: y / size };
  });
  const [first, last] = [free[0]!, free.at(-1)!];
  return build(shortestSlides(along, add(first[touch][0], last[touch][1], -1)));
}

/** The second end's face, from the long point to the sight edge. */
export function faceOf(rail: Rail): Point {
  return add(rail.inner[1], rail.outer[1], -1);
}

/** From the second end of `a` to the first end of `b`: what a feeler gauge reads at either edge, and the angle between. */
export function jointOf(a: Rail, b: Rail): { outer: number; inner: number; angle: number } {
  const [from, to] = [faceOf(a), add(b.inner[0], b.outer[0], -1)];
  const angle = Math.atan2(from.x * to.y - from.y * to.x, from.x * to.x + from.y * to.y);
  return { outer: distance(a.outer[1], b.outer[0]), inner: distance(a.inner[1], b.inner[0]), angle };
}

/** How deep two rails reach into each other; not above 0 when some side of either parts them. */
export function overlap(a: Rail, b: Rail): number {
  const corners = ({ outer, inner }: Rail): Point[] => [outer[0], outer[1], inner[1], inner[0]];
  const [p, q] = [corners(a), corners(b)];
  let least = Number.POSITIVE_INFINITY;
  for (const shape of [p, q]) {
    shape.forEach((corner, i) => {
      const side = add(shape[(i + 1) % shape.length]!, corner, -1);
      const size = Math.hypot(side.x, side.y);
      const normal = { x: -side.y / size, y: side.x / size };
      const across = (point: Point): number => point.x * normal.x + point.y * normal.y;
      const [ap, aq] = [p.map(across), q.map(across)];
      least = Math.min(least, Math.max(...ap) - Math.min(...aq), Math.max(...aq) - Math.min(...ap));
    });
  }
  return least;
}
