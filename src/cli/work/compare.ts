/** What the command compare does. */
import { checkBatch } from '../../documents/batch/read.js';
import type { BatchDocument } from '../../documents/batch/schema.js';
import type { Comparison } from '../../documents/comparison/types.js';
import type { HoursComparison } from '../../documents/hours/schema.js';
import { PairstopError } from '../../errors.js';
import { compareBatch } from '../../processes/compare-batch.js';
import { compareHours } from '../../processes/hours-batch.js';
import { showComparison } from '../../show/comparison.js';
import { comparisonSvg } from '../../show/comparison-chart.js';
import { hoursSvg } from '../../show/hours-chart.js';
import { showHours } from '../../show/hours-comparison.js';
import type { Batch } from '../../terms.js';
import { EXIT_DONE, EXIT_SHORT } from '../ending.js';
import { print, STANDARD, writeOutput } from '../files.js';
import type { OrderInput } from '../orders/order-choices.js';
import { ProgressLine } from '../progress-line.js';

export interface ComparisonOutput {
  readonly out?: string;
  readonly svg?: string;
  readonly json?: boolean;
}

export interface Conditions {
  readonly breakEven: boolean;
  readonly maxLength?: string;
  readonly shortBy?: string;
  readonly spare?: string;
  readonly grow?: string | true;
  readonly labour?: true;
}

const GROW_USUAL = [1, 2, 5, 10];

function timesOf(text: string): number[] {
  const times = text.split(',').map((part) => Number(part.trim()));
  if (times.every((one) => Number.isInteger(one) && one > 0)) return times;
  throw new PairstopError(
    'PS_USAGE',
    `--grow: given ${JSON.stringify(text.slice(0, 60))}; allowed: whole numbers with commas between, as in 1,2,5,10`,
  );
}

/** The batch with the command line's conditions as its options. */
function under(document: BatchDocument, { maxLength, shortBy, spare, grow }: Conditions): BatchDocument {
  const options = {
    ...document.options,
    ...(maxLength === undefined ? {} : { maxLength }),
    ...(shortBy === undefined ? {} : { shortBy }),
    ...(spare === undefined ? {} : { spare }),
    ...(grow === undefined ? {} : { grow: grow === true ? GROW_USUAL : timesOf(grow) }),
  };
  return Object.keys(options).length === 0 ? document : { ...document, options };
}

/** Writes a comparison where the options say; gives the exit code. Also used for comparisons from the queue. */
export async function deliverComparison(
  batch: Batch,
  comparison: Comparison,
  { out, svg, json }: ComparisonOutput,
): Promise<number> {
  const text = `${JSON.stringify(comparison, null, 1)}\n`;
  if (out !== undefined) await writeOutput(out, text);
  if (svg !== undefined) await writeOutput(svg, comparisonSvg(comparison));
  if (out !== STANDARD && svg !== STANDARD)
    await print(json === true ? text : showComparison(batch, comparison));
  return comparison.status === 'short' ? EXIT_SHORT : EXIT_DONE;
}

/** Plans from least wood to least time, instead of the offers to buy. */
async function deliverHours(hours: HoursComparison, { out, svg, json }: ComparisonOutput): Promise<number> {
  const text = `${JSON.stringify(hours, null, 1)}\n`;
  if (out !== undefined) await writeOutput(out, text);
  if (svg !== undefined) await writeOutput(svg, hoursSvg(hours));
  if (out !== STANDARD && svg !== STANDARD) await print(json === true ? text : showHours(hours));
  return hours.skipped === undefined ? EXIT_DONE : EXIT_SHORT;
}

export async function compare(
  { document }: OrderInput,
  options: ComparisonOutput & Conditions,
): Promise<number> {
  const batch = checkBatch(under(document, options));
  const line = new ProgressLine();
  const stop = new AbortController();
  const interrupt = (): void => stop.abort();
  process.once('SIGINT', interrupt).once('SIGTERM', interrupt);
  try {
    if (options.labour === true) {
      const hours = await compareHours(batch, { signal: stop.signal });
      return await deliverHours(hours, options);
    }
    const made = await compareBatch(batch, {
      breakEven: options.breakEven,
      signal: stop.signal,
      onProgress: (progress) => line.update(progress),
    });
    line.stop();
    return await deliverComparison(batch, made, options);
  } finally {
    line.stop();
    process.off('SIGINT', interrupt).off('SIGTERM', interrupt);
  }
}
