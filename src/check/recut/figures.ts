/** What a recut says of itself: lost rails, what is moved and replaced, shortfalls, totals, proofs and money. */
import { centsFromMoney, moneyFromCents } from '../../documents/money.js';
import { umFromMm } from '../../lengths/units.js';
import type { Offer } from '../../terms.js';
import type { CheckBase } from '../context.js';
import { costOf } from '../figures/buy.js';
import { mm, umOf } from '../numbers.js';
import { type OrderedLine, opposite } from '../roster.js';
import { type CheckedRecutPart, lostWood, type OnRecut, railsToCut } from './context.js';

/** Lost now: on a stick's list of the lost, and cut again or short. */
export function checkLost(on: OnRecut): void {
  const { recut, findings } = on;
  const gone = new Set(lostWood(recut).map(({ rail }) => rail));
  const lost = new Set(recut.lost);
  const again = new Set(railsToCut(recut).map(({ rail }) => rail.rail));
  const short = new Set(recut.shortfall.flatMap(({ rails }) => rails));
  recut.lost.forEach((rail, i) => {
    const twice = recut.lost.indexOf(rail) !== i;
    if (!twice && gone.has(rail) && (again.has(rail) || short.has(rail))) return;
    findings.add('CHECK_LOST', `lost[${i}]`, `"${rail}"`);
  });
  recut.mouldings.forEach(({ sticks }, m) => {
    const names = new Set(sticks.map(({ stick }) => stick));
    sticks.forEach((stick, s) => {
      const path = `mouldings[${m}].sticks[${s}]`;
      stick.rails.forEach((rail, r) => {
        if (rail.replaces !== lost.has(rail.rail)) {
          findings.add(
            'CHECK_REPLACES',
            `${path}.rails[${r}].replaces`,
            String(rail.replaces),
            String(!rail.replaces),
          );
        }
        if (!names.has(rail.was)) findings.add('CHECK_MOVED', `${path}.rails[${r}].was`, `"${rail.was}"`);
      });
      // Rails lost in an earlier mishap are cut by now, to be cut, or short.
      stick.lost.forEach(({ rail }, r) => {
        const known = lost.has(rail) || again.has(rail) || short.has(rail) || isCut(on, rail);
        if (!known) findings.add('CHECK_LOST', `${path}.lost[${r}]`, `"${rail}", which nothing replaces`);
      });
    });
  });
}

function isCut({ recut }: OnRecut, id: string): boolean {
  return recut.mouldings.some(({ sticks }) => sticks.some(({ cut }) => cut.some(({ rail }) => rail === id)));
}

/** Sides of one size are equal: the opposing rails of a rectangle, all rails of a regular frame. */
function checkEqual({ roster, findings }: OnRecut, line: OrderedLine, first: number): void {
  const regular = line.line.shape.kind === 'regular';
  line.sides.forEach((_, side) => {
    const other = regular ? 0 : opposite(side, line.sides.length);
    const [length, equal] = [roster.length[first + side]!, roster.length[first + other]!];
    if (other > side || length === 0 || equal === 0 || length === equal) return;
    const found = `"${roster.railName(first + side)}" of ${mm(length)}`;
    findings.add('CHECK_OPPOSING', 'mouldings', found, `${mm(equal)}, as ${line.sides[other]}`);
  });
}

