/** Each scenario: what it may buy and buys, what that costs, that it makes the order, and its figures. */
import type { Scenario, ScenarioFigures } from '../../documents/comparison/types.js';
import { centsFromMoney, moneyFromCents } from '../../documents/money.js';
import type { PlannedPurchase } from '../../documents/plan/types.js';
import { toNumber } from '../../lengths/exact.js';
import { timeFor } from '../hours.js';
import { umOf } from '../numbers.js';
import { sizeOf } from '../roster.js';
import { type OnMoulding, priceOf, sumOf, within } from './context.js';

const MS_PER_SECOND = 1_000;

/** Purchases of these offers, each once, in packs, no more than there are, at the price for so many. */
export function checkBuys(
  on: OnMoulding,
  buy: readonly PlannedPurchase[],
  from: readonly string[],
  at: string,
): void {
  const seen = new Set<string>();
  buy.forEach((one, b) => {
    const offer = on.offers.find(({ id }) => id === one.offer);
    const path = `${at}.buy[${b}]`;
    if (
      offer === undefined ||
      one.moulding !== on.moulding.id ||
      !from.includes(one.offer) ||
      seen.has(one.offer)
    ) {
      on.add('CHECK_SCENARIO', path, `${one.offer} for ${one.moulding}`, `of ${from.join(', ')}, once each`);
      return;
    }
    seen.add(one.offer);
    const right =
      one.count > 0 &&
      one.count % offer.pack === 0 &&
      one.count <= (offer.available ?? Number.POSITIVE_INFINITY);
    if (!right) on.add('CHECK_SCENARIO', `${path}.count`, one.count, 'whole packs, no more than there are');
    const due = moneyFromCents(priceOf(offer, one.count));
    if (one.cost !== due) on.add('CHECK_SCENARIO', `${path}.cost`, one.cost, due);
  });
}

/** Offers that may be bought together, of their kind and in the order of the batch. */
export function checkChoice(
  on: OnMoulding,
  kind: Scenario['kind'],
  offers: readonly string[],
  at: string,
): void {
  const ids = on.offers.map(({ id }) => id);
  const count = { one: 1, two: 2, supplier: offers.length, all: ids.length }[kind];
  const ordered = ids.filter((id) => offers.includes(id));
  if (offers.length === count && ordered.join('\n') === offers.join('\n')) return;
  on.add(
    'CHECK_SCENARIO',
    `${at}.offers`,
    `${kind}: ${offers.join(', ')}`,
    'offers of the moulding, in order',
  );
}

function checkKind(on: OnMoulding, { kind, offers, supplier }: Scenario, at: string): void {
  checkChoice(on, kind, offers, at);
  const own = on.offers.filter((offer) => offer.supplier === supplier).map(({ id }) => id);
  const right =
    kind === 'supplier' ? supplier !== null && offers.join('\n') === own.join('\n') : supplier === null;
  if (!right)
    on.add(
      'CHECK_SCENARIO',
      `${at}.supplier`,
      supplier,
      kind === 'supplier' ? 'whose offers these are' : 'null',
    );
}

function checkShort(on: OnMoulding, one: Scenario, at: string): void {
  const { short, proof, planOf, buy, figures } = one;
  const nothing = proof === null && planOf === null && buy.length === 0 && figures === null;
  const lines = new Set(on.lines.map(({ id }) => id));
  const told =
    short !== null &&
    (short.why === 'tooLong') === short.frames.length > 0 &&
    short.frames.every((id) => lines.has(id));
  if (!nothing || !told) on.add('CHECK_SCENARIO', at, 'short', 'a reason, and neither purchase nor figures');
}

function checkProof(on: OnMoulding, { proof, buy }: Scenario, at: string): void {
  if (proof === null) {
    on.add('CHECK_SCENARIO', `${at}.proof`, 'null', 'what is proven');
    return;
  }
  const { status, value, bound } = proof;
  if (centsFromMoney(value) !== sumOf(buy)) {
    on.add('CHECK_SCENARIO', `${at}.proof.value`, value, moneyFromCents(sumOf(buy)));
  }
  if (!(bound >= 0 && bound <= value))
    on.add('CHECK_BOUND', `${at}.proof.bound`, bound, `from 0 to ${value}`);
  const open = bound > 0 ? ['within', 'excluded'] : ['unproven'];
  const due = bound >= value ? ['optimal'] : open;
  if (!due.includes(status)) on.add('CHECK_BOUND', `${at}.proof.status`, status, due.join(' or '));
  const { cost } = on.part.recommendation;
  if (status === 'excluded' && !(cost !== null && bound >= cost)) {
    on.add('CHECK_BOUND', `${at}.proof.status`, status, `a bound of ${cost} or more`);
  }
}

