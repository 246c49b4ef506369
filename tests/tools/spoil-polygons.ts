/**
 * Wood and blade as plain polygons, compared by the separating axis theorem: two convex polygons are disjoint exactly
 * when the normal of some edge separates them (a case of the separating hyperplane theorem, Boyd and Vandenberghe,
 * Convex Optimization, 2004, section 2.5; section number from memory).
 */
export type Point = readonly [x: number, y: number];
export type Polygon = readonly Point[];

export interface Trapezoid {
  readonly start: number;
  readonly length: number;
  readonly flipped: boolean;
  readonly sides: number;
}

/** Corners counter-clockwise; the long edge at y = 0, or at y = face when flipped. */
export function woodOf(rail: Trapezoid, face: number): Polygon {
  const lean = face * Math.tan(Math.PI / rail.sides);
  const end = rail.start + rail.length;
  return rail.flipped
    ? [
        [rail.start + lean, 0],
        [end - lean, 0],
        [end, face],
        [rail.start, face],
      ]
    : [
        [rail.start, 0],
        [end, 0],
        [end - lean, face],
        [rail.start + lean, face],
      ];
}

/** Where the line through `p` along `d` is at height `y`. */
function atHeight(p: Point, d: Point, y: number): Point {
  return [p[0] + (d[0] * (y - p[1])) / d[1], y];
}

/** What the blade takes at one end of a rail: the cut's line and its parallel `kerf` away, square to it, across the stick. */
export function bladeOf(rail: Trapezoid, face: number, kerf: number, at: 'left' | 'right'): Polygon {
  const wood = woodOf(rail, face);
  const [low, high] = at === 'right' ? [wood[1]!, wood[2]!] : [wood[0]!, wood[3]!];
  const along: Point = [high[0] - low[0], high[1] - low[1]];
  const size = Math.hypot(along[0], along[1]);
  const outward = at === 'right' ? 1 : -1;
  const far: Point = [
    low[0] + (outward * kerf * along[1]) / size,
    low[1] - (outward * kerf * along[0]) / size,
  ];
  return [low, high, atHeight(far, along, face), atHeight(far, along, 0)];
}

/** Largest distance between the two along the normal of any of their edges; negative exactly when they overlap. */
export function separation(a: Polygon, b: Polygon): number {
  let most = Number.NEGATIVE_INFINITY;
  for (const polygon of [a, b]) {
    polygon.forEach((from, i) => {
      const to = polygon[(i + 1) % polygon.length]!;
      const size = Math.hypot(to[0] - from[0], to[1] - from[1]);
      if (size === 0) return;
      const normal: Point = [(to[1] - from[1]) / size, (from[0] - to[0]) / size];
      const span = (points: Polygon) => points.map((point) => point[0] * normal[0] + point[1] * normal[1]);
      const [first, second] = [span(a), span(b)];
      most = Math.max(
        most,
        Math.min(...second) - Math.max(...first),
        Math.min(...first) - Math.max(...second),
      );
    });
  }
  return most;
}