/** Frames of which something is missing are short, and their missing rails are named; of a frame the plan left out nothing is here. */
export function checkWholeFrames(on: OnRecut): void {
  const { roster, recut, findings } = on;
  const short = new Map<number, string>();
  recut.shortfall.forEach(({ moulding, frames, rails }, s) => {
    const path = `shortfall[${s}]`;
    const named = new Set<number>();
    rails.forEach((id, r) => {
      const name = id.slice(0, Math.max(0, id.lastIndexOf('/')));
      const frame = roster.frameAt(name);
      const rail = frame < 0 ? -1 : roster.railAt(frame, id.slice(name.length + 1));
      const own = rail >= 0 && roster.lineOf(frame).moulding.id === moulding;
      if (!own || short.has(rail) || roster.length[rail]! > 0) {
        findings.add(
          'CHECK_SHORTFALL',
          `${path}.rails[${r}]`,
          `"${id}"`,
          'a rail of the moulding that is not cut, once',
        );
        return;
      }
      short.set(rail, path);
      named.add(frame);
    });
    const found = frames.map((name) => roster.frameAt(name));
    if (found.length !== named.size || found.some((frame) => !named.has(frame))) {
      findings.add(
        'CHECK_SHORTFALL',
        `${path}.frames`,
        frames.join(', '),
        'the frames of its rails, once each',
      );
    }
  });
  for (const ordered of roster.lines) {
    const { line, sides, firstFrame, firstRail } = ordered;
    for (let copy = 0; copy < line.quantity; copy++) {
      const first = firstRail + copy * sides.length;
      checkEqual(on, ordered, first);
      const rails = sides.map((_, side) => first + side);
      const here = rails.filter((rail) => roster.length[rail]! > 0);
      on.verified.frames += 1;
      const missing = rails.find((rail) => roster.length[rail] === 0 && !short.has(rail));
      if (missing === undefined || (here.length === 0 && rails.every((rail) => !short.has(rail)))) continue;
      const name = roster.frameName(firstFrame + copy);
      findings.add(
        'CHECK_RAIL_MISSING',
        'mouldings',
        `"${name}" without ${sides[missing - first]}`,
        'cut, to be cut, or in the shortfall',
      );
    }
  }
}

function checkNeeds({ batch, findings }: CheckBase, { shortfall }: OnRecut['recut']): void {
  const offers = new Map(batch.offers.map((offer) => [offer.id, offer]));
  shortfall.forEach(({ moulding, needs, buy, cost }, s) => {
    const path = `shortfall[${s}]`;
    const own = buy.map(({ offer }) => offers.get(offer));
    const add = (key: string, found: unknown, holds: string): void =>
      findings.add('CHECK_SHORTFALL', `${path}.${key}`, String(found), holds);
    buy.forEach((purchase, b) => {
      const offer = own[b];
      if (offer?.moulding !== moulding || purchase.moulding !== moulding) {
        add(`buy[${b}]`, purchase.offer, 'an offer of the moulding');
      } else if (!(purchase.count > 0) || centsFromMoney(purchase.cost) !== costOf(offer, purchase.count)) {
        const due = moneyFromCents(costOf(offer, purchase.count));
        findings.add('CHECK_COST', `${path}.buy[${b}].cost`, String(purchase.cost), String(due));
      }
    });
    const length = buy.reduce((sum, { count }, b) => sum + count * (own[b]?.length ?? 0), 0);
    if (buy.length > 0 ? umOf(needs) !== length : !(umOf(needs) > 0)) {
      add('needs', needs, buy.length > 0 ? `${mm(length)}, of what it buys` : 'mm above 0');
    }
    const sum = moneyFromCents(buy.reduce((all, one) => all + centsFromMoney(one.cost), 0));
    if (cost !== (buy.length === 0 ? null : sum)) {
      findings.add('CHECK_COST', `${path}.cost`, String(cost), String(buy.length === 0 ? null : sum));
    }
  });
}

function checkPartFigures(on: OnRecut, { path, part, cost }: CheckedRecutPart): void {
  const { findings, recut } = on;
  const short = recut.shortfall.some(({ moulding }) => moulding === part.moulding);
  const due = short ? 'short' : 'complete';
  if (part.status !== due) findings.add('CHECK_STATUS', `${path}.status`, `"${part.status}"`, `"${due}"`);
  const moved = part.sticks.reduce(
    (sum, { stick, rails }) => sum + rails.filter((rail) => !rail.replaces && rail.was !== stick).length,
    0,
  );
  if (part.moved !== moved) findings.add('CHECK_MOVED', `${path}.moved`, String(part.moved), String(moved));
  const { status, measure, value, bound } = part.proof;
  const proven = (key: string, found: unknown, holds: string): void =>
    findings.add('CHECK_PROOF', `${path}.proof.${key}`, String(found), holds);
  if (measure !== 'cost') proven('measure', measure, '"cost"');
  if (centsFromMoney(value) !== cost) proven('value', value, String(moneyFromCents(cost)));
  if (!(bound >= 0 && bound <= value)) proven('bound', bound, `from 0 to the value, ${value}`);
  const right = bound >= value ? 'optimal' : bound > 0 ? 'within' : 'unproven';
  if (status !== right) proven('status', status, `"${right}"`);
}

