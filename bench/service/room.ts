/** Batches as large as a solver process of 512 MB is said to hold, in shapes that differ: whether it holds them. */
import { mostRails } from '../../src/processes/solver/memory.js';
import { batchOf } from '../../tests/tools/batches.js';
import { seeded } from '../tools/random.js';
import { type Figure, round, withService } from './setting.js';

const RSS_MB = 512;
const RAILS_A_FRAME = 4;
const LINES_MOST = 46_000;
const LONGEST_MS = 400_000;

/** So many mouldings, with so many order lines of sizes of their own in all; the quantities make up the rails. */
function shape(id: string, mouldings: number, lines: number, rails: number) {
  const random = seeded(id);
  const names = Array.from({ length: mouldings }, (_, i) => `m${i}`);
  const document = batchOf(id, names, { frames: 1, timeLimit: 30 });
  const [first] = document.frames;
  const quantity = Math.floor(rails / RAILS_A_FRAME / lines);
  const frames = Array.from({ length: lines }, (_, i) => ({
    ...first!,
    id: `f${i}`,
    moulding: names[i % mouldings]!,
    quantity,
    width: random.int(200, 900),
    height: random.int(200, 900),
  }));
  return { ...document, frames };
}

/** `first` and `rounds`: a slice of the shapes. */
export async function* room(full: boolean, first: number, rounds: number): AsyncGenerator<Figure> {
  const rails = mostRails(RSS_MB);
  const shapes = [
    { mouldings: 1, lines: 1 },
    { mouldings: 1, lines: LINES_MOST },
    { mouldings: 100, lines: LINES_MOST },
    { mouldings: 5_000, lines: full ? LINES_MOST : 5_000 },
  ];
  for (const { mouldings, lines } of shapes.slice(first, first + rounds)) {
    yield await withService(
      [{ nowSlots: 2, heapMb: RSS_MB, rssMb: RSS_MB, attempts: 1 }],
      async (setting) => {
        const id = `${mouldings} x ${lines}`;
        const began = performance.now();
        await setting.client.submit(shape(id, mouldings, lines, rails));
        const plan = await setting.client
          .result(id, { wait: LONGEST_MS })
          .catch((error: Error) => error.message);
        return {
          what: `${rails} rails of ${mouldings} mouldings in ${lines} order lines, ${RSS_MB} MB a process`,
          seconds: round((performance.now() - began) / 1_000),
          outcome: typeof plan === 'string' ? plan.slice(0, 300) : plan.status,
          kept: typeof plan !== 'string',
        };
      },
    );
  }
}
