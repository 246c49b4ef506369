/** What a comparison says beyond its scenarios: other conditions, growing orders, the rule of thumb, spare sticks. */
import { centsFromMoney, moneyFromCents } from '../../documents/money.js';
import { toNumber } from '../../lengths/exact.js';
import { mmFromUm } from '../../lengths/units.js';
import type { FrameLine, Moulding } from '../../terms.js';
import { cheapest, complete, type OnMoulding, sumOf, within } from './context.js';
import { checkBuys, checkChoice } from './scenarios.js';

export function checkConditions(on: OnMoulding): void {
  const { part, batch, offers } = on;
  const { cost: recommended } = part.recommendation;
  part.whatIf.forEach((one, w) => {
    const at = `whatIf[${w}]`;
    const add = (key: string, found: unknown, holds: unknown): void => {
      if (found !== holds) on.add('CHECK_SCENARIO', `${at}.${key}`, found, holds);
    };
    const { maxLength, shortBy } = batch.options;
    const asked = { maxLength, shortBy, singlePieces: null }[one.what];
    add('length', one.length, asked === null ? null : mmFromUm(asked));
    if (one.what !== 'shortBy') add('stillEnough', one.stillEnough, null);
    if (one.status === 'short') {
      add('cost', one.cost ?? one.bound ?? one.difference, null);
      add('buy', one.buy.length, 0);
      return;
    }
    const single = one.what === 'singlePieces';
    const own = single ? offers.map((offer) => ({ ...offer, pack: 1, breaks: [] })) : offers;
    const may =
      one.what === 'maxLength' && maxLength !== null ? own.filter(({ length }) => length <= maxLength) : own;
    checkBuys(
      { ...on, offers: may },
      one.buy,
      may.map(({ id }) => id),
      at,
    );
    add('cost', one.cost, moneyFromCents(sumOf(one.buy)));
    const difference =
      recommended === null ? null : moneyFromCents(sumOf(one.buy) - centsFromMoney(recommended));
    add('difference', one.difference, difference);
    if (!(one.bound !== null && one.cost !== null && one.bound >= 0 && one.bound <= one.cost)) {
      on.add('CHECK_BOUND', `${at}.bound`, one.bound, `from 0 to ${one.cost}`);
    }
  });
}

export function checkGrowth(on: OnMoulding): void {
  const { part, batch, offers } = on;
  part.growth.forEach((one, g) => {
    const at = `growth[${g}]`;
    const add = (key: string, found: unknown, holds: unknown): void => {
      if (found !== holds) on.add('CHECK_SCENARIO', `${at}.${key}`, found, holds);
    };
    if (!batch.options.grow.includes(one.times)) add('times', one.times, batch.options.grow.join(' or '));
    const made = one.scenarios.filter(({ status }) => status === 'complete');
    one.scenarios.forEach(({ kind, offers: ids, cost }, s) => {
      checkChoice(on, kind, ids, `${at}.scenarios[${s}]`);
      const same = part.scenarios.find((other) => other.offers.join('\n') === ids.join('\n'));
      // The order once over is the one that was compared.
      if (one.times === 1 && cost !== (same?.proof?.value ?? null)) {
        on.add('CHECK_SCENARIO', `${at}.scenarios[${s}].cost`, cost, same?.proof?.value ?? null);
      }
    });
    made.forEach(({ cost, bound }, s) => {
      if (bound === null || cost === null || bound > cost)
        on.add('CHECK_BOUND', `${at}.scenarios[${s}].bound`, bound, `up to ${cost}`);
    });
    const least =
      made.length === 0 ? null : Math.min(...made.map(({ cost }) => cost ?? Number.POSITIVE_INFINITY));
    add('cost', one.cost, least);
    if ((one.status === 'complete') !== (least !== null))
      add('status', one.status, least === null ? 'short' : 'complete');
    if (least === null) return;
    checkBuys(
      on,
      one.buy,
      offers.map(({ id }) => id),
      at,
    );
    add('buy', moneyFromCents(sumOf(one.buy)), least);
    add(
      'offers',
      [...one.offers].sort().join(),
      one.buy
        .map(({ offer }) => offer)
        .sort()
        .join(),
    );
    add('costPerOrder', one.costPerOrder, Number((least / one.times).toFixed(4)));
    if (!(one.bound !== null && one.bound >= 0 && one.bound <= least))
      on.add('CHECK_BOUND', `${at}.bound`, one.bound, `from 0 to ${least}`);
    const alone = made.filter(({ kind }) => kind === 'one');
    const best = Math.min(...alone.map(({ cost }) => cost ?? Number.POSITIVE_INFINITY));
    const named = alone.some(({ cost, offers: ids }) => cost === best && ids[0] === one.bestAlone);
    if (alone.length === 0 ? one.bestAlone !== null : !named)
      add('bestAlone', one.bestAlone, 'the cheapest offer alone');
    if (!(one.yield === null || (one.yield > 0 && one.yield <= 1)))
      add('yield', one.yield, 'above 0, up to 1');
  });
}