/** Length of all rails: on profiled stock to the micrometre, on reversible stock less what nests. */
function railsOf({ moulding, lines, settings }: OnMoulding): {
  readonly least: number;
  readonly most: number;
} {
  let [least, most] = [0, 0];
  for (const line of lines) {
    const sides = line.shape.kind === 'regular' ? line.shape.sides : 4;
    const lean = moulding.reversible
      ? toNumber(moulding.face) * (sides === 4 ? 1 : Math.tan(Math.PI / sides))
      : 0;
    for (let side = 0; side < sides; side++) {
      const length = line.quantity * settings.own(line.index, sizeOf(line, side), moulding);
      most += length;
      least += length - line.quantity * lean;
    }
  }
  return { least: least - 1_000, most: most + 1_000 };
}

/** Different settings, where no frame is matched with two stops; null where one is. */
function settingsOf({ moulding, lines, settings }: OnMoulding): number | null {
  if (lines.some(({ match }) => match === 'frame')) return null;
  const all = lines.flatMap((line) => {
    const second = line.shape.kind === 'regular' ? [] : [settings.own(line.index, 1, moulding)];
    return [settings.own(line.index, 0, moulding), ...second];
  });
  return new Set(all).size;
}

/** Sawing times between which every way to cut so many sticks lies: each setting once, or each rail at a stop of its own. */
function checkTime(on: OnMoulding, { seconds, sticks }: ScenarioFigures, at: string): void {
  if (seconds === undefined) return;
  const { labour } = on.batch;
  const { reversible } = on.moulding;
  const rails = on.lines.reduce(
    (sum, { shape, quantity }) => sum + quantity * (shape.kind === 'regular' ? shape.sides : 4),
    0,
  );
  const cheap = labour.setGauge < labour.setStop && on.batch.gauges.length > 0;
  const settings = settingsOf(on) ?? 1;
  const [setByGauge, setByMeasure] = cheap ? [settings, 0] : [0, settings];
  const first = { rails, sticks, visits: sticks, cuts: (reversible ? 1 : 2) * rails };
  const least = timeFor(labour, reversible, { ...first, setByGauge, setByMeasure });
  const dear = Math.max(labour.setStop, labour.setGauge);
  const apart = { rails, sticks, visits: rails, cuts: 2 * rails, setByGauge: 0, setByMeasure: 0 };
  const most = timeFor(labour, reversible, apart) + 2 * rails * dear;
  const time = seconds * MS_PER_SECOND;
  if (!(time >= least && time <= most)) {
    const due = `from ${least / MS_PER_SECOND} to ${most / MS_PER_SECOND}`;
    on.add('CHECK_FIGURES', `${at}.figures.seconds`, seconds, due);
  }
}

