import { describe, expect, it } from 'vitest';
import { checkBatch, readBatch, readBatchDocument } from '../../src/documents/batch/read.js';
import { exact } from '../../src/lengths/exact.js';
import { canonicalJson, fingerprint } from '../../src/read/fingerprint.js';
import { EXAMPLE, type Loose, sample } from './samples.js';

/** Thousandths of an inch in micrometres. */
function inches(thousandths: number) {
  return exact(BigInt(thousandths) * 254n, 10n);
}

function readWith(spoil: (batch: Loose) => void) {
  const batch = sample();
  spoil(batch);
  return readBatch(JSON.stringify(batch));
}

describe("the contract's example", () => {
  it('is read with the values it says', () => {
    expect(readBatch(EXAMPLE)).toMatchObject({
      id: 'lakeside-spring',
      units: 'in',
      // 3/32 in = 2381.25 µm; 1/16 in = 1587.5 µm, a need, so up; 1/32 in = 793.75 µm.
      saw: { kerf: exact(9_525n, 4n), recut: 1_588, stopStep: exact(3_175n, 4n), clampBelow: 152_400 },
      mouldings: [
        {
          id: 'ash-cap',
          face: inches(1_250),
          rabbet: inches(250),
          reversible: false,
          endTrim: 12_700,
          keepOver: 457_200,
        },
      ],
      frames: [
        {
          id: 'A-101',
          moulding: 'ash-cap',
          quantity: 12,
          measuredBy: 'glass',
          shape: { kind: 'rectangle', width: inches(16_000), height: inches(20_000) },
          play: inches(125),
          playMax: exact(9_525n, 2n),
          match: 'stop',
        },
      ],
      sticks: [
        {
          id: 'r17',
          moulding: 'ash-cap',
          length: 1_555_750,
          quantity: 1,
          flaws: [[508_000, 596_900]],
          value: 0,
        },
      ],
      offers: [
        {
          id: 'ash-10',
          moulding: 'ash-cap',
          length: 3_048_000,
          price: 2_340,
          available: 200,
          pack: 1,
          breaks: [{ from: 25, price: 2_190 }],
        },
      ],
      gauges: [{ id: 'G-20', length: 523_875 }],
      options: { timeLimit: 30, mergeStops: false, seed: 1 },
    });
  });

  it('is the same as bytes, with a byte order mark, and as an object', () => {
    const batch = readBatch(EXAMPLE);
    expect(readBatch(new TextEncoder().encode(EXAMPLE))).toEqual(batch);
    expect(readBatch(new TextEncoder().encode(`\uFEFF${EXAMPLE}`))).toEqual(batch);
    expect(readBatch(`\uFEFF${EXAMPLE}`)).toEqual(batch);
    const { document } = readBatchDocument(EXAMPLE);
    expect(document).toEqual(JSON.parse(EXAMPLE));
    expect(checkBatch(document)).toEqual(batch);
  });
});

describe('the defaults', () => {
  const bare = (units: string) =>
    readBatch(
      JSON.stringify({
        schema: 'pairstop/batch@1',
        id: 'b',
        units,
        mouldings: [{ id: 'm', face: 30, rabbet: 0 }],
        frames: [{ id: 'f', moulding: 'm', width: 100, height: 200 }],
        sticks: [{ id: 's', moulding: 'm', length: 1000 }],
        offers: [{ id: 'o', moulding: 'm', length: '2438.4 mm' }],
      }),
    );

  it('are those of the contract', () => {
    const batch = bare('in');
    expect(batch.saw).toEqual({
      kerf: inches(125),
      recut: 0,
      stopStep: exact(3_175n, 4n),
      clampBelow: 152_400,
      bench: 20,
      order: 'longest',
    });
    expect(batch.labour).toEqual({
      setStop: 60_000,
      setGauge: 20_000,
      takeStick: 20_000,
      cut: 10_000,
      swing: 6_000,
      label: 5_000,
      firstMitre: 30_000,
      rate: null,
    });
    expect(batch.mouldings[0]).toMatchObject({ reversible: false, endTrim: 0, keepOver: 304_800 });
    expect(batch.frames[0]).toMatchObject({
      quantity: 1,
      measuredBy: 'glass',
      play: inches(125),
      playMax: null,
      match: 'stop',
    });
    expect(batch.sticks[0]).toMatchObject({ quantity: 1, flaws: [], value: null });
    expect(batch.offers[0]).toMatchObject({ price: 9_600, available: null, pack: 1, breaks: [] });
    expect(batch.gauges).toEqual([]);
    expect(batch.options).toMatchObject({ timeLimit: 30, mergeStops: false, seed: 1 });
  });

  it('differ in a millimetre batch by the stop step and by what a length is worth', () => {
    const batch = bare('mm');
    expect(batch.saw.stopStep).toEqual(exact(500n));
    expect(batch.saw.kerf).toEqual(inches(125));
    expect(batch.offers[0]?.price).toBe(243_840);
  });

  it("round an offer's own length to the nearest cent, half a cent up", () => {
    const price = (length: string) =>
      readWith((batch) => {
        const offer = batch.offers?.[0];
        if (offer !== undefined) Object.assign(offer, { length, price: undefined });
      }).offers[0]?.price;
    expect(price('1000.005 mm')).toBe(100_001);
    expect(price('1000.0049 mm')).toBe(100_000);
  });
});

