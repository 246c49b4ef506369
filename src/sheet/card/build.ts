/** The bench card's data from a job. */
import { createHash } from 'node:crypto';
import { toNumber } from '../../lengths/exact.js';
import { formatLength } from '../../lengths/format.js';
import { mmFromUm } from '../../lengths/units.js';
import type { Moulding } from '../../terms.js';
import { cautions } from '../../words/cautions.js';
import { angleText, methodSteps } from '../../words/method.js';
import type { Words } from '../../words/words.js';
import type { SheetJob, SheetMoulding, SheetRail, SheetStick } from '../job.js';
import { beginSeconds, setSeconds, visitSeconds } from '../time.js';
import type { CardData, CardMoulding, CardRail, CardSetting, CardStick } from './data.js';

export interface CardFiles {
  readonly batch: string;
  readonly plan: string;
}

/** The rails of each clear part, left to right. */
function partsOf({ flaws, rails }: SheetStick): readonly (readonly SheetRail[])[] {
  return [0, ...flaws.map(([, to]) => to)]
    .map((from, i) => {
      const end = flaws[i]?.[0] ?? Number.POSITIVE_INFINITY;
      return rails.filter(({ start }) => start >= from && start < end);
    })
    .filter((part) => part.length > 0);
}

/** Where the first mitres of a stick are cut, their long points measured from its left end. */
function beginText(words: Words, moulding: Moulding, stick: SheetStick): string {
  const starts = partsOf(stick).map((part) => words.tape(part[0]!.start));
  if (stick.cut.length + stick.lost.length > 0) {
    // Behind its last cut a part is gone on with; the others lie behind a flaw, and are begun anew.
    const last = Math.max(...[...stick.cut, ...stick.lost].map(({ start, length }) => start + length));
    const flaw = stick.flaws.find(([from]) => from >= last);
    const anew = partsOf(stick).filter((part) => flaw !== undefined && part[0]!.start >= flaw[1]);
    const gone = 'begun before: go on from its cut end, with a fresh mitre';
    if (anew.length === 0) return gone;
    const points = anew.map((part) => words.tape(part[0]!.start)).join(' and ');
    return `${anew.length === partsOf(stick).length ? 'begun before, and flawed' : `${gone}; flawed`}: behind the flaw a first mitre with its long point at ${points} from the left end of the whole stick`;
  }
  if (starts.length > 1) {
    return `flawed: first cut its first mitres, long points at ${starts.join(' and ')} from the left end; this parts it`;
  }
  if (stick.flaws.length > 0)
    return `flawed: first mitre with its long point at ${starts[0]} from the left end`;
  return moulding.endTrim === 0
    ? 'first mitre at the left end'
    : `first mitre ${starts[0]} from the left end`;
}

class CardWriter {
  readonly sticks: CardStick[] = [];
  readonly rails: CardRail[] = [];
  readonly settings: CardSetting[] = [];
  readonly #job: SheetJob;
  readonly #words: Words;

  constructor(job: SheetJob, words: Words) {
    this.#job = job;
    this.#words = words;
  }

  /** Where a rail lies, in steps of the stop, rounded outward; to the micrometre where that would reach its neighbour. */
  #placeOf(stick: SheetStick, { start, length }: SheetRail): readonly [string, string] {
    const { units, saw } = this.#job.batch;
    const [step, end] = [toNumber(saw.stopStep), start + length];
    const all = [...stick.cut, ...stick.lost, ...stick.rails];
    const before = Math.max(0, ...all.map((rail) => rail.start + rail.length).filter((at) => at <= start));
    const after = Math.min(stick.length, ...all.map((rail) => rail.start).filter((at) => at >= end));
    const text = (marked: number, exact: number): string =>
      marked < before || marked > after
        ? `${mmFromUm(exact)} mm`
        : formatLength(Math.round(marked), units, saw.stopStep);
    return [text(Math.floor(start / step) * step, start), text(Math.ceil(end / step) * step, end)];
  }

  moulding(part: SheetMoulding, index: number): CardMoulding {
    const { batch } = this.#job;
    const words = this.#words;
    const { moulding, angles, runs } = part;
    const stickAt = new Map<SheetStick, number>();
    const railAt = new Map<SheetRail, number>();
    for (const stick of part.sticks) {
      const parts = partsOf(stick).map((rails) =>
        rails.map((rail) => {
          railAt.set(rail, this.rails.length);
          const [from, to] = this.#placeOf(stick, rail);
          this.rails.push([rail.tag, words.length(rail.length), from, to]);
          return this.rails.length - 1;
        }),
      );
      stickAt.set(stick, this.sticks.length);
      const about = `${stick.rack ? 'rack' : 'new'} ${words.stock(stick.length)}`;
      this.sticks.push({ name: stick.name, about, parts });
    }
    const begun = new Set<SheetStick>();
    for (const { run, settings } of runs) {
      for (const setting of settings) {
        const visits = setting.visits.map((visit) => {
          const first = !begun.has(visit.stick);
          begun.add(visit.stick);
          return {
            stick: stickAt.get(visit.stick)!,
            rails: visit.rails.map((rail) => railAt.get(rail)!),
            seconds: visitSeconds(batch, moulding, visit) + (first ? beginSeconds(batch, moulding) : 0),
            begin: first ? beginText(words, moulding, visit.stick) : '',
          };
        });
        const { second, gauge, setBy, finish, clamp } = setting;
        this.settings.push({
          moulding: index,
          run,
          figures: [setting.setting, ...(second === null ? [] : [second])].map((um) => words.length(um)),
          angle: angles.length > 1 ? setting.angles.map(angleText).join(', then ') : '',
          gauge,
          setBy,
          finish,
          clamp,
          seconds: setSeconds(batch, setting),
          visits,
        });
      }
    }
    const all = runs.flatMap(({ settings }) => settings);
    const facts = {
      batch,
      moulding,
      angles,
      secondStop: all.some(({ second }) => second !== null),
      flaws: part.sticks.some(({ flaws }) => flaws.length > 0),
      clamps: all.some(({ clamp }) => clamp),
    };
    return { id: moulding.id, mark: part.mark, runs: runs.length, method: methodSteps(facts, words) };
  }
}

const KEY_LENGTH = 32;

export function cardData(job: SheetJob, words: Words, files: CardFiles, service: string | null): CardData {
  const writer = new CardWriter(job, words);
  const mouldings = job.mouldings.map((part, i) => writer.moulding(part, i));
  const { sticks, rails, settings } = writer;
  const { batch, made } = job;
  const digest = createHash('sha256').update(JSON.stringify([batch.id, mouldings, sticks, rails, settings]));
  return {
    key: `pairstop card ${digest.digest('hex').slice(0, KEY_LENGTH)}`,
    batch: batch.id,
    recut: made.schema === 'pairstop/recut@1',
    cautions: cautions(
      batch,
      settings.some(({ clamp }) => clamp),
      false,
    ),
    mouldings,
    sticks,
    rails,
    settings,
    files,
    service,
  };
}
