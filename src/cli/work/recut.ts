/** What the command recut does. */
import { frameOfRail } from '../../documents/ids.js';
import type { Plan } from '../../documents/plan/types.js';
import { readPlanOrRecut } from '../../documents/recut/read.js';
import type { Recut } from '../../documents/recut/types.js';
import { cuttingOrder } from '../../documents/recut/work.js';
import { recutBatch } from '../../processes/recut-batch.js';
import { withPlanRack } from '../../rack/shop-pieces.js';
import { PLAN_BYTES } from '../../read/limits.js';
import { readTold, toldAs } from '../../recut/told-lines.js';
import { showRecut } from '../../show/recut.js';
import { EXIT_DONE, EXIT_SHORT } from '../ending.js';
import { print, readInput, STANDARD, writeOutput } from '../files.js';
import type { OrderInput } from '../orders/order-choices.js';
import { checkSheetOutput, fileNames, type SheetOutput, writeSheets } from '../sheet-output.js';
import { withClient } from '../with-client.js';

export interface RecutArguments extends SheetOutput {
  readonly lost: readonly string[];
  readonly flaw: readonly string[];
  readonly reuse: readonly string[];
  readonly cutSoFar?: string;
  readonly out?: string;
  readonly json?: boolean;
  readonly fromRack?: boolean;
}

/** A line for each rail of the largest batch. */
export const TOLD_BYTES = 200 * 1024 * 1024;
/** In place of the file: nothing has been cut. */
const NOTHING = 'nothing';

const RACK_HINT = 'pairstop: what is free on the rack of the shop was not looked at; recut --from-rack does';

/** Ids with commas between, unless the whole text is the id of one rail or frame. */
export function railIdsOf(plan: Plan | Recut, given: readonly string[]): readonly string[] {
  const rails = cuttingOrder(plan);
  const known = new Set([...rails, ...rails.map(frameOfRail)]);
  return given.flatMap((text) =>
    known.has(text)
      ? [text]
      : text
          .split(',')
          .map((id) => id.trim())
          .filter((id) => id !== ''),
  );
}

export async function recutOrder(
  { batch: ordered, path }: OrderInput,
  planPath: string,
  given: RecutArguments,
): Promise<number> {
  await checkSheetOutput(given, ordered);
  const plan = readPlanOrRecut(await readInput(planPath, PLAN_BYTES));
  const standing = withPlanRack(ordered, plan);
  const told =
    given.cutSoFar === undefined
      ? null
      : given.cutSoFar === NOTHING
        ? []
        : readTold(new TextDecoder().decode(await readInput(given.cutSoFar, TOLD_BYTES)));
  const lost = railIdsOf(plan, given.lost);
  const flaws = toldAs('--flaw', given.flaw);
  const reuse = toldAs('--reuse', given.reuse);
  const mishap = { lost, told, flaws, reuse };
  const made =
    given.fromRack === true
      ? await withClient(({ rack }) => rack.recut(ordered.id, { ...mishap, work: plan }))
      : await recutBatch({ batch: standing, plan, ...mishap });
  const batch = withPlanRack(ordered, made);
  if (ordered.rack === 'shop' && given.fromRack !== true && made.buy.length + made.shortfall.length > 0) {
    process.stderr.write(`${RACK_HINT}\n`);
  }
  const text = `${JSON.stringify(made, null, 1)}\n`;
  if (given.out !== undefined) await writeOutput(given.out, text);
  const taken = await writeSheets(batch, made, given, fileNames(path, given.out));
  if (given.out !== STANDARD && !taken) await print(given.json === true ? text : showRecut(batch, made));
  return made.status === 'short' ? EXIT_SHORT : EXIT_DONE;
}
