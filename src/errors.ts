/**
 * The one catalogue of errors. Codes are stable: other software may switch on them. A message says what was given,
 * where, and what is allowed. `exit` is the command's exit code (contract: 2 refused input, 3 short, 1 anything else).
 */
export const catalogue = {
  PS_JSON: { exit: 2, about: 'the text is not JSON, or is nested too deep or too large to be read' },
  PS_BATCH: { exit: 2, about: 'the batch breaks the contract; every problem is listed' },
  PS_CSV: {
    exit: 2,
    about: 'a CSV file cannot be read: its quotes or separators, its columns, or a file that is missing',
  },
  PS_GAP: { exit: 2, about: 'the wanted gap is zero, or wider than a face of the batch' },
  PS_ANGLE: {
    exit: 2,
    about: 'a measured angle is not a number of degrees, or not near a mitre of the batch',
  },
  PS_RECUT: { exit: 2, about: 'the lost rails, the cuts so far or the plan do not belong together' },
  PS_LENGTH: { exit: 2, about: 'a text or number given by itself is not a length' },
  PS_PLAN: { exit: 2, about: 'the plan document breaks the contract' },
  PS_CHECK: { exit: 1, about: 'a plan does not hold against its batch' },
  PS_OFFERS: { exit: 2, about: 'a batch to compare offers nothing to choose from' },
  PS_INTERNAL: { exit: 1, about: 'a plan made here failed its own check, or a fault in the program' },
  PS_SOLVER: { exit: 1, about: 'the solver process died or ran out of memory' },
  PS_VERSION: { exit: 1, about: 'a record was written by a newer version of Pairstop than this one' },
  PS_STORE: { exit: 1, about: 'a stored record is damaged, or belongs to another batch' },
  PS_REDIS: { exit: 1, about: 'Redis did not answer in the time allowed, or refused' },
  PS_REDIS_SETUP: {
    exit: 1,
    about: 'Redis may forget batches: it evicts keys or writes no append-only file',
  },
  PS_SETTING: { exit: 2, about: 'a setting, from the environment or given to a client, is not understood' },
  PS_PAYLOAD: { exit: 2, about: 'a job on the queue is not one of ours, or is too large' },
  PS_CONFLICT: { exit: 2, about: 'another batch has been submitted under the same id' },
  PS_UNKNOWN: { exit: 1, about: 'no batch is known under this id' },
  PS_PENDING: { exit: 1, about: 'the batch has no plan yet' },
  PS_CANCELLED: { exit: 1, about: 'the batch has been cancelled' },
  PS_FAILED: { exit: 1, about: 'one or more mouldings of the batch could not be planned' },
  PS_STALLED: { exit: 1, about: 'every worker that took the job died' },
  PS_FILE: { exit: 1, about: 'a file cannot be read or written' },
  PS_RACK: {
    exit: 2,
    about: 'the rack refuses it: a piece is not there, not free, or not as described',
  },
  PS_REQUEST: { exit: 2, about: 'the door does not understand the request: its path, headers or query' },
  PS_KEY: { exit: 2, about: 'no key was given, or the key is not valid' },
  PS_SCOPE: { exit: 2, about: 'the key may not do this' },
  PS_ROUTE: { exit: 2, about: 'nothing is served at this path' },
  PS_METHOD: { exit: 2, about: 'this path does not take this method' },
  PS_ACCEPT: { exit: 2, about: 'the answer exists in none of the forms the request accepts' },
  PS_MEDIA: { exit: 2, about: 'the media type, character set or encoding of the body is not accepted here' },
  PS_LARGE: {
    exit: 2,
    about: 'the body is larger than this path accepts, or the batch larger than the workers have memory for',
  },
  PS_RATE: { exit: 1, about: 'this key asks too often, or for too much at once' },
  PS_BUSY: { exit: 1, about: 'the service has all the work it accepts; ask again later' },
  PS_ENDED: { exit: 1, about: 'the batch has ended already' },
  PS_WEBHOOK: { exit: 1, about: 'no such webhook, or no such delivery, is known' },
  PS_ADDRESS: { exit: 2, about: 'a webhook may not be sent to this address' },
  PS_USAGE: { exit: 2, about: 'the command line is not understood' },
} as const;

export type ErrorCode = keyof typeof catalogue;

export interface InputProblem {
  /** Where it stands, as in `frames[3].width`; empty for the whole document. */
  readonly path: string;
  /** What was given, cut to a readable length. */
  readonly given: string;
  /** What is allowed there. */
  readonly allowed: string;
  /** The id of the order line, moulding, stick or offer it stands in, where it has one. */
  readonly of?: string;
  /** Of an order in CSV: the file, the line in it from 1, and the column by its header. */
  readonly file?: string;
  readonly line?: number;
  readonly column?: string;
}

export class PairstopError extends Error {
  override readonly name = 'PairstopError';
  constructor(
    readonly code: ErrorCode,
    message: string,
    readonly problems: readonly InputProblem[] = [],
    options?: ErrorOptions,
  ) {
    super(message, options);
  }
}
