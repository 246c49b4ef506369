/** The present as the sum of events, checked against the definition: no piece twice, and every micrometre somewhere. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { balancesOf } from '../../src/rack/balance.js';
import { changeOf } from '../../src/rack/change.js';
import { eventFrom, type Happening, signed } from '../../src/rack/events.js';
import { advance, emptyRack, type Present, sumOf } from '../../src/rack/sum.js';
import { added, BY, rackPiece } from '../tools/rack.js';

function happened(...happenings: readonly Happening[]): Present {
  return sumOf(happenings.map((one, i) => ({ id: `${i + 1}-0`, event: signed(one, BY) })));
}

const ASH = rackPiece('r1', 'ash', 1_000_000);
const cut = (more: Partial<Extract<Happening, { kind: 'cut' }>>): Happening => ({
  kind: 'cut',
  batch: 'B',
  piece: 'r1',
  rails: ['A/1/top'],
  spoiled: [],
  wood: 400_000,
  waste: 100_000,
  offcuts: [rackPiece('B/o1', 'ash', 500_000, { from: { kind: 'offcut', batch: 'B', of: 'r1' } })],
  done: true,
  ...more,
});
const RESERVED: Happening = { kind: 'reserved', batch: 'B', pieces: ['r1'] };

describe('the sum of the journal', () => {
  it('keeps wood in balance through entering, reserving, cutting and leaving', () => {
    const present = happened(added(ASH), RESERVED, cut({}), {
      kind: 'removed',
      how: 'removed',
      piece: 'B/o1',
    });
    expect(balancesOf(present)).toEqual([
      {
        moulding: 'ash',
        came: 1_000_000,
        rails: 400_000,
        waste: 100_000,
        gone: 500_000,
        lying: 0,
        offcuts: 0,
        off: 0,
      },
    ]);
    expect(present.pieces.get('r1')?.state).toEqual({ kind: 'used', batch: 'B' });
  });

  it('keeps what is begun apart from what is cut', () => {
    const half = cut({ wood: 300_000, waste: 0, offcuts: [], done: false });
    const present = happened(added(ASH), RESERVED, half);
    expect(present.pieces.get('r1')?.state).toEqual({
      kind: 'begun',
      batch: 'B',
      left: 700_000,
      rails: ['A/1/top'],
      spoiled: [],
    });
    const done = happened(added(ASH), RESERVED, half, cut({ wood: 100_000, waste: 100_000 }));
    expect(balancesOf(done)[0]).toMatchObject({ rails: 400_000, waste: 100_000, offcuts: 500_000, off: 0 });
  });

  it.each<[string, readonly Happening[]]>([
    ['one piece promised twice', [RESERVED, { kind: 'reserved', batch: 'C', pieces: ['r1'] }]],
    ['one piece named twice in one promise', [{ kind: 'reserved', batch: 'C', pieces: ['r1', 'r1'] }]],
    ['a piece nobody knows', [{ kind: 'reserved', batch: 'B', pieces: ['r2'] }]],
    ['an id a second time', [added(ASH)]],
    [
      'a piece released by another batch',
      [RESERVED, { kind: 'released', batch: 'C', how: 'cancelled', pieces: ['r1'] }],
    ],
    ['a piece cut that is reserved for another', [RESERVED, cut({ batch: 'C' })]],
    ['a piece cut that is free', [cut({})]],
    ['a piece cut twice', [RESERVED, cut({}), cut({ offcuts: [], waste: 600_000 })]],
    ['more wood out of a piece than in it', [RESERVED, cut({ waste: 100_001 })]],
    ['less wood out of a piece than in it', [RESERVED, cut({ waste: 99_999 })]],
    [
      'more received than was bought',
      [{ kind: 'received', batch: 'B', offer: 'ash-8', reserve: true, piece: ASH }],
    ],
    ['a flaw outside the piece', [added(rackPiece('r3', 'ash', 10, { flaws: [[5, 11]] }))]],
    [
      'a begun piece measured anew',
      [RESERVED, cut({ waste: 0, offcuts: [], done: false }), { kind: 'edited', piece: ASH }],
    ],
    [
      'a gone piece moved',
      [
        { kind: 'removed', how: 'missing', piece: 'r1' },
        { kind: 'moved', piece: 'r1', place: 'B2' },
      ],
    ],
  ])('refuses %s', (_, happenings) => {
    expect(() => happened(added(ASH), ...happenings)).toThrow(
      expect.objectContaining({ code: 'PS_RACK' }) as Error,
    );
  });

  it('counts a piece measured longer or shorter as come or gone', () => {
    const longer = happened(added(ASH), { kind: 'edited', piece: { ...ASH, length: 1_000_010 } });
    expect(balancesOf(longer)[0]).toMatchObject({ came: 1_000_010, gone: 0, lying: 1_000_010, off: 0 });
    const other = happened(added(ASH), {
      kind: 'edited',
      piece: { ...ASH, moulding: 'oak', length: 900_000 },
    });
    expect(balancesOf(other)).toMatchObject([
      { moulding: 'ash', came: 1_000_000, gone: 1_000_000, lying: 0, off: 0 },
      { moulding: 'oak', came: 900_000, gone: 0, lying: 900_000, off: 0 },
    ]);
  });

  it('is the same summed in one go or change by change', () => {
    const lengths = fc.array(fc.integer({ min: 1, max: 1_000_000 }), { minLength: 1, maxLength: 8 });
    fc.assert(
      fc.property(lengths, fc.nat(20), (all, seed) => {
        const happenings: Happening[] = all.map((length, i) =>
          added(rackPiece(`p${i}`, i % 2 ? 'oak' : 'ash', length)),
        );
        happenings.push({ kind: 'reserved', batch: 'B', pieces: [`p${seed % all.length}`] });
        const whole = happened(...happenings);
        const present = emptyRack();
        for (const [i, one] of happenings.entries()) {
          const known = { pieces: [...present.pieces.values()], expected: [] };
          const { events } = changeOf(known, [one], BY);
          advance(present, { id: `${i + 1}-0`, event: eventFrom('', events[0] ?? '') });
        }
        expect(present).toEqual(whole);
      }),
      { seed: 16, numRuns: 50 },
    );
  });

  it('does not guess at events of a newer program', () => {
    expect(() => eventFrom('5-0', '{"v":2,"kind":"melted"}')).toThrow(
      /newer pairstop: entry 5-0 has version 2/,
    );
    expect(() => eventFrom('5-0', '{"v":1,"kind":"melted"}')).toThrow(/damaged at 5-0/);
    expect(() => eventFrom('5-0', 'no')).toThrow(/damaged at 5-0/);
  });
});