describe('what is read', () => {
  it('keeps flaws in order, grown outwards and merged where they touch', () => {
    const flaws = (spans: unknown) =>
      readWith((batch) => Object.assign(batch.sticks?.[0] ?? {}, { flaws: spans, length: '2400.0005 mm' }))
        .sticks[0]?.flaws;
    expect(
      flaws([
        [1000, 1100],
        [200, 250],
      ]),
    ).toEqual([
      [200_000, 250_000],
      [1_000_000, 1_100_000],
    ]);
    expect(
      flaws([
        [200, 250],
        [250, 300],
        [290, 295],
        [299, 310],
      ]),
    ).toEqual([[200_000, 310_000]]);
    expect(flaws([['10.0004', '20.0004']])).toEqual([[10_000, 20_001]]);
    expect(flaws([['2399', '2400.0005 mm']])).toEqual([[2_399_000, 2_400_000]]);
  });

  it('puts price breaks in order of the pieces they start from', () => {
    expect(readWith(() => {}).offers[1]?.breaks).toEqual([
      { from: 10, price: 925 },
      { from: 20, price: 900 },
    ]);
  });

  it('takes money exactly', () => {
    const value = (money: number) =>
      readWith((batch) => Object.assign(batch.sticks?.[1] ?? {}, { value: money })).sticks[1]?.value;
    for (const cents of [0, 1, 10, 29, 57, 115, 435, 1_999_99, 1_000_000_000])
      expect(value(cents / 100)).toBe(cents);
  });

  it('takes a regular frame by its sides', () => {
    expect(readWith(() => {}).frames[1]?.shape).toEqual({ kind: 'regular', sides: 6, side: exact(200_000n) });
  });

  it('takes ids in any script, and odd ones that are still printable', () => {
    for (const id of ['é', '框', 'a b', 'a/1', 'a:b', '17', '"', 'toString', '𝔸'.repeat(64)]) {
      expect(readWith((batch) => Object.assign(batch, { id })).id).toBe(id);
    }
  });
});

describe('fingerprint', () => {
  it('is the same for the same content, however it is ordered and spaced', () => {
    const { document } = readBatchDocument(EXAMPLE);
    const turned = Object.fromEntries(Object.entries(document).reverse());
    expect(fingerprint(turned)).toBe(fingerprint(document));
    expect(fingerprint(document)).toMatch(/^[0-9a-f]{64}$/);
  });

  it('differs when any value differs', () => {
    const whole = fingerprint(sample());
    const changed = sample();
    Object.assign(changed.frames?.[2] ?? {}, { match: 'pair' });
    expect(fingerprint(changed)).not.toBe(whole);
    const swapped = sample();
    swapped.frames?.reverse();
    expect(fingerprint(swapped)).not.toBe(whole);
  });

  // SHA-256 of the empty object's canonical form "{}", by coreutils: printf '{}' | sha256sum.
  it('is a SHA-256 as any other tool computes it', () => {
    expect(fingerprint({})).toBe('44136fa355b3678a1146ad16f7e8649e94fb4fc21fe77e8310c060f61caaff8a');
  });

  // RFC 8785, sections 3.2.2 and 3.2.3.
  it('hashes the canonical JSON of RFC 8785', () => {
    const input: unknown = JSON.parse(String.raw`{
      "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
      "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
      "literals": [null, true, false]
    }`);
    expect(canonicalJson(input)).toBe(
      String.raw`{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\u000f\nA'B\"\\\\\"/"}`,
    );
    const keys: unknown = JSON.parse(
      String.raw`{"\u20ac":1,"\r":2,"\ufb33":3,"1":4,"\ud83d\ude00":5,"\u0080":6,"\u00f6":7}`,
    );
    expect(canonicalJson(keys)).toBe(`{"\\r":2,"1":4,"\u0080":6,"ö":7,"€":1,"😀":5,"\ufb33":3}`);
  });
});
