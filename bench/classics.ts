/**
 * Instances in the image of published sets that are not at hand (`classic` in `tools/families.ts`), made here by seed: one
 * process, one core.
 *
 *     npm run bench:classics -- [--kind hard | critical | scholl-2 | scholl-3 | schwerin-2] [--first 0] [--count 100] [--limit 60] [--from 0]
 *
 * One JSON line an instance that took `--from` seconds or more or is not proven, then a summary a kind; all kinds where none is
 * named. Every outcome is re-checked from the definition; exit 1 when one does not hold.
 */
import { parseArgs } from 'node:util';
import { highsRuntime } from '../src/processes/solver/load-highs.js';
import { createEngine } from '../src/solve/engine.js';
import { verifyOutcome } from './reference/verify.js';
import { CLASSIC_KINDS, classic } from './tools/families.js';
import { mean, rounded } from './tools/figures.js';

const { values } = parseArgs({
  options: {
    kind: { type: 'string' },
    first: { type: 'string', default: '0' },
    count: { type: 'string', default: '100' },
    limit: { type: 'string', default: '60' },
    from: { type: 'string', default: '0' },
  },
});
const [first, count, limit, from] = [values.first, values.count, values.limit, values.from].map(Number);
if (!(count! > 0 && limit! > 0 && first! >= 0 && from! >= 0)) {
  throw new RangeError('--count, --limit: numbers above 0; --first, --from: not below it');
}
const kinds = CLASSIC_KINDS.filter((kind) => values.kind === undefined || kind === values.kind);
if (kinds.length === 0) throw new RangeError(`--kind ${values.kind}: one of ${CLASSIC_KINDS.join(', ')}`);
const engine = createEngine({ highs: highsRuntime });
for (const kind of kinds) {
  const seconds: number[] = [];
  const cpu: number[] = [];
  let proven = 0;
  let more = 0;
  for (let k = first!; k < first! + count!; k++) {
    const problem = classic(kind, k);
    if (!problem) break;
    const length = problem.items.reduce((sum, { weight, demand }) => sum + weight * demand, 0);
    const began = performance.now();
    const before = process.cpuUsage();
    const deadline = began + 1000 * limit!;
    const outcome = engine.solve(problem, { now: () => performance.now(), deadline, seed: 1 });
    seconds.push((performance.now() - began) / 1000);
    const used = process.cpuUsage(before);
    cpu.push((used.user + used.system) / 1e6);
    const faults = verifyOutcome(problem, outcome);
    if (faults.length > 0) process.exitCode = 1;
    const proof = outcome.kind === 'solved' ? outcome.proofs[0] : undefined;
    const optimal = proof?.status === 'optimal' && faults.length === 0;
    if (optimal) proven++;
    if (optimal && proof.value > Math.ceil(length / problem.stocks[0]!.segments[0]!)) more++;
    if (optimal && seconds.at(-1)! < from!) continue;
    const row = { name: `${kind} ${k}`, ...proof, seconds: rounded(seconds.at(-1)!, 3) };
    console.log(
      JSON.stringify({ ...row, cpu: rounded(cpu.at(-1)!, 3), work: Math.round(outcome.work), faults }),
    );
  }
  const figures = {
    count: seconds.length,
    proven,
    'more than by length': more,
    mean: rounded(mean(seconds), 4),
    longest: rounded(Math.max(...seconds), 3),
    'mean cpu': rounded(mean(cpu), 4),
    'longest cpu': rounded(Math.max(...cpu), 3),
  };
  console.log(JSON.stringify({ kind, ...figures }));
}
