/**
 * Where webhooks may go. A name is looked up by the connection itself, and the very address it connects to is the one
 * that was checked: a name that points elsewhere a moment later gains nothing. Redirects are not followed.
 */
import { lookup as dnsLookup, type LookupAddress, type LookupOptions } from 'node:dns';
import { isIP } from 'node:net';
import { Agent, buildConnector } from 'undici';
import { PairstopError } from '../../errors.js';
import { show } from '../../read/problems.js';
import { addressTest } from './networks.js';

export type Resolve = (
  hostname: string,
  done: (error: Error | null, addresses: readonly LookupAddress[]) => void,
) => void;

const URL_MOST = 2_000;

function refuse(url: string, why: string): PairstopError {
  const allowed =
    'https to a public address; http, and networks of your own, where PAIRSTOP_DOOR_NETWORKS has them';
  return new PairstopError('PS_ADDRESS', `a webhook may not be sent to ${show(url)}: ${why}`, [
    { path: 'url', given: show(url), allowed },
  ]);
}

function bare(hostname: string): string {
  return hostname.replace(/^\[|\]$/g, '');
}

const systemResolve: Resolve = (hostname, done) =>
  dnsLookup(hostname, { all: true, verbatim: true }, (error, addresses) => done(error, addresses ?? []));

export class WebhookGuard {
  readonly #public: (address: string) => boolean;
  readonly #own: (address: string) => boolean;
  readonly #resolve: Resolve;

  constructor(networks: readonly string[], resolve: Resolve = systemResolve) {
    this.#public = addressTest([]);
    const own = addressTest(networks);
    this.#own = (address) => own(address) && !this.#public(address);
    this.#resolve = resolve;
  }

  #allowed(address: string, protocol: string): boolean {
    return this.#own(address) || (protocol === 'https:' && this.#public(address));
  }

  /** As far as the text tells; names are checked when they are connected to. Throws PS_ADDRESS. */
  requireUrl(text: string): URL {
    if (text.length > URL_MOST || !URL.canParse(text)) throw refuse(text, 'it is no URL');
    const url = new URL(text);
    if (url.protocol !== 'https:' && url.protocol !== 'http:')
      throw refuse(text, 'it is neither https nor http');
    if (url.username !== '' || url.password !== '') throw refuse(text, 'it holds a name or a password');
    const host = bare(url.hostname);
    if (isIP(host) !== 0 && !this.#allowed(host, url.protocol))
      throw refuse(text, 'its address is not a public one');
    return url;
  }

  /** Connects only to what is allowed. */
  agent(timeout: number): Agent {
    const connectors = new Map(
      ['http:', 'https:'].map((protocol) => [
        protocol,
        buildConnector({
          timeout,
          lookup: (hostname: string, options: LookupOptions, done: LookupDone) =>
            this.#lookup(hostname, protocol, options, done),
        }),
      ]),
    );
    return new Agent({
      connect: (options, callback) => {
        const host = bare(options.hostname);
        const connector = connectors.get(options.protocol);
        // An address needs no looking up, so the connection would not ask.
        if (connector === undefined || (isIP(host) !== 0 && !this.#allowed(host, options.protocol))) {
          callback(refuse(host, 'its address is not a public one'), null);
          return;
        }
        connector(options, callback);
      },
      headersTimeout: timeout,
      bodyTimeout: timeout,
      keepAliveTimeout: 1_000,
      pipelining: 1,
    });
  }

  #lookup(hostname: string, protocol: string, options: LookupOptions, done: LookupDone): void {
    this.#resolve(hostname, (error, addresses) => {
      if (error !== null) return done(error, '', 0);
      // One refused address is enough: which of them is connected to is nobody's choice here.
      if (addresses.length === 0 || addresses.some(({ address }) => !this.#allowed(address, protocol))) {
        return done(refuse(hostname, 'it stands for an address that is not a public one'), '', 0);
      }
      if (options.all === true) return (done as unknown as AllDone)(null, addresses);
      return done(null, addresses[0]!.address, addresses[0]!.family);
    });
  }
}

type LookupDone = (error: Error | null, address: string, family: number) => void;
type AllDone = (error: null, addresses: readonly LookupAddress[]) => void;
