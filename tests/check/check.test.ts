/** The checker against plans worked out by hand, and against each of them spoiled in one way. */
import { describe, expect, it } from 'vitest';
import { checkPlan } from '../../src/check/check.js';
import { FINDINGS_LISTED, findingText, reportText } from '../../src/check/report.js';
import { rules } from '../../src/check/rules.js';
import { draft } from '../tools/spoil-build.js';
import { cases } from '../tools/spoil-plans.js';
import { poolSpoils } from '../tools/spoil-pool.js';
import { railSpoils } from '../tools/spoil-rails.js';
import { runSpoils } from '../tools/spoil-runs.js';
import { shopSpoils } from '../tools/spoil-shop.js';
import { stockSpoils } from '../tools/spoil-stock.js';

const spoils = [...railSpoils, ...stockSpoils, ...shopSpoils, ...runSpoils, ...poolSpoils];

describe('plans that hold', () => {
  it.each(Object.entries(cases))('%s', (_name, make) => {
    const { batch, plan } = make();
    const report = checkPlan(batch, plan);
    expect(report.findings.map(findingText)).toEqual([]);
    expect(report.ok).toBe(true);
    expect(report.verified.rails).toBe(
      plan.mouldings.flatMap((part) => part.sticks.flatMap((stick) => stick.rails)).length,
    );
  });
});

describe('spoiled plans', () => {
  it.each(spoils)('$rule: $plan, $what', ({ rule, plan: name, at, spoil }) => {
    const { batch, plan } = cases[name]();
    const spoiled = draft(plan);
    spoil(spoiled);
    expect(spoiled).not.toEqual(plan);
    const report = checkPlan(batch, spoiled);
    expect(report.ok).toBe(false);
    expect(report.counts[rule]).toBeGreaterThan(0);
    const found = report.findings.map((finding) => `${finding.code} ${finding.path}`);
    expect(found).toContain(`${rule} ${at}`);
    for (const finding of report.findings) {
      expect(finding.found).not.toBe('');
      expect(finding.holds).not.toBe('');
    }
  });

  it('leave no rule untried', () => {
    expect([...new Set(spoils.map((spoil) => spoil.rule))].sort()).toEqual(Object.keys(rules).sort());
  });
});

describe('a report', () => {
  it('names place, finding and rule in one line each', () => {
    const { batch, plan } = cases.rings();
    const spoiled = draft(plan);
    spoiled.mouldings[0]!.sticks[0]!.rails[15]!.start = 5513.644;
    const report = checkPlan(batch, spoiled);
    expect(reportText(report).split('\n')).toEqual([
      '16 rails of 4 frames on 1 sticks verified: 1 wrong',
      'CHECK_KERF mouldings[0].sticks[0].rails[15]: found 4.242 mm after the long point of rails[14]; ' +
        'would hold: 4.243 mm for the blade between long points',
    ]);
  });

  it('counts all findings and lists the first', () => {
    const { batch, plan } = cases.packs();
    const spoiled = draft(plan);
    const stop = spoiled.mouldings[0]!.stops[0]!;
    stop.pairs = Array.from({ length: 500 }, () => stop.pairs[0]!);
    const report = checkPlan(batch, spoiled);
    expect(report.findings.length).toBe(FINDINGS_LISTED);
    expect(report.counts.CHECK_STOP_TWICE).toBe(998);
    expect(report.total).toBeGreaterThan(998);
    expect(reportText(report)).toContain(`and ${report.total - FINDINGS_LISTED} more`);
  });
});
