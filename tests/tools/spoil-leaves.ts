/**
 * Spoils a plan in one place: any value it holds, or any entry of any list. Left alone is only what a plan is free to
 * say otherwise and still hold; each such place is listed with its reason.
 */
import type { Plan } from '../../src/documents/plan/types.js';

type Path = readonly (string | number)[];

export interface Change {
  readonly path: Path;
  readonly what: string;
  readonly plan: Plan;
}

interface Place {
  readonly path: Path;
  readonly value: unknown;
  readonly holder: Record<string | number, unknown>;
}

function* places(value: unknown, path: Path): Generator<Place> {
  if (typeof value !== 'object' || value === null) return;
  const holder = value as Record<string | number, unknown>;
  const keys = Array.isArray(value) ? [...value.keys()] : Object.keys(value);
  for (const key of keys) {
    yield { path: [...path, key], value: holder[key], holder };
    yield* places(holder[key], [...path, key]);
  }
}

/** What a plan may say otherwise. `reversible`: some moulding of the batch is. `flawed`: some stick is. */
export interface Freedom {
  readonly reversible: boolean;
  readonly flawed: boolean;
}

function free({ path, value, holder }: Place, freedom: Freedom): boolean {
  const key = path.at(-1);
  // For people to read.
  if (path[0] === 'notices') return true;
  // Not provable without planning again.
  if (path[0] === 'shortfall' && (key === 'needs' || key === 'cost')) return true;
  if (key === 'bound' || (path.at(-2) === 'proof' && key === 'status')) return true;
  // What the other way costs, and how many choices were solved: likewise.
  if (path[0] === 'mouldings' && path.includes('unmerged') && key !== 'stopSettings') return true;
  if (key === 'choices' && typeof value === 'number' && value > 0) return true;
  // A bound of a number of settings, where rings are cut at two stops.
  if (key === 'leastSettings') return true;
  // Waste need not be listed, nor whole.
  if (holder.use === 'waste' && (key === 'from' || key === 'to')) return true;
  // A rail that shares no cut may lie either way up.
  if (key === 'flipped' && freedom.reversible) return true;
  // Behind a flaw there may be room to the left.
  return key === 'start' && freedom.flawed;
}

const OTHER: Readonly<Record<string, string>> = {
  complete: 'short',
  short: 'complete',
  offcut: 'waste',
  waste: 'offcut',
  rack: 'offer',
  offer: 'rack',
  cost: 'length',
  length: 'cost',
  in: 'mm',
  mm: 'in',
};

/** Another value of the same kind. Starts go left, where there is a neighbour, by more than roundings add up to. */
function another(key: string | number | undefined, value: unknown): string | number | boolean | undefined {
  if (value === null) return key === 'second' ? 1 : 'x';
  if (typeof value === 'boolean') return !value;
  if (typeof value === 'string') return OTHER[value] ?? `${value}x`;
  if (typeof value !== 'number') return undefined;
  if (key === 'start') return Math.round(value * 1000 - 3) / 1000;
  if (key === 'yield' || key === 'angle') return value + 0.001;
  if (key === 'cost' || key === 'value') return Math.round(value * 100 + 1) / 100;
  if (key === 'sticks' || key === 'count' || key === 'cuts' || key === 'stopSettings') return value + 1;
  return Math.round(value * 1000 + 3) / 1000;
}

function at(plan: Plan, path: Path): { holder: Record<string | number, unknown>; key: string | number } {
  let holder = plan as unknown as Record<string | number, unknown>;
  for (const step of path.slice(0, -1)) holder = holder[step] as Record<string | number, unknown>;
  return { holder, key: path.at(-1) ?? '' };
}

function altered(
  plan: Plan,
  path: Path,
  what: string,
  alter: (place: ReturnType<typeof at>) => void,
): Change {
  const copy = structuredClone(plan);
  alter(at(copy, path));
  return { path, what, plan: copy };
}

/** The changes of one place: another value, or an entry less, or one twice. */
function changesAt(plan: Plan, place: Place): readonly (() => Change)[] {
  const { path, value, holder } = place;
  const next = another(path.at(-1), value);
  if (next !== undefined) {
    const what = `${String(value)} became ${String(next)}`;
    return [
      () =>
        altered(plan, path, what, ({ holder: list, key }) => {
          list[key] = next;
        }),
    ];
  }
  if (!Array.isArray(holder)) return [];
  const index = Number(path.at(-1));
  const drop = () =>
    altered(plan, path, 'dropped', ({ holder: list }) => {
      (list as unknown as unknown[]).splice(index, 1);
    });
  const twice = () =>
    altered(plan, path, 'twice', ({ holder: list }) => {
      (list as unknown as unknown[]).splice(index, 0, structuredClone(value));
    });
  const waste = typeof value === 'object' && value !== null && Reflect.get(value, 'use') === 'waste';
  return waste ? [twice] : [drop, twice];
}

/** Every change of a plan that a checker must notice; made when called. */
export function changesOf(plan: Plan, freedom: Freedom): readonly (() => Change)[] {
  return [...places(plan, [])]
    .filter((place) => !free(place, freedom) && place.path[0] !== 'notices')
    .flatMap((place) => changesAt(plan, place));
}
