/** Random numbers that a name fixes: the same case name gives the same case on every machine. */
export interface Random {
  /** Uniform in [0, 1). */
  readonly real: () => number;
  /** Uniform whole number, both ends included. */
  readonly int: (from: number, to: number) => number;
  readonly chance: (probability: number) => boolean;
  readonly pick: <T>(list: readonly T[]) => T;
  readonly shuffled: <T>(list: readonly T[]) => T[];
}

/** FNV-1a over the UTF-16 units of the name (Fowler, Noll, Vo), then mulberry32 (public domain, T. Ettinger). */
export function seeded(name: string): Random {
  let state = 0x811c9dc5;
  for (let i = 0; i < name.length; i++) state = Math.imul(state ^ name.charCodeAt(i), 0x01000193);
  const real = (): number => {
    state = (state + 0x6d2b79f5) | 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
  const int = (from: number, to: number): number => from + Math.floor(real() * (to - from + 1));
  const pick = <T>(list: readonly T[]): T => {
    const chosen = list[int(0, list.length - 1)];
    if (chosen === undefined) throw new RangeError('nothing to pick from');
    return chosen;
  };
  const shuffled = <T>(list: readonly T[]): T[] => {
    const out = [...list];
    for (let i = out.length - 1; i > 0; i--) {
      const j = int(0, i);
      const held = out[i] as T;
      out[i] = out[j] as T;
      out[j] = held;
    }
    return out;
  };
  return { real, int, chance: (p) => real() < p, pick, shuffled };
}
