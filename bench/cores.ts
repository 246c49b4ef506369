/**
 * Sets of rails that fill their sticks to the end, made here in the image of published ones (`tools/cores.ts`), twenty of
 * each sort by seed: one process, one core.
 *
 *     npm run bench:cores -- [--rails 201] [--stick 2500] [--count 20] [--limit 60] [--parted] [--long] [--grown [--whole]] [--split]
 *
 * `--grown`: each triplet has a rail that nothing before it fills a stick with, so that a stick more is needed, or with
 * `--whole` none; `--split`: then a rail of the core is parted so that there is a plan without waste.
 * One JSON line an instance, then a summary. Every outcome is re-checked from the definition; exit 1 when one does not hold.
 */
import { parseArgs } from 'node:util';
import { highsRuntime } from '../src/processes/solver/load-highs.js';
import { createEngine } from '../src/solve/engine.js';
import { verifyOutcome } from './reference/verify.js';
import { aroundSix, grownCore } from './tools/cores.js';
import { mean, rounded } from './tools/figures.js';

const { values } = parseArgs({
  options: {
    rails: { type: 'string', default: '201' },
    stick: { type: 'string', default: '2500' },
    count: { type: 'string', default: '20' },
    limit: { type: 'string', default: '60' },
    parted: { type: 'boolean', default: false },
    long: { type: 'boolean', default: false },
    grown: { type: 'boolean', default: false },
    whole: { type: 'boolean', default: false },
    split: { type: 'boolean', default: false },
  },
});
const [rails, stick, count, limit] = [values.rails, values.stick, values.count, values.limit].map(Number);
if (![rails, stick, count, limit].every((value) => value! > 0)) {
  throw new RangeError('--rails, --stick, --count, --limit: numbers above 0');
}
const { long, parted, grown, whole, split } = values;
const engine = createEngine({ highs: highsRuntime });
const seconds: number[] = [];
let proven = 0;
let more = 0;
for (let k = 0; k < count!; k++) {
  const name = `${grown ? 'grown' : 'around six'} ${rails} ${stick} ${long ? 'long ' : ''}${whole ? 'whole ' : ''}${parted ? 'parted ' : ''}${split ? 'split ' : ''}${k}`;
  const problem = grown
    ? grownCore(name, {
        rails: rails!,
        stick: stick!,
        whole,
        parted: split ? 'with a plan' : parted ? 'anyhow' : 'no',
      })
    : aroundSix(name, { rails: rails!, stick: stick!, long, parted });
  const length = problem.items.reduce((sum, { weight, demand }) => sum + weight * demand, 0);
  const began = performance.now();
  const deadline = began + 1000 * limit!;
  const outcome = engine.solve(problem, { now: () => performance.now(), deadline, seed: 1 });
  seconds.push((performance.now() - began) / 1000);
  const faults = verifyOutcome(problem, outcome);
  if (faults.length > 0) process.exitCode = 1;
  const proof = outcome.kind === 'solved' ? outcome.proofs[0] : undefined;
  if (proof?.status === 'optimal') {
    proven++;
    if (proof.value > length / stick!) more++;
  }
  console.log(JSON.stringify({ name, ...proof, seconds: rounded(seconds.at(-1)!, 3), faults }));
}
const longest = rounded(Math.max(...seconds), 3);
console.log(
  JSON.stringify({ count, proven, 'a stick more': more, mean: rounded(mean(seconds), 3), longest }),
);