export function checkRecutFigures(on: OnRecut, parts: readonly CheckedRecutPart[], total: number): void {
  const { findings, recut } = on;
  for (const part of parts) checkPartFigures(on, part);
  checkNeeds(on, recut);
  const toCut = railsToCut(recut);
  const { totals } = recut;
  const due = {
    lost: recut.lost.length,
    replaced: toCut.filter(({ rail }) => rail.replaces).length,
    moved: toCut.filter(({ stick, rail }) => !rail.replaces && rail.was !== stick.stick).length,
    cut: recut.mouldings.reduce(
      (sum, { sticks }) => sum + sticks.reduce((all, { cut }) => all + cut.length, 0),
      0,
    ),
    toCut: toCut.length,
    stopSettings: recut.mouldings
      .flatMap(({ stops }) => stops)
      .reduce((sum, { second }) => sum + (second === null ? 1 : 2), 0),
    cost: moneyFromCents(total),
  };
  for (const key of Object.keys(due) as (keyof typeof due)[]) {
    if (totals[key] !== due[key]) {
      findings.add('CHECK_TOTALS', `totals.${key}`, String(totals[key]), String(due[key]));
    }
  }
  const seconds = recut.mouldings.reduce((sum, part) => sum + (part.seconds ?? 0), 0);
  if (totals.seconds !== undefined && totals.seconds !== seconds) {
    findings.add('CHECK_RUN_FIGURES', 'totals.seconds', String(totals.seconds), String(seconds));
  }
  const status = recut.shortfall.length > 0 ? 'short' : 'complete';
  if (recut.status !== status) findings.add('CHECK_STATUS', 'status', `"${recut.status}"`, `"${status}"`);
}

/** Pieces bought before, by offer. */
export function checkBoughtBefore({ batch, recut, findings }: OnRecut): ReadonlyMap<string, number> {
  const offers = new Map<string, Offer>(batch.offers.map((offer) => [offer.id, offer]));
  const bought = new Map<string, number>();
  recut.bought.forEach(({ moulding, offer: id, count }, b) => {
    const offer = offers.get(id);
    const right = offer?.moulding === moulding && !bought.has(id) && count > 0;
    const there = offer !== undefined && (offer.available === null || count <= offer.available);
    if (!right || !there || count % offer.pack !== 0) {
      findings.add('CHECK_BOUGHT', `bought[${b}]`, `${count} of "${id}"`);
    }
    bought.set(id, (bought.get(id) ?? 0) + count);
  });
  return bought;
}

/** Pieces made of spoiled rails: of wood that is gone from its stick, and shorter than the rail was. */
export function checkReused({ batch, recut, findings }: OnRecut): void {
  const taken = new Set([...batch.sticks, ...batch.offers].map(({ id }) => id));
  recut.reused?.forEach((piece, i) => {
    const part = recut.mouldings.find(({ moulding }) => moulding === piece.moulding);
    const stick = part?.sticks.find((one) => one.stick === piece.stick);
    const rail = stick?.lost.find((one) => one.rail === piece.rail);
    const length = umOf(piece.length);
    const flaws = piece.flaws.every(
      ([from, to], f) => from < to && to <= piece.length && from >= (piece.flaws[f - 1]?.[1] ?? 0),
    );
    const whole = rail !== undefined && length > 0 && length < umFromMm(rail.length);
    const used = part?.sticks.some(({ source, ref }) => source === 'rack' && ref === piece.id) === true;
    const raw = piece.ends.includes('raw');
    if (whole && flaws && used && !raw && !taken.has(piece.id)) taken.add(piece.id);
    else findings.add('CHECK_REUSED', `reused[${i}]`, `"${piece.id}" of "${piece.rail}", ${mm(length)}`);
  });
}
