/** Figures of a series of measurements, and tables of them. */

/** Nearest-rank percentile of unsorted values; 0 for none. */
export function percentile(values: readonly number[], share: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.max(0, Math.ceil(share * sorted.length) - 1)] ?? 0;
}

export function mean(values: readonly number[]): number {
  return values.length === 0 ? 0 : values.reduce((sum, v) => sum + v, 0) / values.length;
}

/** Geometric mean, for ratios. */
export function geometricMean(values: readonly number[]): number {
  return Math.exp(mean(values.map((v) => Math.log(v))));
}

export function rounded(value: number, places: number): number {
  return Number(value.toFixed(places));
}

/** Peak resident memory of this process, MiB. */
export function peakMiB(): number {
  return Math.round(process.resourceUsage().maxRSS / 1024);
}

export function table(header: readonly string[], rows: readonly (readonly (string | number)[])[]): string {
  const lines = [header, ...rows].map((row) => row.map(String));
  const widths = header.map((_, c) => Math.max(...lines.map((row) => (row[c] ?? '').length)));
  const text = lines.map((row) =>
    row
      .map((cell, c) => align(cell, widths[c] ?? 0))
      .join('  ')
      .trimEnd(),
  );
  text.splice(1, 0, widths.map((w) => '-'.repeat(w)).join('  '));
  return text.join('\n');
}

function align(cell: string, width: number): string {
  return /^[<>~]?-?[\d.]/.test(cell) ? cell.padStart(width) : cell.padEnd(width);
}
