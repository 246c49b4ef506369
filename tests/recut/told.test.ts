/** What a batch's owner says has been cut, and what of it is refused. */
import { describe, expect, it } from 'vitest';
import type { Plan } from '../../src/documents/plan/types.js';
import { PairstopError } from '../../src/errors.js';
import { planned } from '../plan/kit.js';
import { BASE, recutOf } from './kit.js';

describe('what has been cut so far', () => {
  const told = async (text: string, lost = ['A/1/right']): Promise<string> => {
    try {
      const made = await recutOf({ document: BASE, plan: await planned(BASE), lost }, text);
      return `${made.totals.cut} cut`;
    } catch (error) {
      if (error instanceof PairstopError) return `${error.code} ${error.message}`;
      throw error;
    }
  };

  it('is read from lines or a list, by rail, by order, by stop and by stick', async () => {
    expect(await told('')).toBe('0 cut');
    expect(await told('# none yet\n\r\n')).toBe('0 cut');
    expect(await told('A/1/right\nA/1/left # both')).toBe('1 cut');
    expect(await told('through A/2/left')).toBe('3 cut');
    expect(await told('stop 20')).toBe('3 cut');
    expect(await told('stop 508 mm')).toBe('3 cut');
    expect(await told('stick r/1')).toBe('7 cut');
    expect(await told('["through A/2/left", "A/1/top"]')).toBe('4 cut');
    // By the tags written on them, and by whole frames.
    expect(await told('A1R\nA1L')).toBe('1 cut');
    expect(await told('through A2L', ['A1R'])).toBe('3 cut');
    expect(await told('A/1\nA/2', ['A2'])).toBe('4 cut');
    expect(await told('A1\nA/2/right\nA2L', ['A/1'])).toBe('2 cut');
  });

  it('is refused where it cannot be, every problem at once', async () => {
    const refused = await told('A/9/top\nstop 21\nstick r/7\nthrough x\nhalf of it');
    expect(refused).toMatch(/^PS_RECUT the recut is refused: 5 problems\n/);
    for (const text of [
      'line 1: given "A/9/top"',
      'line 2: given "stop 21"',
      'line 3',
      'line 4: given "x"',
      'line 5',
    ]) {
      expect(refused).toContain(text);
    }
    expect(await told('A/2/bottom')).toMatch(
      /^PS_RECUT .*\n--cut-so-far: given "A\/2\/bottom" as cut but not ".*", left of it on r\/1/,
    );
    expect(await told('[1]')).toMatch(/^PS_RECUT/);
    expect(await told('["a",')).toMatch(/^PS_JSON/);
    expect(await told('', ['A/1/side'])).toMatch(
      /^PS_RECUT .*\n--lost: given "A\/1\/side"; allowed: a rail that this plan cuts/,
    );
    expect(await told('', [])).toMatch(/^PS_RECUT .*\n--lost: given nothing/);
  });

  it('does not take the plan of another batch, or one that does not hold', async () => {
    const plan = await planned(BASE);
    const refusal = async (other: Plan): Promise<string> =>
      recutOf({ document: BASE, plan: other, lost: ['A/1/top'] }).then(
        () => 'nothing',
        (error: unknown) => (error instanceof PairstopError ? `${error.code} ${error.message}` : 'a fault'),
      );
    expect(await refusal({ ...plan, batch: 'other' })).toMatch(
      /^PS_RECUT .*\nplan: given the plan of "other"/,
    );
    const spoiled = { ...plan, totals: { ...plan.totals, cuts: 0 } };
    expect(await refusal(spoiled)).toMatch(
      /^PS_RECUT the plan does not hold against this batch: 1 found wrong\nCHECK_TOTALS/,
    );
  });
});
