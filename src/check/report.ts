/** What a check says: every breach counted, the first of them in words, and how much was looked at. */
import { allRules, type CheckCode } from './rules.js';

export interface Finding {
  readonly code: CheckCode;
  /** Where in the plan, as in `mouldings[0].sticks[3].rails[1].length`; empty for the whole document. */
  readonly path: string;
  readonly found: string;
  /** What would be right there. */
  readonly holds: string;
}

/** How much was verified. */
export interface Verified {
  mouldings: number;
  frames: number;
  sticks: number;
  rails: number;
  /** Neighbours on a stick whose wood and blade were compared. */
  joints: number;
  remainders: number;
  stops: number;
  pairs: number;
  purchases: number;
}

export interface CheckReport {
  readonly ok: boolean;
  /** The first `FINDINGS_LISTED` of them; `total` and `counts` know of all. */
  readonly findings: readonly Finding[];
  readonly total: number;
  readonly counts: Readonly<Partial<Record<CheckCode, number>>>;
  readonly verified: Readonly<Verified>;
}

/** Nobody reads on after so many, and a plan of a million rails can be wrong in each. */
export const FINDINGS_LISTED = 200;

/** One line for a person. */
export function findingText(finding: Finding): string {
  const where = finding.path === '' ? '' : `${finding.path}: `;
  return `${finding.code} ${where}found ${finding.found}; would hold: ${finding.holds}`;
}

/** All of a report for a person, a line for each finding. */
export function reportText(report: CheckReport, schema = 'pairstop/plan@1'): string {
  const { rails, sticks, frames, purchases, mouldings } = report.verified;
  const looked =
    schema === 'pairstop/comparison@1'
      ? `${purchases} scenarios of ${mouldings === 1 ? 'one moulding' : `${mouldings} mouldings`} verified`
      : `${rails} rails of ${frames} frames on ${sticks} sticks verified`;
  if (report.ok) return `${looked}: nothing wrong`;
  const rest = report.total - report.findings.length;
  return [
    `${looked}: ${report.total} wrong`,
    ...report.findings.map(findingText),
    ...(rest > 0 ? [`and ${rest} more`] : []),
  ].join('\n');
}

/** Collects findings while a plan is checked. */
export class Findings {
  readonly #listed: Finding[] = [];
  readonly #counts = new Map<CheckCode, number>();
  #total = 0;

  add(code: CheckCode, path: string, found: string, holds: string = allRules[code]): void {
    this.#total += 1;
    this.#counts.set(code, (this.#counts.get(code) ?? 0) + 1);
    if (this.#listed.length < FINDINGS_LISTED) this.#listed.push({ code, path, found, holds });
  }

  report(verified: Verified): CheckReport {
    return {
      ok: this.#total === 0,
      findings: this.#listed,
      total: this.#total,
      counts: Object.fromEntries(this.#counts),
      verified: { ...verified },
    };
  }
}
