/** What the command compare does. */
import { checkBatch } from '../../documents/batch/read.js';
import type { Comparison } from '../../documents/comparison/types.js';
import type { HoursComparison } from '../../documents/hours/schema.js';
import { compareBatch } from '../../processes/compare-batch.js';
import { compareHours } from '../../processes/hours-batch.js';
import { showComparison } from '../../show/comparison.js';
import { comparisonSvg } from '../../show/comparison-chart.js';
import { hoursSvg } from '../../show/hours-chart.js';
import { showHours } from '../../show/hours-comparison.js';
import type { Batch } from '../../terms.js';
import { EXIT_DONE, EXIT_SHORT } from '../ending.js';
import { print, STANDARD, writeOutput } from '../files.js';
import { type Conditions, under } from '../orders/conditions.js';
import type { OrderInput } from '../orders/order-choices.js';
import { ProgressLine } from '../progress-line.js';

export interface ComparisonOutput {
  readonly out?: string;
  readonly svg?: string;
  readonly json?: boolean;
}

export interface ComparisonAsked extends ComparisonOutput, Conditions {
  readonly breakEven: boolean;
  readonly labour?: true;
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

export async function compare({ document }: OrderInput, options: ComparisonAsked): Promise<number> {
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
