/** Who asks, and what they may do. */
import type { FastifyRequest } from 'fastify';
import { PairstopError } from '../errors.js';
import type { Client } from '../queue/client/client.js';
import type { Allowance } from './http/limits.js';
import { type KeyRing, SCOPES, type Scope } from './keys/keys.js';
import type { DoorSettings } from './settings.js';
import type { Shops } from './shops.js';

export interface Caller {
  /** Id of the key; null: the door asks for none. */
  readonly key: string | null;
  readonly name: string;
  readonly shop: string;
  readonly scopes: readonly Scope[];
  readonly ends: number | null;
  readonly allowance: Allowance;
  readonly client: Client;
}

declare module 'fastify' {
  interface FastifyRequest {
    /** Set for every path that needs a key. */
    caller: Caller | null;
  }
  interface FastifyContextConfig {
    /** What the caller must be allowed; none: anyone may ask. */
    readonly scope?: Scope;
    /** Most bytes of the body. */
    readonly bodyMost?: number;
    /** Its body is small JSON, parsed before it is checked. */
    readonly parsed?: boolean;
    /** Takes CSV beside JSON. */
    readonly csv?: boolean;
  }
}

export interface Gate {
  readonly keys: KeyRing;
  readonly shops: Shops;
  readonly settings: DoorSettings;
  /** Only this machine can reach the door, so it may be used without a key while there is none. */
  readonly loopback: boolean;
}

const LOCAL_NAME = /^(localhost|127(\.\d{1,3}){3}|\[::1\])(:\d{1,5})?$/i;

/**
 * A page in this machine's browser can ask a door that needs no key, under a name that it had resolved to this machine.
 * Throws PS_REQUEST for a name that is not this machine's own.
 */
function requireLocalName(request: FastifyRequest): void {
  if (LOCAL_NAME.test(request.headers.host ?? '')) return;
  throw new PairstopError('PS_SCOPE', 'without a key the door is only used as localhost or 127.0.0.1');
}

export async function callerOf(request: FastifyRequest, gate: Gate): Promise<Caller> {
  const { keys, shops, settings, loopback } = gate;
  const { rate, concurrent, streams, prefix } = settings;
  const header = request.headers.authorization;
  if (header === undefined && loopback && !(await keys.some())) {
    requireLocalName(request);
    const allowance = { rate, concurrent, streams };
    const client = shops.client(prefix);
    return { key: null, name: 'this machine', shop: prefix, scopes: SCOPES, ends: null, allowance, client };
  }
  const key = await keys.open(header);
  return {
    key: key.id,
    name: key.name,
    shop: key.shop,
    scopes: key.scopes,
    ends: key.ends,
    allowance: { rate: key.rate ?? rate, concurrent, streams },
    client: shops.client(key.shop),
  };
}

/** Throws PS_SCOPE. */
export function requireScope(caller: Caller, scope: Scope): void {
  if (caller.scopes.includes(scope)) return;
  throw new PairstopError(
    'PS_SCOPE',
    `this needs a key with the scope ${scope}; this one has: ${caller.scopes.join(', ')}`,
  );
}

/** Of a route that needs a key. */
export function callerIn(request: FastifyRequest): Caller {
  if (request.caller === null)
    throw new PairstopError('PS_INTERNAL', 'a route asked who calls and had not asked for a key');
  return request.caller;
}
