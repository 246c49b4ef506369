/**
 * One stock length and many rail lengths, all different to the single unit (`fineLengths` in `tools/families.ts`), by seed:
 * one process, one core.
 *
 *     npm run bench:fine -- [--lengths 250] [--stick 500000] [--from 0.002] [--to 0.25] [--copies 50] [--count 5] [--first 0] [--limit 60]
 *
 * One JSON line an instance, then a summary. Every outcome is re-checked from the definition; exit 1 when one does not hold.
 */
import { parseArgs } from 'node:util';
import { highsRuntime } from '../src/processes/solver/load-highs.js';
import { createEngine } from '../src/solve/engine.js';
import { verifyOutcome } from './reference/verify.js';
import { fineLengths } from './tools/families.js';
import { mean, rounded } from './tools/figures.js';

const { values } = parseArgs({
  options: {
    lengths: { type: 'string', default: '250' },
    stick: { type: 'string', default: '500000' },
    from: { type: 'string', default: '0.002' },
    to: { type: 'string', default: '0.25' },
    copies: { type: 'string', default: '50' },
    count: { type: 'string', default: '5' },
    first: { type: 'string', default: '0' },
    limit: { type: 'string', default: '60' },
  },
});
const { lengths, stick, from, to, copies, count, limit } = values;
const shape = { lengths: +lengths, stick: +stick, from: +from, to: +to, copies: +copies };
if (![...Object.values(shape), +count, +limit].every((value) => value > 0)) {
  throw new RangeError('all options but --first: numbers above 0');
}
const engine = createEngine({ highs: highsRuntime });
const seconds: number[] = [];
let proven = 0;
for (let k = 0; k < +count; k++) {
  const name = `fine ${lengths} ${stick} ${from} ${to} ${copies} ${+values.first + k}`;
  const problem = fineLengths(name, shape);
  const began = performance.now();
  const cpu = process.cpuUsage();
  const deadline = began + 1000 * +limit;
  const outcome = engine.solve(problem, { now: () => performance.now(), deadline, seed: 1 });
  seconds.push((performance.now() - began) / 1000);
  const used = process.cpuUsage(cpu);
  const faults = verifyOutcome(problem, outcome);
  if (faults.length > 0) process.exitCode = 1;
  const proof = outcome.kind === 'solved' ? outcome.proofs[0] : undefined;
  if (proof?.status === 'optimal') proven++;
  const row = { name, ...proof, seconds: rounded(seconds.at(-1)!, 3), cpu: (used.user + used.system) / 1e6 };
  console.log(JSON.stringify({ ...row, work: Math.round(outcome.work), faults }));
}
const longest = rounded(Math.max(...seconds), 3);
console.log(JSON.stringify({ count: +count, proven, mean: rounded(mean(seconds), 3), longest }));
