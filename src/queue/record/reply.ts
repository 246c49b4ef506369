/** Replies of the record's scripts, element by element, each checked. */
import { PairstopError } from '../../errors.js';
import type { SealedPart } from '../../processes/solver/tasks.js';
import { isDamage } from '../redis/outage.js';
import { figuresFrom } from './figures.js';

function damaged(what: string): PairstopError {
  return new PairstopError('PS_STORE', `the record of the batch is damaged: ${what}`);
}

/** PS_STORE where Redis stumbled over what lies under the key; any other error as it is. */
export function asDamage(error: unknown): unknown {
  return isDamage(error) ? damaged('no hash, or no number where one belongs') : error;
}

/** What a script answered, element by element. */
export class ScriptReply {
  readonly #items: readonly unknown[];

  constructor(reply: unknown) {
    if (!Array.isArray(reply)) throw damaged('a reply of no known form');
    this.#items = reply;
  }

  text(at: number): string {
    const item = this.#items[at];
    if (Buffer.isBuffer(item)) return item.toString();
    return typeof item === 'number' || typeof item === 'string' ? String(item) : '';
  }

  /** Null where the script gave an empty text. */
  bytes(at: number): Buffer | null {
    const item = this.#items[at];
    return Buffer.isBuffer(item) && item.length > 0 ? item : null;
  }

  one<const T extends string>(at: number, of: readonly T[]): T {
    const text = this.text(at);
    const known = of.find((one) => one === text);
    if (known === undefined) throw damaged(`${JSON.stringify(text.slice(0, 40))} for ${of.join(', ')}`);
    return known;
  }

  /** A JSON list of texts. */
  texts(at: number): readonly string[] {
    const list: unknown = JSON.parse(this.text(at));
    return Array.isArray(list) ? list.map(String) : [];
  }

  count(at: number): number {
    const number = Number(this.text(at));
    if (!Number.isSafeInteger(number)) throw damaged(`${this.text(at).slice(0, 40)} for a count`);
    return number;
  }

  /** A part whose figures are not sound is no part: that only costs its head start. */
  part(moulding: string, at: number): SealedPart | null {
    const sealed = this.bytes(at);
    const figures = sealed === null ? null : figuresFrom(this.text(at + 1));
    return sealed === null || figures === null ? null : { moulding, sealed, ...figures };
  }
}
