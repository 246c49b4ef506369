/** Destinations a webhook must never reach: addresses in every writing, and names that stand for them. */
import type { LookupAddress } from 'node:dns';
import type { Resolve } from '../../src/door/webhooks/guard.js';

const SPECIAL_V4 = [
  ...[
    '0.0.0.0',
    '0.1.2.3',
    '10.0.0.1',
    '10.255.255.255',
    '100.64.0.1',
    '100.127.255.254',
    '127.0.0.1',
    '127.1.2.3',
  ],
  ...[
    '127.255.255.255',
    '169.254.0.1',
    '169.254.169.254',
    '172.16.0.1',
    '172.31.255.255',
    '192.0.0.1',
    '192.0.0.170',
  ],
  ...[
    '192.0.2.1',
    '192.88.99.1',
    '192.168.0.1',
    '192.168.255.255',
    '198.18.0.1',
    '198.19.255.255',
    '198.51.100.7',
  ],
  ...['203.0.113.9', '224.0.0.1', '239.255.255.255', '240.0.0.1', '255.255.255.255'],
];

const SPECIAL_V6 = [
  ...[
    '::',
    '::1',
    '::2',
    'fe80::1',
    'febf::1',
    'fec0::1',
    'fc00::1',
    'fd12:3456::1',
    'ff02::1',
    'ff0e::1',
    '100::1',
  ],
  ...[
    '2001::1',
    '2001:10::1',
    '2001:20::1',
    '2001:db8::1',
    '2001:0:4136:e378:8000:63bf:3fff:fdd2',
    '3fff::1',
    '5f00::1',
  ],
  ...['64:ff9b:1::1', '4000::1', '8000::1'],
];

const number = (v4: string): number => v4.split('.').reduce((sum, part) => sum * 256 + Number(part), 0);
const hex = (value: number, digits = 0): string => value.toString(16).padStart(digits, '0');
const words = (v4: string): string => `${hex(number(v4) >>> 16)}:${hex(number(v4) & 0xffff)}`;

/** The same address as a program, but not a person, would write it. */
function writings(v4: string): string[] {
  const [a, b, c, d] = v4.split('.').map(Number) as [number, number, number, number];
  return [
    v4,
    String(number(v4)),
    `0x${hex(number(v4), 8)}`,
    `0x${hex(a)}.0x${hex(b)}.0x${hex(c)}.0x${hex(d)}`,
    `0${a.toString(8)}.0${b.toString(8)}.0${c.toString(8)}.0${d.toString(8)}`,
    `${a}.${b}.${c * 256 + d}`,
    `[::ffff:${v4}]`,
    `[::ffff:${words(v4)}]`,
    `[64:ff9b::${v4}]`,
    `[2002:${words(v4)}::1]`,
    `[::${v4}]`,
  ];
}

export const REFUSED_LITERALS: readonly string[] = [
  ...SPECIAL_V4.flatMap(writings),
  ...SPECIAL_V6.map((v6) => `[${v6}]`),
].map((host) => `https://${host}/hook`);

/** Names that stand for them, some only the second time they are looked up. */
export const REFUSED_NAMES: readonly string[] = [
  ...[...SPECIAL_V4, ...SPECIAL_V6].map((_, i) => `https://name-${i}.example/hook`),
  ...Array.from({ length: 30 }, (_, i) => `https://mixed-${i}.example/hook`),
];

export const REBINDING = 'https://rebinding.example/hook';

function of(address: string): LookupAddress {
  return { address, family: address.includes(':') ? 6 : 4 };
}

/** Answers for those names; `rebinding.example` is public when first asked and this machine afterwards. */
export function planted(): Resolve {
  let asked = 0;
  const all = [...SPECIAL_V4, ...SPECIAL_V6];
  return (hostname, done) => {
    const [kind, at] = hostname.split('.')[0]!.split('-');
    if (kind === 'name') return done(null, [of(all[Number(at)]!)]);
    // A public address beside one that is not: 1.1.1.1 is only named, never called.
    if (kind === 'mixed') return done(null, [of('1.1.1.1'), of(SPECIAL_V4[Number(at) % SPECIAL_V4.length]!)]);
    asked += 1;
    return done(null, [of(asked === 1 ? '192.0.2.1' : '127.0.0.1')]);
  };
}
