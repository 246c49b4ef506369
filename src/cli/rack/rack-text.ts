/** Pages of the rack, for a terminal. */
import { formatLength } from '../../lengths/format.js';
import type { RackCutting, RackDelivery, RackItem } from '../../queue/rack/desk-api.js';
import type { RackAudit } from '../../rack/audit.js';
import type { RackCount } from '../../rack/counting.js';
import type { JournalEntry } from '../../rack/events.js';
import type { ExpectedLine, PieceState } from '../../rack/terms.js';
import type { Um, Units } from '../../terms.js';
import { plural, printed, table } from '../../text/page.js';

const REST = { most: 100 };

function stateText(state: PieceState): string {
  switch (state.kind) {
    case 'free':
    case 'gone':
      return state.kind;
    case 'reserved':
    case 'begun':
      return `${state.kind} for ${state.batch}`;
    case 'used':
      return `used up by ${state.batch}`;
    default:
      return state satisfies never;
  }
}

export class RackPage {
  readonly #units: Units;

  constructor(units: Units) {
    this.#units = units;
  }

  #length(um: Um): string {
    return formatLength(um, this.#units);
  }

  #flaws(flaws: RackItem['flaws']): string {
    return flaws.map(([from, to]) => `flaw ${this.#length(from)} to ${this.#length(to)}`).join(', ');
  }

  list(items: readonly RackItem[], expected: readonly ExpectedLine[]): string {
    const rows = items.map((item) => {
      const ends = item.ends[0] === 'raw' && item.ends[1] === 'raw' ? '' : `${item.ends.join(' and ')} ends`;
      const more = [ends, this.#flaws(item.flaws)].filter((text) => text !== '').join(', ');
      return [
        item.id,
        item.moulding,
        this.#length(item.length),
        stateText(item.state),
        item.place ?? '',
        more,
      ];
    });
    const columns = [
      { most: 28 },
      { most: 18 },
      { most: 14, align: 'right' },
      { most: 30 },
      { most: 16 },
      REST,
    ] as const;
    const lines = rows.length === 0 ? ['nothing lies on the rack'] : table(rows, columns, 0);
    const coming = expected.map(({ batch, offer, moulding, length, count }) => [
      `${count} × ${offer}`,
      moulding,
      this.#length(length),
      `for ${batch}`,
    ]);
    const told =
      coming.length === 0
        ? []
        : ['', 'expected:', ...table(coming, [{ most: 34 }, { most: 18 }, { most: 14 }, REST], 2)];
    return printed([...lines, ...told]);
  }

  history(entries: readonly JournalEntry[]): string {
    const rows = entries.map(({ id, event }) => {
      const at = new Date(Number(id.split('-')[0])).toISOString().replace('T', ' ').slice(0, 19);
      const said: string[] = [];
      if ('how' in event) said.push(event.how);
      if ('batch' in event) said.push(`batch ${event.batch}`);
      if (event.kind === 'moved') said.push(`to ${event.place ?? 'no place'}`);
      if (event.kind === 'added' || event.kind === 'edited' || event.kind === 'received') {
        said.push(this.#length(event.piece.length));
      }
      if (event.kind === 'cut') {
        said.push(`${plural(event.rails.length, 'rail')}${event.done ? ', done' : ''}`);
        if (event.spoiled.length > 0) said.push(`${event.spoiled.length} spoiled`);
        for (const { id: offcut, length } of event.offcuts)
          said.push(`offcut ${offcut} of ${this.#length(length)}`);
      }
      return [at, event.who, event.kind, [...said, event.why ?? ''].filter((text) => text !== '').join(', ')];
    });
    return printed(table(rows, [{ most: 19 }, { most: 16 }, { most: 10 }, REST], 0));
  }

  audit({ ok, entries, pieces, balances, findings, total }: RackAudit): string {
    const header = ['moulding', 'came in', 'rails', 'waste', 'gone', 'lies there', 'of it offcuts'];
    const rows = balances.map((one) => [
      one.moulding,
      ...[one.came, one.rails, one.waste, one.gone, one.lying, one.offcuts].map((um) => this.#length(um)),
    ]);
    const right = { most: 13, align: 'right' } as const;
    const lines =
      rows.length === 0
        ? []
        : table([header, ...rows], [{ most: 20 }, right, right, right, right, right, right], 0);
    const found = findings.map(({ what, found: is, holds }) => `  ${what}: found ${is}; due ${holds}`);
    const size = `${plural(entries, 'entry', 'entries')}, ${plural(pieces, 'piece')}`;
    const verdict = ok
      ? `The rack is the sum of its journal (${size}), and its wood balances.`
      : `${total} found wrong (${size}):`;
    return printed([...lines, ...(lines.length === 0 ? [] : ['']), verdict, ...found]);
  }

  count(count: RackCount, settled: boolean): string {
    const lines = [`${count.right} as the rack has them`];
    const of = (batch: string | null): string => (batch === null ? '' : `, promised to ${batch}`);
    for (const { id, length, batch } of count.missing)
      lines.push(`missing: ${id}, ${this.#length(length)}${of(batch)}`);
    for (const { id, as, length } of count.found) {
      lines.push(`found: ${id}, ${this.#length(length)}${as === id ? '' : `, entered as ${as}`}`);
    }
    for (const { id, was, is, batch } of count.measured) {
      lines.push(`measured: ${id} is ${this.#length(is)}, not ${this.#length(was)}${of(batch)}`);
    }
    for (const { id, from, to } of count.moved)
      lines.push(`moved: ${id} lies at ${to}, not ${from ?? 'any place'}`);
    for (const id of count.unclear) lines.push(`unknown: ${id}; say its moulding and its length`);
    for (const { id, what } of count.odd) lines.push(`${id}: ${what}`);
    const differs = count.missing.length + count.found.length + count.measured.length + count.moved.length;
    const after = settled ? 'settled' : 'nothing is written; to settle it: --settle';
    return printed([...lines, ...(differs === 0 ? [] : [`${differs} differences: ${after}`])]);
  }

  delivery({ batch, received, dropped, expected }: RackDelivery): string {
    const lines = received.map(({ id, length, stick, fits }) => {
      const what =
        stick === null
          ? 'free'
          : fits
            ? `for ${stick}`
            : `for ${stick}, and too poor for its rails: see pairstop recut`;
      return `received: ${id}, ${this.#length(length)}, ${what}`;
    });
    for (const { offer, count } of dropped) lines.push(`no longer expected: ${count} × ${offer}`);
    for (const { offer, count } of expected) lines.push(`still expected for ${batch}: ${count} × ${offer}`);
    return printed(lines);
  }

  cutting(
    { rails, spoiled, used, begun, offcuts, released, waste, own, entered }: RackCutting,
    offcutsToo: boolean,
  ): string {
    const lines =
      rails + spoiled === 0 && own.length > 0
        ? []
        : [
            `${plural(rails, 'rail')} cut${spoiled === 0 ? '' : `, ${spoiled} spoiled`}; ${plural(used.length, 'piece')} used up, ${begun.length} begun; waste ${this.#length(waste)}`,
          ];
    if (own.length > 0) {
      const what = `${own.length} ${own.length === 1 ? 'stick' : 'sticks'} the rack never had`;
      lines.push(offcutsToo ? `${what}; what they leave:` : `${what}; --offcuts takes in what they leave`);
      if (offcutsToo && offcuts.length + entered.length === 0) lines.push('no offcut to keep');
    }
    for (const id of entered) lines.push(`on the rack already: ${id}`);
    for (const { id, length, place } of offcuts) {
      lines.push(`offcut: ${id}, ${this.#length(length)}${place === null ? '' : `, at ${place}`}`);
    }
    for (const id of released) lines.push(`free again: ${id}`);
    return printed(lines);
  }
}