function checkFigures(on: OnMoulding, one: Scenario, at: string): void {
  const { figures, buy } = one;
  if (figures === null) {
    on.add('CHECK_FIGURES', `${at}.figures`, 'null', 'figures');
    return;
  }
  const add = (key: string, found: unknown, holds: unknown): void =>
    on.add('CHECK_FIGURES', `${at}.figures.${key}`, found, holds);
  checkTime(on, figures, at);
  const { sticks, stockLength, railLength, wasteLength, offcuts, split, stopSettings } = figures;
  const [stock, rail, waste, kept] = [stockLength, railLength, wasteLength, offcuts.length].map(umOf) as [
    number,
    number,
    number,
    number,
  ];
  if (rail + waste + kept !== stock) add('stockLength', stockLength, 'rails, waste and offcuts together');
  const { least, most } = railsOf(on);
  if (!(rail >= least && rail <= most))
    add('railLength', railLength, `from ${least / 1_000} to ${most / 1_000}`);
  const bought = buy.map(({ offer, count }) => ({
    count,
    length: on.offers.find(({ id }) => id === offer)?.length ?? 0,
  }));
  const own = on.batch.sticks
    .filter(({ moulding }) => moulding === on.moulding.id)
    .map(({ quantity, length }) => ({ count: quantity, length }));
  const pieces = [...bought, ...own];
  const all = pieces.reduce((sum, { count }) => sum + count, 0);
  if (!(sticks >= 1 && sticks <= all)) add('sticks', sticks, `1 to ${all}`);
  // So many sticks hold no more than the longest of the pieces, and no less than the shortest.
  const sorted = pieces
    .flatMap(({ count, length }) => Array<number>(Math.min(count, sticks)).fill(length))
    .sort((a, b) => a - b);
  const sum = (list: readonly number[]): number => list.reduce((total, length) => total + length, 0);
  const [shortest, longest] = [sum(sorted.slice(0, sticks)), sum(sorted.slice(-sticks))];
  if (!(stock >= shortest && stock <= longest))
    add('stockLength', stockLength, `of ${sticks} pieces there are`);
  const share = stock === 0 ? 0 : Number((rail / stock).toFixed(4));
  if (figures.yield !== share) add('yield', figures.yield, share);
  const rates = on.offers.filter(({ price }) => price > 0).map(({ price, length }) => price / length);
  const worth = moneyFromCents(Math.round(kept * (rates.length === 0 ? 0 : Math.min(...rates))));
  if (offcuts.worth !== worth) add('offcuts.worth', offcuts.worth, worth);
  if (!(kept >= offcuts.count * on.moulding.keepOver && offcuts.count > 0 === kept > 0)) {
    add('offcuts.count', offcuts.count, 'each long enough to keep');
  }
  const parts = centsFromMoney(split.rail) + centsFromMoney(split.waste) + centsFromMoney(split.offcut);
  if (parts !== sumOf(buy)) add('split', moneyFromCents(parts), moneyFromCents(sumOf(buy)));
  const settings = settingsOf(on);
  if (settings !== null && stopSettings !== settings) add('stopSettings', stopSettings, settings);
}

export function checkScenarios(on: OnMoulding): void {
  const { part, moulding } = on;
  const seen = new Set<string>();
  part.scenarios.forEach((one, s) => {
    const at = `scenarios[${s}]`;
    const key = one.offers.join(' ');
    if (seen.has(key)) on.add('CHECK_SCENARIO', `${at}.offers`, key, 'each choice of offers once');
    seen.add(key);
    checkKind(on, one, at);
    if (one.status === 'short') {
      checkShort(on, one, at);
      return;
    }
    if (one.short !== null) on.add('CHECK_SCENARIO', `${at}.short`, one.short.why, 'null');
    if (one.planOf !== null && !(within(one.planOf, one.offers) && one.planOf.length < one.offers.length)) {
      on.add('CHECK_SCENARIO', `${at}.planOf`, one.planOf.join(', '), `some of ${one.offers.join(', ')}`);
    }
    checkBuys(on, one.buy, one.planOf ?? one.offers, at);
    checkProof(on, one, at);
    checkFigures(on, one, at);
    if (!on.makes(moulding.id, one.buy)) {
      const bought = one.buy.map(({ count, offer }) => `${count} of ${offer}`).join(', ');
      on.add('CHECK_MAKES', `${at}.buy`, bought || 'nothing', 'a plan that makes the order of it');
    }
  });
  checkAgainst(on);
}

/** Whoever may buy more pays no more, and what is proven of more offers holds for fewer. */
function checkAgainst({ part, add }: OnMoulding): void {
  part.scenarios.forEach((large, s) => {
    for (const small of part.scenarios) {
      if (large.proof === null || small.proof === null || !within(small.offers, large.offers)) continue;
      const than = `${small.proof.value}, what ${small.offers.join(', ')} costs`;
      if (large.proof.bound > small.proof.value)
        add('CHECK_BOUND', `scenarios[${s}].proof.bound`, large.proof.bound, `up to ${than}`);
      if (large.proof.value > small.proof.value)
        add('CHECK_BOUND', `scenarios[${s}].proof.value`, large.proof.value, `up to ${than}`);
    }
  });
}
