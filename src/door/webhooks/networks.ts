/**
 * Addresses a webhook may not go to unless the shop allows them: everything that is not a public unicast address by
 * the registries of special-purpose addresses (IANA; RFC 6890 and its successors). An IPv6 address that carries an
 * IPv4 one (mapped, translated, 6to4, Teredo) is refused whatever it carries.
 */
import { BlockList, isIP, isIPv4 } from 'node:net';

const REFUSED_V4 = [
  '0.0.0.0/8',
  '10.0.0.0/8',
  '100.64.0.0/10',
  '127.0.0.0/8',
  '169.254.0.0/16',
  '172.16.0.0/12',
  '192.0.0.0/24',
  '192.0.2.0/24',
  '192.31.196.0/24',
  '192.52.193.0/24',
  '192.88.99.0/24',
  '192.168.0.0/16',
  '192.175.48.0/24',
  '198.18.0.0/15',
  '198.51.100.0/24',
  '203.0.113.0/24',
  '224.0.0.0/4',
  '240.0.0.0/4',
];

/** Of the only range that is given out for use (2000::/3). */
const REFUSED_V6 = ['2001::/23', '2001:db8::/32', '2002::/16', '2620:4f:8000::/48', '3fff::/20'];
const GIVEN_OUT_V6 = ['2000::/3'];

function parts(network: string): { readonly address: string; readonly bits: number } | null {
  const found = /^([0-9a-fA-F.:]{2,45})\/(\d{1,3})$/.exec(network);
  if (found === null || isIP(found[1]!) === 0) return null;
  const bits = Number(found[2]);
  return bits <= (isIPv4(found[1]!) ? 32 : 128) ? { address: found[1]!, bits } : null;
}

/** Whether the text is a network, as `10.1.0.0/16` or `fd00::/8`. */
export function isNetwork(text: string): boolean {
  return parts(text) !== null;
}

function listOf(networks: readonly string[]): BlockList {
  const list = new BlockList();
  for (const network of networks) {
    const found = parts(network);
    if (found !== null) list.addSubnet(found.address, found.bits, isIPv4(found.address) ? 'ipv4' : 'ipv6');
  }
  return list;
}

const refused = listOf([...REFUSED_V4, ...REFUSED_V6]);
const givenOut = listOf(GIVEN_OUT_V6);

/** Whether a webhook may go to this address; `own` are the networks the shop allows. */
export function addressTest(own: readonly string[]): (address: string) => boolean {
  const allowed = listOf(own);
  return (address) => {
    // A zone only says by which interface a link-local address is reached.
    const bare = address.replace(/%.*$/, '');
    const kind = isIP(bare);
    if (kind === 0) return false;
    const family = kind === 4 ? 'ipv4' : 'ipv6';
    if (allowed.check(bare, family)) return true;
    return !refused.check(bare, family) && (kind === 4 || givenOut.check(bare, 'ipv6'));
  };
}
