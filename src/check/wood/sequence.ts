/** The order of rails along a stick: that of the stops, and rails that belong together side by side. */
import type { InMoulding } from '../context.js';
import { opposite } from '../roster.js';
import type { StandingRail } from './rails.js';

function together(on: InMoulding, rails: readonly StandingRail[], i: number): void {
  const { roster, findings } = on;
  const { rail, lane, list, at } = rails[i]!;
  const { line, sides } = roster.lineOf(roster.frameOf(rail));
  if (line.match === 'stop') return;
  const side = roster.sideOf(rail);
  const neighbour = (k: number): number => (rails[k]?.lane === lane ? rails[k]!.rail : -1);
  const path = `${list}[${at}]`;
  switch (line.match) {
    case 'pair': {
      const facing = opposite(side, sides.length);
      if (facing <= side) return;
      const partner = rail - side + facing;
      if (neighbour(i - 1) === partner || neighbour(i + 1) === partner) return;
      const name = roster.railName(rail);
      findings.add(
        'CHECK_MATCH',
        path,
        `"${name}" apart from its opposing rail`,
        `${sides[facing]} beside it`,
      );
      return;
    }
    case 'frame': {
      if (side === 0) return;
      const name = roster.railName(rail);
      if (neighbour(i - 1) !== rail - 1) {
        const holds = `${sides[side - 1]} of the same frame just left of it, same segment`;
        findings.add('CHECK_MATCH', path, `"${name}" out of the ring's order`, holds);
      } else if (roster.stop[rail] !== roster.stop[rail - 1]) {
        findings.add(
          'CHECK_SECOND',
          path,
          `"${name}" at another stop than its neighbour`,
          'one run with two stops',
        );
      }
    }
  }
}

/** Along a segment the rails stand in the order of the stops. `rails` from left to right, those nobody ordered included. */
export function checkOrder(on: InMoulding, rails: readonly StandingRail[]): void {
  const { roster, findings } = on;
  rails.forEach(({ rail, lane, list, at }, i) => {
    const before = rails[i - 1];
    if (rail < 0 || before === undefined || before.rail < 0 || before.lane !== lane) return;
    const [stop, earlier] = [roster.stop[rail]!, roster.stop[before.rail]!];
    if (stop >= 0 && stop < earlier) {
      const found = `stops[${stop}] right of a rail of stops[${earlier}]`;
      findings.add('CHECK_ORDER', `${list}[${at}]`, found, 'longer settings first along a segment');
    }
  });
}

/** `rails` as for `checkOrder`. */
export function checkSequence(on: InMoulding, rails: readonly StandingRail[]): void {
  rails.forEach(({ rail }, i) => {
    if (rail >= 0) together(on, rails, i);
  });
  checkOrder(on, rails);
}
