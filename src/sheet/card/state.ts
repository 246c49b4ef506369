/** What has been done so far, as the list of what was tapped: the present follows from it, and undo takes the last away. */
import type { CardData, CardVisit } from './data.js';

export type CardAct =
  | { readonly act: 'set'; readonly setting: number }
  | { readonly act: 'tick' | 'untick'; readonly setting: number; readonly visit: number }
  | { readonly act: 'go'; readonly setting: number }
  /** Spoiled in being cut; lost to a flaw and not cut; taken back. */
  | { readonly act: 'spoil' | 'flaw' | 'keep'; readonly rails: readonly number[] };

export interface CardState {
  /** The setting shown; one past the last when all is done. */
  readonly at: number;
  readonly set: ReadonlySet<number>;
  /** `setting.visit`. */
  readonly done: ReadonlySet<string>;
  /** Lost rails, and which of them were sawn before they were lost. */
  readonly spoiled: ReadonlySet<number>;
  readonly sawn: ReadonlySet<number>;
}

export function visitKey(setting: number, visit: number): string {
  return `${setting}.${visit}`;
}

export function stateOf(acts: readonly CardAct[]): CardState {
  let at = 0;
  const [set, done] = [new Set<number>(), new Set<string>()];
  const [spoiled, sawn] = [new Set<number>(), new Set<number>()];
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
        for (const rail of one.rails) {
          spoiled.add(rail);
          sawn.add(rail);
        }
        break;
      case 'flaw':
        for (const rail of one.rails) spoiled.add(rail);
        break;
      case 'keep':
        for (const rail of one.rails) {
          spoiled.delete(rail);
          sawn.delete(rail);
        }
        break;
    }
  }
  return { at, set, done, spoiled, sawn };
}

/** Ticked, or with nothing left to cut at it. */
export function isDone(state: CardState, setting: number, visit: number, { rails }: CardVisit): boolean {
  return state.done.has(visitKey(setting, visit)) || rails.every((rail) => state.spoiled.has(rail));
}

/** Rails that have been cut: of visits ticked off, those before a sawn and spoiled one in its visit, and the spoiled. */
export function cutRails(data: CardData, state: CardState): ReadonlySet<number> {
  const cut = new Set<number>(state.spoiled);
  data.settings.forEach(({ visits }, s) => {
    visits.forEach((visit, v) => {
      const { rails } = visit;
      const whole = isDone(state, s, v, visit);
      const through = whole ? rails.length : rails.findLastIndex((rail) => state.sawn.has(rail));
      for (const rail of rails.slice(0, Math.max(0, through))) cut.add(rail);
    });
  });
  return cut;
}

/** Rails of a part of a stick that are lost when a flaw touches `touched`: all uncut ones from the left up to them. */
export function lostToFlaw(
  part: readonly number[],
  touched: ReadonlySet<number>,
  cut: ReadonlySet<number>,
): readonly number[] {
  const last = part.findLastIndex((rail) => touched.has(rail));
  return part.slice(0, last + 1).filter((rail) => !cut.has(rail));
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
