/** What has been done so far, as the list of what was tapped: the present follows from it, and undo takes the last away. */
import type { CardData, CardVisit } from './data.js';

export type CardAct =
  | { readonly act: 'set'; readonly setting: number }
  | { readonly act: 'tick' | 'untick'; readonly setting: number; readonly visit: number }
  | { readonly act: 'go'; readonly setting: number }
  /** Spoiled in being cut; not cut, for a flaw touches it; taken back. */
  | { readonly act: 'spoil' | 'flaw' | 'keep'; readonly rails: readonly number[] };

export interface CardState {
  /** The setting shown; one past the last when all is done. */
  readonly at: number;
  readonly set: ReadonlySet<number>;
  /** `setting.visit`. */
  readonly done: ReadonlySet<string>;
  /** Spoiled in being cut: their wood is gone. */
  readonly spoiled: ReadonlySet<number>;
  /** Not cut, for there is a flaw in their place. */
  readonly flawed: ReadonlySet<number>;
}

export function visitKey(setting: number, visit: number): string {
  return `${setting}.${visit}`;
}

export function stateOf(acts: readonly CardAct[]): CardState {
  let at = 0;
  const [set, done] = [new Set<number>(), new Set<string>()];
  const [spoiled, flawed] = [new Set<number>(), new Set<number>()];
  for (const one of acts) {
    switch (one.act) {
      case 'set':
        set.add(one.setting);
        break;
      case 'tick':
        // Nobody cuts before the stop is set.
        set.add(one.setting);
        done.add(visitKey(one.setting, one.visit));
        break;
      case 'untick':
        done.delete(visitKey(one.setting, one.visit));
        break;
      case 'go':
        at = one.setting;
        break;
      case 'spoil':
        for (const rail of one.rails) spoiled.add(rail);
        break;
      case 'flaw':
        for (const rail of one.rails) flawed.add(rail);
        break;
      case 'keep':
        for (const rail of one.rails) {
          spoiled.delete(rail);
          flawed.delete(rail);
        }
        break;
    }
  }
  return { at, set, done, spoiled, flawed };
}

/** Ticked, or with nothing left to cut at it. */
export function isDone(state: CardState, setting: number, visit: number, { rails }: CardVisit): boolean {
  const { done, spoiled, flawed } = state;
  return done.has(visitKey(setting, visit)) || rails.every((rail) => spoiled.has(rail) || flawed.has(rail));
}

/** Rails that have been cut: of visits ticked off, those before a spoiled one in its visit, and the spoiled; none that is flawed. */
export function cutRails(data: CardData, state: CardState): ReadonlySet<number> {
  const cut = new Set<number>(state.spoiled);
  data.settings.forEach(({ visits }, s) => {
    visits.forEach((visit, v) => {
      const { rails } = visit;
      const whole = isDone(state, s, v, visit);
      const through = whole ? rails.length : rails.findLastIndex((rail) => state.spoiled.has(rail));
      for (const rail of rails.slice(0, Math.max(0, through))) if (!state.flawed.has(rail)) cut.add(rail);
    });
  });
  return cut;
}

export interface CardProgress {
  readonly cut: number;
  readonly total: number;
  readonly seconds: number;
}

export function progressOf(data: CardData, state: CardState): CardProgress {
  let seconds = 0;
  data.settings.forEach((setting, s) => {
    const open = setting.visits.filter((visit, v) => !isDone(state, s, v, visit));
    if (open.length === 0) return;
    if (!state.set.has(s)) seconds += setting.seconds;
    for (const visit of open) seconds += visit.seconds;
  });
  return { cut: cutRails(data, state).size, total: data.rails.length, seconds };
}

/** The file for `recut --cut-so-far`: a JSON list of tags. */
export function cutSoFarText(data: CardData, state: CardState): string {
  const tags = [...cutRails(data, state)].map((rail) => data.rails[rail]![0]);
  return `${JSON.stringify(tags, null, 1)}\n`;
}

export function lostTags(data: CardData, state: CardState): readonly string[] {
  return [...state.spoiled].map((rail) => data.rails[rail]![0]);
}

/** What is told of flaws: a stick, and from where to where rails lie on it that a flaw touches. Neighbours are told as one. */
export function flawTexts({ sticks, rails }: CardData, { flawed }: CardState): readonly string[] {
  return sticks.flatMap(({ name, parts }) =>
    parts.flatMap((part) => {
      const spans: number[][] = [];
      part.forEach((rail, i) => {
        if (!flawed.has(rail)) return;
        const last = spans.at(-1);
        if (last !== undefined && last.at(-1) === part[i - 1]) last.push(rail);
        else spans.push([rail]);
      });
      return spans.map((span) => `${name}:${rails[span[0]!]![2]} to ${rails[span.at(-1)!]![3]}`);
    }),
  );
}

export function flawedTags(data: CardData, { flawed }: CardState): readonly string[] {
  return [...flawed].map((rail) => data.rails[rail]![0]);
}

function isAct(value: unknown): value is CardAct {
  return typeof value === 'object' && value !== null && typeof Reflect.get(value, 'act') === 'string';
}

/** What the browser kept; nothing where that cannot be read. */
export function readActs(text: string | null): readonly CardAct[] {
  try {
    const kept: unknown = JSON.parse(text ?? '[]');
    return Array.isArray(kept) && kept.every(isAct) ? kept : [];
  } catch {
    return [];
  }
}
