/** What the command saw does. */
import { supplyUm } from '../../lengths/exact.js';
import { parseLength } from '../../lengths/parse.js';
import { parseAngles } from '../../saw/measured.js';
import { sawCheck } from '../../saw/saw.js';
import { showSawCheck } from '../../show/saw.js';
import { EXIT_DONE, EXIT_OTHER } from '../ending.js';
import { print, STANDARD, writeOutput } from '../files.js';
import type { OrderInput } from '../orders/order-choices.js';

export interface SawArguments {
  readonly gap: string;
  readonly angle?: string;
  readonly out?: string;
  readonly json?: boolean;
}

export async function saw({ batch }: OrderInput, given: SawArguments): Promise<number> {
  const angles = given.angle === undefined ? [] : parseAngles(given.angle);
  const check = sawCheck(batch, { gap: supplyUm(parseLength(given.gap, batch.units)), angles });
  const text = `${JSON.stringify(check, null, 1)}\n`;
  if (given.out !== undefined) await writeOutput(given.out, text);
  if (given.json === true) {
    if (given.out !== STANDARD) await print(text);
  } else if (given.out !== STANDARD) await print(showSawCheck(batch, check));
  return check.holds === false ? EXIT_OTHER : EXIT_DONE;
}
