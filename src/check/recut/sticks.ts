/** The sticks of a recut: what is cut from each, what was lost, what is still to be cut, and what is left. */
import type { PlacedRail } from '../../documents/plan/types.js';
import type { RecutMoulding, RecutStick } from '../../documents/recut/types.js';
import type { InMoulding } from '../context.js';
import { lengthAt, mm, umOf } from '../numbers.js';
import { opposite } from '../roster.js';
import { tagsFor } from '../tags.js';
import { sharesCut } from '../wood/geometry.js';
import { blockedBy, checkLeft, freeOf } from '../wood/left.js';
import { checkPlaces, type StandingRail, standingRails, trimsOf } from '../wood/rails.js';
import { checkOrder } from '../wood/sequence.js';
import { pieceUnder, type Supply } from '../wood/sticks.js';
import { together } from './context.js';

function checkFound(on: InMoulding, { flaws = [] }: RecutStick, length: number, path: string): void {
  let last = -1;
  flaws.forEach((flaw, f) => {
    const [from, to] = [0, 1].map((end) =>
      lengthAt(flaw[end as 0 | 1], on.findings, `${path}.flaws`, f, String(end)),
    );
    if (from! > last && from! < to! && to! <= length) last = to!;
    else on.findings.add('CHECK_FOUND', `${path}.flaws[${f}]`, `${mm(from!)} to ${mm(to!)}`);
  });
}

/** Along a segment nothing was cut right of what is still to be cut. */
function checkCutFirst(on: InMoulding, rails: readonly StandingRail[]): void {
  let open: StandingRail | null = null;
  for (const rail of rails) {
    if (open?.lane !== rail.lane) open = null;
    if (rail.list.endsWith('.rails')) open = rail;
    else if (open !== null) {
      const found = 'right of a rail that is still to be cut';
      on.findings.add('CHECK_CUT', `${rail.list}[${rail.at}]`, found);
    }
  }
}

/** Cuts still to be made: on reversible stock neighbours share one, but a stick that was begun gets a fresh first mitre. */
function cutsToMake(on: InMoulding, rails: readonly StandingRail[]): number {
  let [cuts, joined] = [0, false];
  rails.forEach((rail, i) => {
    const after = rails[i + 1];
    cuts += joined ? 1 : 2;
    joined = on.moulding.reversible && after?.lane === rail.lane && sharesCut(rail, after);
  });
  return cuts;
}

function checkTag(
  on: InMoulding,
  tagFor: ReturnType<typeof tagsFor>,
  rails: readonly PlacedRail[],
  list: string,
): void {
  rails.forEach(({ tag, frame, side }, r) => {
    if (tag === undefined) return;
    const right = tagFor(frame, side);
    if (tag !== right) on.findings.add('CHECK_TAG', `${list}[${r}].tag`, `"${tag}"`, `"${right}"`);
  });
}

/** Whether a rail and all it is matched with are still to be cut: where part is cut or lost nothing can be asked. */
function wholeMatch({ roster }: InMoulding, rail: number, cut: ReadonlySet<number>): boolean {
  const { line, sides } = roster.lineOf(roster.frameOf(rail));
  const first = roster.firstRailOf(roster.frameOf(rail));
  if (line.match === 'frame') return sides.every((_, side) => !cut.has(first + side));
  const facing = opposite(rail - first, sides.length);
  return line.match === 'pair' && facing >= 0 && !cut.has(rail) && !cut.has(first + facing);
}

/** `standing`: what is to be cut from a stick. */
function checkMatches(on: InMoulding, standing: readonly StandingRail[], cut: ReadonlySet<number>): void {
  const { roster } = on;
  standing.forEach(({ rail, lane, list, at }, i) => {
    if (rail < 0 || !wholeMatch(on, rail, cut)) return;
    const first = roster.firstRailOf(roster.frameOf(rail));
    const { line, sides } = roster.lineOf(roster.frameOf(rail));
    const neighbour = (k: number): number => (standing[k]?.lane === lane ? standing[k]!.rail : -1);
    const [left, right] = [neighbour(i - 1), neighbour(i + 1)];
    const facing = first + opposite(rail - first, sides.length);
    const beside =
      line.match === 'frame' ? rail === first || left === rail - 1 : left === facing || right === facing;
    if (!beside)
      on.findings.add('CHECK_MATCH', `${list}[${at}]`, `"${roster.railName(rail)}" apart from its match`);
  });
}

/** Waste need not be listed. What is, lies from one cut, trim or flaw to the next. */
function checkWaste(
  on: InMoulding,
  { left }: RecutStick,
  rails: readonly StandingRail[],
  flaws: readonly (readonly [number, number])[],
  [first, last]: readonly [number, number],
  path: string,
): void {
  const spoiled = flaws.map(([from, to]) => ({ from, to }));
  const blocked = [...blockedBy(rails), ...spoiled].sort((a, b) => a.from - b.from);
  const free = new Set(freeOf(first, last, blocked).map(({ from, to }) => `${from} ${to}`));
  left.forEach(({ from, to, use }, at) => {
    if (use === 'offcut' || free.has(`${umOf(from)} ${umOf(to)}`)) return;
    on.findings.add('CHECK_LEFT', `${path}.left[${at}]`, `${from} to ${to} mm`, 'a whole free span');
  });
}

/** Every stick; gives the cuts still to be made on each. `cut`: numbers of all good rails of the moulding. */
export function checkRecutSticks(
  on: InMoulding,
  part: RecutMoulding,
  supply: Supply,
  cut: ReadonlySet<number>,
): readonly number[] {
  const { verified } = on;
  const tagFor = tagsFor(on.batch);
  const list = `${on.path}.sticks`;
  return part.sticks.map((stick, s) => {
    const path = `${list}[${s}]`;
    verified.sticks += 1;
    const stands = pieceUnder(on, stick, supply, list, s);
    checkFound(on, stick, stands.length, path);
    const flaws = together(stands.flaws, stick.flaws ?? []);
    const good = standingRails(on, stick.cut, `${path}.cut`);
    const lost = standingRails(on, stick.lost, `${path}.lost`, true);
    const open = standingRails(on, stick.rails, `${path}.rails`);
    for (const { rail } of [...good, ...open]) if (rail >= 0) on.roster.stick[rail] = s;
    for (const name of ['cut', 'lost', 'rails'] as const)
      checkTag(on, tagFor, stick[name], `${path}.${name}`);
    if (Number.isNaN(stands.length)) return 0;
    const trims = trimsOf(on, stands.ends);
    const all = [...good, ...lost, ...open].sort((a, b) => a.start - b.start);
    checkPlaces(on, all, stands.length, flaws, trims);
    checkCutFirst(on, all);
    checkOrder(on, open);
    checkMatches(on, open, cut);
    checkWaste(on, stick, all, flaws, [trims[0], stands.length - trims[1]], path);
    checkLeft(on, stick, all, stands.length, { flaws, ends: stands.ends }, trims, path);
    return cutsToMake(on, open);
  });
}
