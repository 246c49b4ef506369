/** Breaches in what a pooled plan says of its batches. */
import { type Spoil, whole } from './spoil-kit.js';

export const poolSpoils: readonly Spoil[] = [
  whole('CHECK_POOL', 'pool', 'a batch left out', 'batches', (plan) => {
    plan.batches!.pop();
  }),
  whole('CHECK_POOL', 'pool', 'the lines of another', 'batches[0]', (plan) => {
    plan.batches![0]!.lines = plan.batches![1]!.lines;
  }),
  whole('CHECK_POOL', 'pool', 'a frame too few', 'batches[0].made', (plan) => {
    plan.batches![0]!.made = 0;
  }),
  whole('CHECK_POOL', 'pool', 'another length of rails', 'batches[1].mouldings[0].railLength', (plan) => {
    plan.batches![1]!.mouldings[0]!.railLength = 3600.001;
  }),
  whole('CHECK_POOL', 'pool', 'another date', 'batches[0].due', (plan) => {
    plan.batches![0]!.due = '2026-12-02';
  }),
  whole('CHECK_POOL', 'pool', 'late without reason', 'batches[0].late', (plan) => {
    plan.batches![0]!.late = true;
  }),
  whole('CHECK_POOL', 'pool', 'a frame said to be missing', 'batches[0].missing', (plan) => {
    plan.batches![0]!.missing = ['a/U/1'];
  }),
  whole('CHECK_POOL', 'pool', 'no moulding', 'pooling.mouldings', (plan) => {
    plan.pooling!.mouldings = [];
  }),
  whole('CHECK_POOL', 'packs', 'batches nobody pooled', 'batches', (plan) => {
    plan.pooling = { cost: 84, alone: null, saved: null, mouldings: [] };
  }),
  whole('CHECK_SHARE', 'pool', 'a cent too much', 'batches[0].share', (plan) => {
    plan.batches![0]!.share = 42.01;
  }),
  whole('CHECK_SHARE', 'pool', 'shares that are not the cost', 'pooling.mouldings[0]', (plan) => {
    plan.batches![0]!.share = 42.01;
    plan.batches![0]!.mouldings[0]!.share = 42.01;
  }),
  whole('CHECK_SHARE', 'pool', 'shares out of proportion', 'pooling.mouldings[0] of "a"', (plan) => {
    for (const [at, share] of [44, 40].entries()) {
      plan.batches![at]!.share = share;
      plan.batches![at]!.mouldings[0]!.share = share;
    }
  }),
  whole('CHECK_SHARE', 'pool', 'more than alone', 'pooling.mouldings[0] of "a".share', (plan) => {
    for (const [at, share] of [61, 23].entries()) {
      plan.batches![at]!.share = share;
      plan.batches![at]!.mouldings[0]!.share = share;
    }
  }),
  whole('CHECK_SHARE', 'pool', 'another limit', 'pooling.mouldings[0] of "b".limit', (plan) => {
    plan.batches![1]!.mouldings[0]!.limit = 70;
  }),
  whole('CHECK_SHARE', 'pool', 'another cost', 'pooling.cost', (plan) => {
    plan.pooling!.cost = 85;
  }),
  whole(
    'CHECK_SHARE',
    'pool',
    'a group that pays too much',
    'pooling.mouldings[0].coalitions[0].pays',
    (plan) => {
      plan.pooling!.mouldings[0]!.coalitions = [{ batches: ['a', 'b'], cost: 80, bound: 80, pays: 84 }];
    },
  ),
  whole('CHECK_SAVED', 'pool', 'a saving that is none', 'batches[0].saved.value', (plan) => {
    plan.batches![0]!.saved = { value: 20, least: 18 };
  }),
  whole('CHECK_SAVED', 'pool', 'a proof that is none', 'pooling.mouldings[0].saved.least', (plan) => {
    plan.pooling!.mouldings[0]!.saved = { value: 36, least: 40 };
  }),
  whole('CHECK_SAVED', 'pool', 'another cost alone', 'batches[1].alone', (plan) => {
    plan.batches![1]!.alone = { cost: 65, bound: 60 };
  }),
  whole('CHECK_SAVED', 'pool', 'another saving in all', 'pooling.saved.value', (plan) => {
    plan.pooling!.saved = { value: 40, least: 36 };
  }),
];
