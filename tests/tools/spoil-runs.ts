/** Breaches of the rules of runs, the bench and the hours. */
import { pair } from './spoil-build.js';
import { part, type Spoil, whole } from './spoil-kit.js';

const figures = (
  [
    ['sticks', 2],
    ['settings', 1],
    ['begunMost', 2],
    ['seconds', 337],
    ['run', 2],
    ['begunLongestFirst', 2],
  ] as const
).map(([name, value]) =>
  part('CHECK_RUN_FIGURES', 'twoRuns', `${name} of ${value}`, `runs[0].${name}`, (piece) => {
    piece.runs![0]![name] = value;
  }),
);

export const runSpoils: readonly Spoil[] = [
  ...figures,
  part('CHECK_BENCH', 'twoRuns', 'both sticks in one run', 'runs[0]', (piece) => {
    const [a, b, c, d] = piece.stops;
    for (const stick of piece.sticks) stick.run = 1;
    a!.pairs.push(...c!.pairs);
    b!.pairs.push(...d!.pairs);
    piece.stops = [a!, b!];
    piece.runs = [{ run: 1, sticks: 2, settings: 2, begunMost: 1, seconds: 556 }];
  }),
  part('CHECK_ONE_SETTING', 'twoRuns', 'a pair parted between two runs', '', (piece) => {
    piece.stops[0]!.pairs = [pair('F/1/top')] as (typeof piece.stops)[0]['pairs'];
    piece.stops[2]!.pairs.push(pair('F/1/bottom') as (typeof piece.stops)[0]['pairs'][0]);
  }),
  part('CHECK_RUN', 'twoRuns', 'a stick said to be cut in the other run', 'sticks[1].run', (piece) => {
    piece.sticks[1]!.run = 1;
  }),
  part('CHECK_RUN', 'twoRuns', 'a run left out', 'stops[2].run', (piece) => {
    piece.stops[2]!.run = 3;
  }),
  part('CHECK_RUN', 'twoRuns', 'a run gone back to', 'stops[2].run', (piece) => {
    piece.stops.splice(1, 2, piece.stops[2]!, piece.stops[1]!);
  }),
  part('CHECK_RUN', 'twoRuns', 'a stop of no run', 'stops[0].run', (piece) => {
    delete piece.stops[0]!.run;
  }),
  part('CHECK_STOP_ORDER', 'twoRuns', 'the short setting first', 'stops[1].setting', (piece) => {
    piece.stops.splice(0, 2, piece.stops[1]!, piece.stops[0]!);
  }),
  part('CHECK_ANGLE', 'twoRuns', 'a stop at another angle', 'stops[1].angle', (piece) => {
    piece.stops[1]!.angle = 30;
  }),
  part('CHECK_RUN_FIGURES', 'twoRuns', 'a run too many', 'runs', (piece) => {
    piece.runs!.push({ ...piece.runs![1]!, run: 3 });
  }),
  part('CHECK_RUN_FIGURES', 'twoRuns', 'less time than it takes', 'seconds', (piece) => {
    piece.seconds = 600;
  }),
  part('CHECK_RUN_FIGURES', 'twoRuns', 'fewer stops set', 'stopsSet.value', (piece) => {
    piece.stopsSet!.value = 3;
  }),
  part('CHECK_PROOF', 'twoRuns', 'a bound on stops above them', 'stopsSet.proof', (piece) => {
    piece.stopsSet!.proof.bound = 5;
  }),
  part('CHECK_PROOF', 'twoRuns', 'stops said to be fewest', 'stopsSet.proof.status', (piece) => {
    piece.stopsSet!.proof.status = 'optimal';
  }),
  whole('CHECK_RUN_FIGURES', 'twoRuns', 'another time in all', 'totals.seconds', (plan) => {
    plan.totals.seconds = 338;
  }),
  whole('CHECK_RUN_FIGURES', 'twoRuns', 'another cost of the time', 'totals.labour', (plan) => {
    plan.totals.labour = 6.77;
  }),
  whole('CHECK_RUN_FIGURES', 'twoRuns', 'other stops set in all', 'totals.stopsSet.value', (plan) => {
    plan.totals.stopsSet!.value = 5;
  }),
];
