import { deflateRawSync, gzipSync, inflateRawSync } from 'node:zlib';
import { describe, expect, it } from 'vitest';
import { seeded } from '../../bench/tools/random.js';
import type { PairstopError } from '../../src/errors.js';
import { partOf } from '../../src/processes/documents.js';
import { envelopeOf, openEnvelope } from '../../src/processes/envelope.js';
import { seal, unseal, unsealing } from '../../src/processes/seal.js';
import { batchOf } from '../tools/batches.js';

const label = { kind: 'part', batch: 'f'.repeat(64), moulding: 'ash' } as const;

function codeOf(work: () => unknown): string {
  try {
    work();
    return 'nothing thrown';
  } catch (error) {
    return (error as PairstopError).code;
  }
}

describe('a sealed document', () => {
  const text = JSON.stringify({ a: 'ä €', list: Array.from({ length: 200 }, (_, i) => i) });

  it('opens to the same text, and is raw deflate behind its head (RFC 1951)', () => {
    const sealed = seal(label, text);
    expect(unseal(label, sealed, 10_000)).toBe(text);
    expect(inflateRawSync(sealed.subarray(36)).toString()).toBe(text);
  });

  it('does not open under another label', () => {
    const sealed = seal(label, text);
    for (const other of [
      { ...label, kind: 'plan' as const },
      { ...label, batch: 'e'.repeat(64) },
      { ...label, moulding: 'oak' },
    ]) {
      expect(codeOf(() => unseal(other, sealed, 10_000))).toBe('PS_STORE');
    }
  });

  it('does not open when any byte is altered or it is cut anywhere', () => {
    const sealed = seal(label, text);
    for (let at = 0; at < sealed.length; at++) {
      const altered = Buffer.from(sealed);
      altered[at]! ^= 1 << (at % 8);
      let opened = 'PS_STORE';
      try {
        opened = unseal(label, altered, 10_000);
      } catch (error) {
        opened = (error as PairstopError).code;
      }
      // Deflate pads its last byte with bits that carry nothing: a change there may leave the text as it was.
      expect(at === sealed.length - 1 ? ['PS_STORE', text] : ['PS_STORE']).toContain(opened);
      expect(codeOf(() => unseal(label, sealed.subarray(0, at), 10_000))).toBe('PS_STORE');
    }
  });

  it('is passed on as it unpacks, and refused as a whole where it is not what it should be', async () => {
    const long = JSON.stringify({ list: Array.from({ length: 100_000 }, (_, i) => i) });
    const sealed = seal(label, long);
    let got = '';
    for await (const chunk of await unsealing(label, sealed, 1_000_000)) got += String(chunk);
    expect(got).toBe(long);
    const altered = Buffer.from(sealed);
    altered[altered.length >> 1]! ^= 1;
    for (const wrong of [
      () => unsealing({ ...label, moulding: 'oak' }, sealed, 1_000_000),
      () => unsealing(label, sealed, long.length - 1),
      () => unsealing(label, altered, 1_000_000),
      () => unsealing(label, sealed.subarray(0, 20), 1_000_000),
      () => unsealing(label, sealed.subarray(0, -9), 1_000_000),
    ]) {
      await expect(wrong()).rejects.toMatchObject({ code: 'PS_STORE' });
    }
  });

  it('that would unpack to more than is allowed is refused before it does', () => {
    const bomb = Buffer.concat([seal(label, text).subarray(0, 36), deflateRawSync(Buffer.alloc(50_000_000))]);
    expect(bomb.length).toBeLessThan(100_000);
    expect(codeOf(() => unseal(label, bomb, 1_000_000))).toBe('PS_STORE');
  });

  it('that is no part is not taken for one', () => {
    const batch = label.batch;
    for (const json of ['{}', '[]', 'null', '{"moulding":"ash"}', '{"moulding":"oak","plan":{}}']) {
      expect(codeOf(() => partOf(batch, 'ash', seal(label, json)))).toBe('PS_STORE');
    }
  });
});

describe('an envelope', () => {
  it('carries a batch as an object, as text, or packed', () => {
    const small = batchOf('small', ['ash']);
    const large = batchOf('large', ['ash'], { frames: 2_000 });
    const given = [
      envelopeOf(small),
      envelopeOf(large),
      { schema: 'pairstop/job@1', batch: JSON.stringify(small) },
    ];
    expect(given.map((envelope) => Object.keys(envelope))).toEqual([
      ['schema', 'batch'],
      ['schema', 'packed'],
      ['schema', 'batch'],
    ]);
    const ids = given.map((envelope) => openEnvelope(Buffer.from(JSON.stringify(envelope))).batch.id);
    expect(ids).toEqual(['small', 'large', 'small']);
  });

  it('of any other form is refused with a catalogued code, seeded', () => {
    const random = seeded('envelopes');
    const bomb = gzipSync(Buffer.alloc(80 * 2 ** 20)).toString('base64');
    const forms = [
      'null',
      '[]',
      '""',
      '{}',
      '{"schema":"pairstop/job@2","batch":{}}',
      '{"schema":"pairstop/job@1"}',
      '{"schema":"pairstop/job@1","batch":null}',
      '{"schema":"pairstop/job@1","batch":{},"packed":""}',
      '{"schema":"pairstop/job@1","packed":"%%%"}',
      '{"schema":"pairstop/job@1","packed":"aGVsbG8="}',
      `{"schema":"pairstop/job@1","packed":"${bomb}"}`,
      '{"schema":"pairstop/job@1","batch":{"__proto__":{}}}',
      '['.repeat(100_000),
    ];
    const whole = JSON.stringify(envelopeOf(batchOf('cut', ['ash'])));
    for (let i = 0; i < 300; i++) forms.push(whole.slice(0, random.int(0, whole.length - 1)));
    for (const form of forms) {
      const code = codeOf(() => openEnvelope(Buffer.from(form)));
      expect([form.slice(0, 60), code]).toEqual([
        form.slice(0, 60),
        expect.stringMatching(/^PS_(PAYLOAD|JSON|BATCH)$/),
      ]);
    }
  });
});
