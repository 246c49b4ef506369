/** Whether what is derived is the sum of the journal, and whether the wood balances. */
import { balancesOf, type WoodBalance } from './balance.js';
import { expectedText, holderText, pieceText, stateText } from './change.js';
import type { JournalEntry } from './events.js';
import { advance, emptyRack, type Present } from './sum.js';
import type { WoodAccount } from './terms.js';

export interface RackFinding {
  /** Where: `journal 17-0`, `state of "r17"`. */
  readonly what: string;
  readonly found: string;
  readonly holds: string;
}

export interface RackAudit {
  readonly ok: boolean;
  /** Entries of the journal that were summed up. */
  readonly entries: number;
  readonly pieces: number;
  readonly balances: readonly WoodBalance[];
  /** The first hundred. */
  readonly findings: readonly RackFinding[];
  readonly total: number;
}

/** What is derived from a present: texts by key, members of sets. */
export interface Views {
  readonly pieces: Readonly<Record<string, string>>;
  readonly states: Readonly<Record<string, string>>;
  readonly revisions: Readonly<Record<string, string>>;
  readonly free: readonly string[];
  readonly held: readonly string[];
  readonly wood: Readonly<Record<string, string>>;
  readonly expected: Readonly<Record<string, string>>;
}

export function viewsOf(present: Present): Views {
  const shelved = [...present.pieces.values()];
  const by = (textOf: (one: (typeof shelved)[number]) => string): Record<string, string> =>
    Object.fromEntries(shelved.map((one) => [one.piece.id, textOf(one)]));
  const accounts = [...present.wood].flatMap(([moulding, account]) =>
    (Object.keys(account) as (keyof WoodAccount)[])
      .filter((name) => account[name] !== 0)
      .map((name) => [`${moulding}\n${name}`, String(account[name])] as const),
  );
  return {
    pieces: by(pieceText),
    states: by(({ state }) => stateText(state)),
    revisions: by(({ revision }) => revision),
    free: shelved.flatMap(({ piece, state }) =>
      state.kind === 'free' ? [`${piece.moulding}\n${piece.id}`] : [],
    ),
    held: shelved.flatMap(({ piece, state }) => {
      const holder = holderText(state);
      return holder === '' ? [] : [`${holder}\n${piece.id}`];
    }),
    wood: Object.fromEntries(accounts),
    expected: Object.fromEntries([...present.expected].map(([key, line]) => [key, expectedText(line)])),
  };
}

const LISTED = 100;

class AuditFindings {
  readonly listed: RackFinding[] = [];
  total = 0;

  add(what: string, found: string, holds: string): void {
    this.total += 1;
    if (this.listed.length < LISTED) this.listed.push({ what, found, holds });
  }

  texts(
    name: string,
    found: Readonly<Record<string, string>>,
    holds: Readonly<Record<string, string>>,
    none = 'nothing',
  ): void {
    for (const key of new Set([...Object.keys(found), ...Object.keys(holds)])) {
      const [is, due] = [found[key] ?? none, holds[key] ?? none];
      if (is !== due) this.add(`${name} ${JSON.stringify(key)}`, is, due);
    }
  }

  members(name: string, found: readonly string[], holds: readonly string[]): void {
    const [is, due] = [new Set(found), new Set(holds)];
    for (const member of is)
      if (!due.has(member)) this.add(`${name} ${JSON.stringify(member)}`, 'listed', 'not');
    for (const member of due)
      if (!is.has(member)) this.add(`${name} ${JSON.stringify(member)}`, 'not', 'listed');
  }
}

/** `derived` and `entries` are of one moment. */
export async function audit(
  entries: AsyncIterable<JournalEntry>,
  derived: Views & { readonly entries: number },
): Promise<RackAudit> {
  const present = emptyRack();
  const findings = new AuditFindings();
  let count = 0;
  for await (const entry of entries) {
    count += 1;
    try {
      advance(present, entry);
    } catch (error) {
      findings.add(
        `journal ${entry.id}`,
        error instanceof Error ? error.message : 'a fault',
        'an event that can be',
      );
    }
  }
  if (count !== derived.entries) {
    findings.add('journal', `${count} entries`, `${derived.entries} that were written`);
  }
  const due = viewsOf(present);
  findings.texts('description of', derived.pieces, due.pieces);
  findings.texts('state of', derived.states, due.states);
  findings.texts('revision of', derived.revisions, due.revisions);
  findings.members('list of free pieces', derived.free, due.free);
  findings.members('list of held pieces', derived.held, due.held);
  // An account that has come back to nothing may stand there as 0.
  findings.texts('account', derived.wood, due.wood, '0');
  findings.texts('expected', derived.expected, due.expected);
  const balances = balancesOf(present);
  for (const { moulding, off } of balances) {
    if (off !== 0) findings.add(`wood of ${JSON.stringify(moulding)}`, `${off} µm too much`, 'a balance');
  }
  for (const { moulding, lying } of balances) {
    const booked = present.wood.get(moulding)?.lying ?? 0;
    if (booked !== lying) {
      findings.add(
        `wood of ${JSON.stringify(moulding)}`,
        `${booked} µm in the books`,
        `${lying} piece by piece`,
      );
    }
  }
  return {
    ok: findings.total === 0,
    entries: count,
    pieces: present.pieces.size,
    balances,
    findings: findings.listed,
    total: findings.total,
  };
}
