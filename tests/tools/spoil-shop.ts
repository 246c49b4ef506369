/** Breaches in what a plan says of merging, priority and handling. */
import { part, type Spoil, whole } from './spoil-kit.js';

const merging = (
  [
    ['unmerged', 'stopSettings', 3],
    ['unmerged', 'bound', 5000.001],
    ['unmerged', 'cost', 0.001],
    ['unmerged', 'stockLength', 5000.0001],
    ['merged', 'stopSettings', 3],
    ['merged', 'sticks', 2],
    ['merged', 'stockLength', 4999],
    ['merged', 'cost', 1],
    ['merged', 'bound', 3000],
  ] as const
).map(([way, name, value]) =>
  part('CHECK_MERGING', 'merged', `${way} ${name} of ${value}`, `merging.${way}.${name}`, (piece) => {
    piece.merging![way][name] = value;
  }),
);

const more: readonly Spoil[] = [
  part('CHECK_MERGING', 'merged', 'one setting said to serve', 'merging.leastSettings', (piece) => {
    piece.merging!.leastSettings = 1;
  }),
  part('CHECK_MERGING', 'merged', 'three settings said to be needed', 'merging.leastSettings', (piece) => {
    piece.merging!.leastSettings = 3;
  }),
  part('CHECK_MERGING', 'merged', 'merged, but nothing chosen', 'merging.choices', (piece) => {
    piece.merging!.choices = 0;
  }),
  part('CHECK_MERGING', 'profiled', 'figures nobody asked for', 'merging', (piece) => {
    const way = { stopSettings: 4, sticks: 3, stockLength: 5500, cost: 25, bound: 25 };
    piece.merging = { unmerged: way, merged: { ...way }, leastSettings: 4, choices: 0 };
  }),
  whole('CHECK_MERGING', 'profiled', 'sums nobody asked for', 'totals.unmerged', (plan) => {
    plan.totals.unmerged = { stopSettings: 4, cost: 25 };
  }),
  whole('CHECK_MERGING', 'merged', 'other settings in the sum', 'totals.unmerged.stopSettings', (plan) => {
    plan.totals.unmerged!.stopSettings = 5;
  }),
  whole('CHECK_MERGING', 'merged', 'another cost in the sum', 'totals.unmerged.cost', (plan) => {
    plan.totals.unmerged!.cost = 1;
  }),
  whole('CHECK_PRIORITY', 'ranked', 'the last made, the first left out', 'shortfall', (plan) => {
    const swapped = JSON.stringify(plan)
      .replaceAll('T/1', '#')
      .replaceAll('S/1', 'T/1')
      .replaceAll('#', 'S/1');
    Object.assign(plan, JSON.parse(swapped));
  }),
];

const handling = (
  [
    ['visits', 7],
    ['layouts', 2],
    ['splitPairs', 1],
    ['offcuts', 3],
  ] as const
).flatMap(([name, value]): readonly Spoil[] => [
  part('CHECK_HANDLING', 'profiled', `${name} of ${value}`, `handling.${name}`, (piece) => {
    piece.handling![name] = value;
  }),
  whole('CHECK_HANDLING', 'profiled', `${name} of ${value} in all`, `totals.handling.${name}`, (plan) => {
    plan.totals.handling![name] = value;
  }),
]);

export const shopSpoils: readonly Spoil[] = [...merging, ...more, ...handling];
