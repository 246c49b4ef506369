/** A stick as it lies at the saw, fence side up: lengths to scale, width not. Told apart by pattern and by word. */
import type { JSX } from 'preact';
import type { Moulding, Um } from '../../terms.js';
import { mitreRun } from '../../words/method.js';
import type { Words } from '../../words/words.js';
import type { SheetRail, SheetStick } from '../job.js';

/** Millimetres on paper: the longest stick of a moulding, and how high each is drawn. */
export const DRAWN_LENGTH = 150;
const HEIGHT = 9;
const [TAG, SMALL] = [2.9, 2.3];
/** Widest letters of the face the drawing is set in, as a share of its size. */
const LETTER = 0.66;

function at(mm: number): number {
  return Math.round(mm * 100) / 100;
}

function textWidth(text: string, size: number): number {
  return text.length * LETTER * size;
}

/** Long edge up, or down where the rail is flipped. */
function outline(rail: SheetRail, reach: number, scale: number): string {
  const [from, to] = [rail.start * scale, (rail.start + rail.length) * scale];
  const [long, short] = rail.flipped ? [HEIGHT, 0] : [0, HEIGHT];
  const inset = Math.min(reach * scale, (to - from) / 2);
  return `M${at(from)} ${long}L${at(to)} ${long}L${at(to - inset)} ${short}L${at(from + inset)} ${short}Z`;
}

interface RailProps {
  readonly rail: SheetRail;
  readonly moulding: Moulding;
  readonly words: Words;
  readonly scale: number;
}

/** Where the tag of a rail fits: lying, standing, or nowhere. */
function wayOf({ rail, moulding, scale }: RailProps): 'lying' | 'standing' | 'none' {
  const width = (rail.length - mitreRun(moulding.face, rail.angle)) * scale;
  if (width >= textWidth(rail.tag, TAG) + 0.6) return 'lying';
  return width >= TAG && textWidth(rail.tag, SMALL) <= HEIGHT - 0.6 ? 'standing' : 'none';
}

function RailDrawing(props: RailProps): JSX.Element {
  const { rail, moulding, words, scale } = props;
  const way = wayOf(props);
  const middle = at((rail.start + rail.length / 2) * scale);
  const length = words.length(rail.length);
  const room = (rail.length - 2 * mitreRun(moulding.face, rail.angle)) * scale;
  return (
    <g class="r" data-rail={rail.tag}>
      <path d={outline(rail, mitreRun(moulding.face, rail.angle), scale)} />
      {way === 'lying' && (
        <text x={middle} y={4.2} class="t">
          {rail.tag}
        </text>
      )}
      {way === 'standing' && (
        <text x={middle} y={HEIGHT / 2} class="u" transform={`rotate(-90 ${middle} ${HEIGHT / 2})`}>
          {rail.tag}
        </text>
      )}
      {way === 'lying' && room >= textWidth(length, SMALL) * 0.85 && (
        <text x={middle} y={7.6} class="s">
          {length}
        </text>
      )}
    </g>
  );
}

interface SpanProps {
  readonly from: Um;
  readonly to: Um;
  readonly kind: 'flaw' | 'offcut' | 'waste' | 'cut' | 'lost';
  readonly word: string;
  readonly scale: number;
}

function SpanDrawing({ from, to, kind, word, scale }: SpanProps): JSX.Element {
  const width = (to - from) * scale;
  const text = textWidth(word, SMALL) + 0.8;
  return (
    <g class={kind}>
      <rect x={at(from * scale)} y={0} width={at(width)} height={HEIGHT} />
      {width >= text + 0.4 && (
        <>
          <rect class="p" x={at(from * scale + (width - text) / 2)} y={3} width={at(text)} height={3.2} />
          <text x={at(from * scale + width / 2)} y={5.4} class="s">
            {word}
          </text>
        </>
      )}
    </g>
  );
}

export interface StickProps {
  readonly stick: SheetStick;
  readonly moulding: Moulding;
  readonly words: Words;
  /** Millimetres on paper a micrometre. */
  readonly scale: number;
}

/** The rails too small to bear their tags. */
export function unmarked({ stick, moulding, words, scale }: StickProps): readonly SheetRail[] {
  return stick.rails.filter((rail) => wayOf({ rail, moulding, words, scale }) === 'none');
}

export function StickDrawing({ stick, moulding, words, scale }: StickProps): JSX.Element {
  const width = at(stick.length * scale);
  const gone = (rails: readonly SheetRail[], kind: 'cut' | 'lost') =>
    rails.map(({ id, start, length }) => (
      <SpanDrawing
        key={`${kind} ${id}`}
        from={start}
        to={start + length}
        kind={kind}
        word={kind === 'cut' ? 'cut' : 'spoiled'}
        scale={scale}
      />
    ));
  return (
    <svg
      class="stick"
      width={`${width}mm`}
      height={`${HEIGHT}mm`}
      viewBox={`0 0 ${width} ${HEIGHT}`}
      role="img"
      aria-label={`${stick.name}: ${stick.rails.map(({ tag }) => tag).join(', ')}`}
    >
      <rect class="w" width={width} height={HEIGHT} />
      {stick.left.map(({ from, to, keep, length }) => (
        <SpanDrawing
          key={from}
          from={from}
          to={to}
          kind={keep ? 'offcut' : 'waste'}
          word={keep ? `keep ${words.tape(length)}` : 'waste'}
          scale={scale}
        />
      ))}
      {gone(stick.cut, 'cut')}
      {gone(stick.lost, 'lost')}
      {stick.flaws.map(([from, to]) => (
        <SpanDrawing key={from} from={from} to={to} kind="flaw" word="flaw" scale={scale} />
      ))}
      {stick.rails.map((rail) => (
        <RailDrawing key={rail.id} rail={rail} moulding={moulding} words={words} scale={scale} />
      ))}
      <rect class="o" width={width} height={HEIGHT} />
    </svg>
  );
}

/** Once a page: the patterns every drawing uses. */
export function Patterns(): JSX.Element {
  return (
    <svg class="defs" width="0" height="0" aria-hidden="true">
      <defs>
        <pattern
          id="p-flaw"
          width="1.6"
          height="1.6"
          patternUnits="userSpaceOnUse"
          patternTransform="rotate(45)"
        >
          <rect width="1.6" height="1.6" fill="#fff" />
          <path d="M0 0H1.6M0 0V1.6" stroke="#000" stroke-width=".7" />
        </pattern>
        <pattern id="p-waste" width="1.3" height="1.3" patternUnits="userSpaceOnUse">
          <rect width="1.3" height="1.3" fill="#fff" />
          <circle cx=".65" cy=".65" r=".28" fill="#000" />
        </pattern>
      </defs>
    </svg>
  );
}
