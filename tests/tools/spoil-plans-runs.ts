/** A plan in two runs for a bench that holds one stick, worked out by hand. In millimetres. */
import type { MouldingPlan, StopsSet } from '../../src/documents/plan/types.js';
import { moulding, pair, planOf, row, stick, stop } from './spoil-build.js';
import { type Case, read } from './spoil-case.js';

function set(value: number, bound: number): StopsSet {
  return { value, proof: { status: 'within', measure: 'stops', value, bound } };
}

/** Each frame fills a stick: 2·400 + 2·300. Cut setting by setting both sticks would lie begun at once. */
export function twoRuns(): Case {
  const batch = read({
    id: 'two-runs',
    units: 'mm',
    saw: { kerf: 0, bench: 1 },
    mouldings: [{ id: 'box', face: 30, rabbet: 0 }],
    frames: [{ id: 'F', moulding: 'box', measuredBy: 'outside', quantity: 2, width: 400, height: 300 }],
    sticks: [{ id: 'r', moulding: 'box', length: 1400, quantity: 2 }],
    labour: { rate: 36 },
  });
  const run = (copy: number) => {
    const frame = `F/${copy}`;
    const rails = row(0, 0, [
      [`${frame}/top`, 400],
      [`${frame}/bottom`, 400],
      [`${frame}/left`, 300],
      [`${frame}/right`, 300],
    ]);
    return {
      stick: { ...stick(`r/${copy}`, 'rack', 1400, rails, []), run: copy },
      stops: [
        stop(400, [pair(`${frame}/top`, `${frame}/bottom`)]),
        stop(300, [pair(`${frame}/left`, `${frame}/right`)]),
      ].map((one) => ({ run: copy, angle: 45, ...one })),
      // 2 stops of 60 s, 2 visits of 20, 8 cuts of 10, 8 swings of 6, 4 labels of 5, 1 first mitre of 30.
      figures: { run: copy, sticks: 1, settings: 2, begunMost: 1, seconds: 338 },
    };
  };
  const runs = [run(1), run(2)];
  const box: MouldingPlan = {
    ...moulding(
      'box',
      { status: 'optimal', measure: 'length', value: 2800, bound: 2800 },
      runs.map((one) => one.stick),
      runs.flatMap(({ stops }) => stops),
    ),
    runs: runs.map(({ figures }) => figures),
    seconds: 676,
    stopsSet: set(4, 2),
  };
  const plan = planOf('two-runs', 'mm', [box], [], { railLength: 2800, stopSettings: 2, cuts: 16 });
  // 676 s at 36.00 an hour.
  const totals = { ...plan.totals, stopsSet: set(4, 2), seconds: 676, labour: 6.76 };
  return { batch, plan: { ...plan, lengths: 'mm', totals } };
}
