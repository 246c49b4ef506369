/** The saw check as the shop reads it: how true the saw must be, why, what a measured angle does, and the test ring. */

import type { FrameCheck, Measured, SawCheck, TestRing } from '../documents/saw/types.js';
import { exact, floorDivide, needUm, times } from '../lengths/exact.js';
import { formatLength } from '../lengths/format.js';
import { UM_PER_INCH, umFromMm } from '../lengths/units.js';
import { degrees } from '../saw/measured.js';
import type { Batch, Units } from '../terms.js';
import { edges, PAGE, paragraph, plural, printed, STUCK, table } from '../text/page.js';
import { cautionLines } from '../words/cautions.js';

const SIXTY_FOURTH = exact(UM_PER_INCH, 64n);
const TENTH = exact(100n);
/** Micrometres: no feeler gauge is finer. */
const AT_A_MARK = 12;

/** A gap as a feeler gauge reads it, with the tape's mark at or below it: rounded to a mark, 0.021" would look like the 1/64" allowed. */
function fine(mm: number, units: Units): string {
  if (units === 'mm') return `${mm.toFixed(2)} mm`;
  const um = umFromMm(mm);
  const inches = `${(um / Number(UM_PER_INCH)).toFixed(3)}"`;
  const marks = floorDivide(exact(BigInt(um + AT_A_MARK)), SIXTY_FOURTH);
  if (marks === 0n) return inches;
  const mark = times(SIXTY_FOURTH, marks);
  const written = formatLength(needUm(mark), units, SIXTY_FOURTH);
  return um - needUm(mark) > AT_A_MARK ? `${inches} (over ${written})` : `${written} (${inches})`;
}

/** Kept on one line. */
function small(mm: number, units: Units): string {
  return fine(mm, units).replaceAll(' ', STUCK);
}

function tape(batch: Batch, mm: number): string {
  return formatLength(umFromMm(mm), batch.units, batch.saw.stopStep).replaceAll(' ', STUCK);
}

/** An upper limit on the tape's marks: rounded down. */
function atMost(mm: number, units: Units): string {
  const step = units === 'in' ? SIXTY_FOURTH : TENTH;
  const marks = floorDivide(exact(BigInt(umFromMm(mm))), step);
  return formatLength(needUm(times(step, marks)), units, step).replaceAll(' ', STUCK);
}

function down(angle: number, decimals: number): string {
  const scale = 10 ** decimals;
  return (Math.floor(angle * scale) / scale).toFixed(decimals);
}

const SKETCH = [
  'past the mark, ε > 0: the long points touch,    short of the mark, ε < 0: the sight edges touch,',
  'the last joint opens at the sight edge          the last joint opens at the long points',
  '',
  '  outside  ____________________________           outside  ____________      ____________',
  '                       /\\                                              \\    /',
  '                      /  \\                                              \\  /',
  '  sight    __________/    \\____________           sight    ______________\\/______________',
];

function formulaLines(): readonly string[] {
  return [
    'Why',
    ...paragraph(
      'A frame of n sides has 2n cut ends. If each is off by ε, the last joint is open by 2n·ε: 8ε for four sides, 12ε for six. With face F and mitre θ = 180°/n, its widest opening is',
      2,
    ),
    "      gap = 2·F / cos(θ + ε) · sin(n·ε)          for small errors the shop's F / cos θ · tan(2n·ε)",
    ...paragraph(
      'with every other joint tight and the last two ends brought together until they touch. If all joints are drawn together at once, each opens by only 2ε, about 1/n of that gap. Opposing rails that differ by δ lean the others by δ / 2H: two corners open at the sight edge, two outside.',
      2,
    ),
    '',
    ...SKETCH.map((line) => `  ${line}`),
  ];
}

interface FrameGroup {
  readonly first: FrameCheck;
  readonly frames: FrameCheck[];
}

/** Order lines of one moulding and mitre need the same of the saw. */
function groups(check: SawCheck): readonly FrameGroup[] {
  const found = new Map<string, FrameGroup>();
  for (const frame of check.frames) {
    const key = `${frame.sides} ${frame.moulding}`;
    const group = found.get(key);
    if (group === undefined) found.set(key, { first: frame, frames: [frame] });
    else group.frames.push(frame);
  }
  return [...found.values()].sort((a, b) => a.first.sides - b.first.sides || a.first.angle - b.first.angle);
}

function toleranceLines(check: SawCheck, all: readonly FrameGroup[]): readonly string[] {
  const { units } = check;
  return [
    ...paragraph(
      'Opposing rails come from one stop setting, so they are equal. What the angle may be off:',
      0,
    ),
    `How true the saw must be for joints that open no more than ${fine(check.gap, units)}`,
    ...all.flatMap(({ first, frames }) => [
      ...paragraph(
        `${first.moulding}, ${degrees(first.mitre)}: each of ${first.ends} cuts within ${down(first.angle, 3)}°, the last joint within ${down(first.lastJoint, 2)}°`,
        2,
      ),
      ...table(
        frames.map(({ frame, pairs }) => [
          frame,
          'joints alone would stand',
          pairs
            .map(({ rails, difference }) =>
              rails.length === 2
                ? `${rails.join('/')} ${atMost(difference, units)}`
                : atMost(difference, units),
            )
            .join(', '),
        ]),
        [{ most: 34 }, { most: 24 }, { most: PAGE }],
        4,
      ),
    ]),
    ...paragraph(
      'Do not cut to these differences: they are what the joints alone would allow between rails cut at two settings, and such a frame is out of square.',
      2,
    ),
  ];
}