/** 2(w+h) + 8·face, or n·(side + 2·face·tan θ); nothing is added to an outside size. */
function ruleOfThumb({ shape, measuredBy }: FrameLine, { face }: Moulding): number {
  const n = shape.kind === 'regular' ? shape.sides : 4;
  const around =
    shape.kind === 'regular'
      ? n * toNumber(shape.side)
      : 2 * (toNumber(shape.width) + toNumber(shape.height));
  const tan = n === 4 ? 1 : Math.tan(Math.PI / n);
  return around + (measuredBy === 'outside' ? 0 : 2 * n * toNumber(face) * tan);
}

const WASTE_SHARE = 0.15;

export function checkFootage(on: OnMoulding): void {
  const { part, lines, moulding, offers } = on;
  const { net, wasteShare, length, planned, off, sticks } = part.footage;
  const due = lines.reduce((sum, line) => sum + line.quantity * ruleOfThumb(line, moulding), 0);
  const add = (key: string, found: unknown, holds: unknown, right: boolean): void => {
    if (!right) on.add('CHECK_FIGURES', `footage.${key}`, found, holds);
  };
  const near = (found: number, um: number): boolean => Math.abs(found * 1_000 - um) <= 1;
  add('net', net, due / 1_000, near(net, due));
  add('wasteShare', wasteShare, WASTE_SHARE, wasteShare === WASTE_SHARE);
  add('length', length, (due * (1 + WASTE_SHARE)) / 1_000, near(length, due * (1 + WASTE_SHARE)));
  const best = complete(on).find(
    (one) => JSON.stringify(one.buy) === JSON.stringify(part.recommendation.buy),
  );
  const stock = best?.figures?.stockLength ?? 0;
  add('planned', planned, stock, planned === stock);
  const over = planned === 0 ? null : (due * (1 + WASTE_SHARE)) / 1_000 / planned - 1;
  add('off', off, over, over === null ? off === null : off !== null && Math.abs(off - over) <= 0.000_051);
  const alone = complete(on).filter(({ kind }) => kind === 'one');
  const least = cheapest(alone);
  const own = alone.find((one) => one.offers[0] === sticks?.offer);
  if (sticks === null) {
    add('sticks', 'null', 'sticks of an offer', least === null);
    return;
  }
  const offer = offers.find(({ id }) => id === sticks.offer);
  add(
    'sticks.offer',
    sticks.offer,
    'the cheapest alone',
    own !== undefined && centsFromMoney(own.proof.value) === least,
  );
  const rule = Math.ceil((due * (1 + WASTE_SHARE)) / (offer?.length ?? 1));
  add('sticks.rule', sticks.rule, rule, sticks.rule === rule);
  add('sticks.planned', sticks.planned, own?.figures?.sticks, sticks.planned === own?.figures?.sticks);
}

export function checkSpare(on: OnMoulding): void {
  const { part, batch, offers } = on;
  const { spare } = part;
  if (spare === null) return;
  const add = (key: string, found: unknown, holds: unknown, right: boolean): void => {
    if (!right) on.add('CHECK_FIGURES', `spare.${key}`, found, holds);
  };
  const pieces = part.recommendation.buy.reduce((sum, { count }) => sum + count, 0);
  add('share', spare.share, batch.options.spare, spare.share === batch.options.spare);
  add('seed', spare.seed, batch.options.seed, spare.seed === batch.options.seed);
  add('pieces', spare.pieces, pieces, spare.pieces === pieces);
  add(
    'runs',
    spare.runs,
    'more than are undecided',
    spare.runs > 0 && spare.undecided >= 0 && spare.undecided <= spare.runs,
  );
  const bought = part.recommendation.buy.map(({ offer }) => offer);
  add(
    'more',
    spare.more.join(),
    bought.join(),
    within(spare.more, bought) &&
      within(
        spare.more,
        offers.map(({ id }) => id),
      ),
  );
  spare.odds.forEach((one, i) => {
    const before = spare.odds[i - 1];
    const grows =
      before === undefined
        ? one.pieces === pieces
        : one.pieces === before.pieces + 1 && one.of100 >= before.of100;
    add(
      `odds[${i}]`,
      `${one.pieces}: ${one.of100}`,
      'a piece more, no worse',
      grows && one.of100 >= 0 && one.of100 <= 100,
    );
  });
  spare.levels.forEach(({ of100, pieces: enough }, i) => {
    const due = spare.odds.find((one) => one.of100 >= of100)?.pieces ?? null;
    add(`levels[${i}]`, enough, due, enough === due);
  });
}
