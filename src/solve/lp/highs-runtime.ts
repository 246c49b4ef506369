import type { Highs } from 'highs';

/**
 * How a search comes to the HiGHS library: whoever makes the engine hands this in. It is called in the midst of a
 * search, when that first needs the library, so it may be loaded only then; it always answers with the same one.
 */
export type HighsRuntime = () => Highs;