const WHERE: Readonly<Record<Measured['opens'], string>> = {
  sight: 'opens at the sight edge by',
  outside: 'opens at the long points by',
  nowhere: 'is closed,',
};

function groupMeasured({ first, frames }: FrameGroup, seen: Measured, units: Units): readonly string[] {
  const verdict = seen.holds ? 'GOOD    ' : 'NOT GOOD';
  const misses = frames.map(({ frame, measured }) => `${frame} ${small(measured?.miss ?? 0, units)}`);
  const sum =
    `${first.ends} × ${Math.abs(seen.error).toFixed(3)}° = ${Math.abs(seen.lastJoint).toFixed(2)}°`.replaceAll(
      ' ',
      STUCK,
    );
  const lines = paragraph(
    `${verdict} ${first.moulding}, ${degrees(first.mitre)}: the last joint ${WHERE[seen.opens]} ${small(seen.gap, units)}, ${sum}. If all joints are drawn together at once, each opens by ${small(seen.shared, units)}.`,
    2,
    11,
  );
  if (seen.error === 0) return lines;
  const fixed = seen.holds
    ? `This holds only if no joint is fixed before the ring is closed. If the others are fixed first, long points together, the last ones miss each other by ${misses.join(', ')}.`
    : `If the other joints are fixed first, long points together, the last ones miss each other by ${misses.join(', ')}.`;
  return [...lines, ...paragraph(fixed, 11)];
}

function measuredLines(check: SawCheck, all: readonly FrameGroup[]): readonly string[] {
  const { units } = check;
  const seen = all.flatMap((group) =>
    group.first.measured === null ? [] : [{ group, measured: group.first.measured }],
  );
  if (seen.length === 0) return [];
  const angles = [...new Set(seen.map(({ measured }) => degrees(measured.angle)))].join(', ');
  const turns = new Map(
    seen.flatMap(({ group, measured }) =>
      measured.holds ? [] : [[group.first.mitre, measured.error] as const],
    ),
  );
  const turn = [...turns].map(([mitre, error]) => {
    const way = error > 0 ? 'past' : 'short of';
    return `The saw cuts ${Math.abs(error).toFixed(3)}° ${way} ${degrees(mitre)}: turn it ${error > 0 ? 'back' : 'on'} by that, cut a test ring, and read again.`;
  });
  return [
    `Measured ${angles}: ${check.holds === true ? 'true enough' : 'NOT true enough'} for joints of ${fine(check.gap, units)}`,
    ...seen.flatMap(({ group, measured }) => groupMeasured(group, measured, units)),
    ...turn.flatMap((line) => paragraph(line, 2)),
    '',
  ];
}

function ringLines(batch: Batch, ring: TestRing): readonly string[] {
  const { units } = batch;
  const each = tape(batch, ring.setting);
  const clamp = ring.clamp ? ' CLAMP OR JIG, do not hold.' : '';
  const rows = ring.readings.map(({ gap, past, short }) => [
    small(gap, units),
    `${past.toFixed(3)}° past the mark`,
    `${short.toFixed(3)}° short of it`,
    gap <= ring.pass ? 'good' : 'turn the saw',
  ]);
  return [
    '',
    `Test ring for ${degrees(ring.mitre)}`,
    ...paragraph(
      `From a scrap of ${ring.moulding}, ${formatLength(umFromMm(ring.face), units)} across the face, cut ${ring.sides} rails at one stop setting, ${each}, as the frames will be cut: ${tape(batch, ring.scrap)} of stick, or shorter pieces.${clamp}`,
      2,
    ),
    ...paragraph(
      `Press ${ring.sides - 1} joints tight, face to face, and tape them. Let them slide along their faces until the last two ends touch at one edge; do not spring the ring. Push feeler gauges into the last joint at its open edge. All ${2 * ring.sides} errors are in it: the opening is ${2 * ring.sides}ε.`,
      2,
    ),
    ...table(
      [['opening', 'at the sight edge: each cut', 'at the long points: each cut', ''], ...rows],
      [{ most: 24 }, { most: 30 }, { most: 30 }, { most: 14 }],
      4,
    ),
  ];
}

/** The readable check, lines of at most 100 columns, with a line end after each. */
export function showSawCheck(batch: Batch, check: SawCheck): string {
  const all = groups(check);
  const clamps = check.tests.some((ring) => ring.clamp);
  return printed([
    ...edges(`Saw check: ${check.batch}`, plural(check.frames.length, 'order line')),
    '='.repeat(PAGE),
    ...measuredLines(check, all),
    ...toleranceLines(check, all),
    '',
    ...formulaLines(),
    ...check.tests.flatMap((ring) => ringLines(batch, ring)),
    ...(check.notices.length === 0
      ? []
      : ['', ...check.notices.flatMap((notice) => paragraph(`Note: ${notice.message}`, 0, 2))]),
    '',
    ...cautionLines(batch, clamps),
  ]);
}
