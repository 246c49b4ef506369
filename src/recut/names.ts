/** How a person names rails: by id, by the tag written on them, or all of a frame by its id or its mark. */
import type { PlacedRail } from '../documents/plan/types.js';
import { cuttingOrder, type WorkInHand } from '../documents/recut/work.js';
import { tagsOf } from '../rails/tags.js';
import type { Batch } from '../terms.js';

export class RailNames {
  readonly #rails = new Map<string, readonly string[]>();

  /** Of everything that is to be cut, and of what was cut before. */
  constructor(batch: Batch, work: WorkInHand) {
    const tags = tagsOf(batch);
    const sticks = work.mouldings.flatMap((part) => part.sticks);
    const all: readonly PlacedRail[] = sticks.flatMap(({ cut, rails }) => [...cut, ...rails]);
    const frames = new Map<string, string[]>();
    for (const { rail, frame, side, tag } of all) {
      this.#rails.set(tag ?? tags.rail(frame, side), [rail]);
      const ring = frames.get(frame);
      if (ring === undefined) frames.set(frame, [rail]);
      else ring.push(rail);
    }
    for (const [frame, ring] of frames) {
      this.#rails.set(tags.frame(frame), ring);
      this.#rails.set(frame, ring);
    }
    // Last: an id always means its rail, even if something else is written the same.
    for (const rail of [...all.map((one) => one.rail), ...cuttingOrder(work)]) this.#rails.set(rail, [rail]);
  }

  /** The ids of the rails meant; null where nothing has this name. */
  of(text: string): readonly string[] | null {
    return this.#rails.get(text) ?? null;
  }
}
