/** Work that would keep the door from answering others: done in threads. Documents travel as bytes, moved and not copied. */

import { type ErrorCode, type InputProblem, PairstopError } from '../../errors.js';
import type { OrderGiven } from '../../orders/order.js';
import type { WorkKind } from '../../processes/solver/tasks.js';
import type { RedisAddress } from '../../queue/redis/address.js';
import type { LabelTexts } from '../../sheet/labels/grid.js';
import type { ListKind } from '../../sheet/lists/lists.js';
import type { Form } from '../http/negotiate.js';

interface OfShop {
  /** The shop's prefix. */
  readonly shop: string;
}

interface OfBatch extends OfShop {
  readonly id: string;
  /** Undefined: the newest. */
  readonly revision: number | undefined;
}

export type HeavyTask =
  | (OfShop & {
      readonly do: 'submit';
      readonly work: WorkKind;
      readonly replace: boolean;
      readonly body: Uint8Array;
    })
  | (OfBatch & {
      readonly do: 'result';
      readonly work: WorkKind;
      readonly partial: boolean;
      readonly form: Form;
      readonly made: number;
    })
  | (OfShop & {
      readonly do: 'csv';
      readonly work: WorkKind;
      readonly replace: boolean;
      readonly body: Uint8Array;
      readonly named: OrderGiven;
    })
  | (OfBatch & { readonly do: 'labels'; readonly texts: LabelTexts })
  | (OfBatch & { readonly do: 'list'; readonly kind: ListKind | null })
  | (OfBatch & {
      readonly do: 'recutPage';
      readonly body: Uint8Array;
      readonly form: Form;
      /** Where the next recut is made of this one. */
      readonly next: string;
      readonly made: number;
    })
  | (OfBatch & {
      readonly do: 'recutOf';
      readonly body: Uint8Array;
      readonly earlier: string | null;
      /** Whom the journal of the rack names; null: whoever asks may not reserve anything there. */
      readonly who: string | null;
    })
  | (OfShop & {
      readonly do: 'cut' | 'delivery';
      readonly id: string;
      readonly body: Uint8Array;
      readonly who: string;
      /** The recut that was cut, in place of the plan. */
      readonly recut: string | null;
    })
  | { readonly do: 'recut'; readonly body: Uint8Array; readonly form: Form }
  | { readonly do: 'check' | 'saw' | 'rails'; readonly body: Uint8Array; readonly form: Form };

/** What a task failed of; its answer is bytes. */
export interface HeavyFailure {
  readonly code: ErrorCode;
  readonly message: string;
  readonly problems: readonly InputProblem[];
}

export type HeavyAnswer = Uint8Array | HeavyFailure;

export interface HeavySetting {
  readonly connection: string | RedisAddress;
  readonly patience: number;
  readonly retention: number;
}

/** Errors lose their class between threads. */
export function heavyFailure(error: unknown): HeavyFailure {
  if (error instanceof PairstopError) {
    const { code, message, problems } = error;
    return { code, message, problems };
  }
  const message = error instanceof Error ? (error.stack ?? error.message) : String(error);
  return { code: 'PS_INTERNAL', message, problems: [] };
}
