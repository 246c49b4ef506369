/**
 * Writes whole micrometres as a person reads them off a tape. Every text written here is read back by `parseLength`,
 * whatever the batch's units.
 */
import { type Exact, exact } from './exact.js';
import { UM_PER_INCH, UM_PER_MM, type Units } from './units.js';

/** The marks of a scale: every `unit / parts` micrometres, written as fractions or as decimals. */
interface Scale {
  readonly unit: bigint;
  readonly parts: bigint;
  readonly decimals: number | null;
  readonly suffix: string;
}

const TAPE_IN: Scale = { unit: UM_PER_INCH, parts: 32n, decimals: null, suffix: '"' };
const TAPE_MM: Scale = { unit: UM_PER_MM, parts: 10n, decimals: 1, suffix: ' mm' };

/** No tape has finer fractions; a finer step is read off a decimal display. */
const FINEST_FRACTION = 128n;
const MOST_DECIMALS = 3;

/** `step` is a whole multiple of unit/parts. */
function holds(step: Exact, unit: bigint, parts: bigint): boolean {
  return (step.num * parts) % (step.den * unit) === 0n;
}

function decimal(step: Exact, scale: Scale, fewest: number): Scale | null {
  for (let decimals = fewest; decimals <= MOST_DECIMALS; decimals++) {
    const parts = 10n ** BigInt(decimals);
    if (holds(step, scale.unit, parts)) return { ...scale, parts, decimals };
  }
  return null;
}

/** The coarsest scale, no coarser than the tape's, on which every multiple of the stop step is a mark. */
function scaleFor(units: Units, step: Exact): Scale {
  const millimetres = decimal(step, TAPE_MM, 1);
  if (units === 'mm') return millimetres ?? { ...TAPE_MM, parts: 1000n, decimals: MOST_DECIMALS };
  for (let parts = TAPE_IN.parts; parts <= FINEST_FRACTION; parts *= 2n) {
    if (holds(step, UM_PER_INCH, parts)) return { ...TAPE_IN, parts };
  }
  // A metric scale on an inch saw: millimetres hit its marks, no inch fraction does.
  const inches = decimal(step, TAPE_IN, 1) ?? millimetres;
  return inches ?? { ...TAPE_IN, parts: 1000n, decimals: MOST_DECIMALS };
}

function write(marks: bigint, scale: Scale): string {
  const whole = marks / scale.parts;
  const rest = marks % scale.parts;
  if (rest === 0n) return `${whole}`;
  if (scale.decimals !== null) {
    return `${whole}.${rest.toString().padStart(scale.decimals, '0').replace(/0+$/, '')}`;
  }
  const part = exact(rest, scale.parts);
  return whole === 0n ? `${part.num}/${part.den}` : `${whole} ${part.num}/${part.den}`;
}

/**
 * `um` (whole micrometres) to the nearest 1/32 in as `22 7/16"`, or to the nearest 0.1 mm as `568.3 mm`; a tie goes to
 * the larger length (away from zero). With the batch's `step` the scale is made fine enough to show every stop
 * setting exactly: 1/64 in steps give 64ths, 0.01 in steps decimals of an inch, 0.25 mm steps two decimals.
 */
export function formatLength(um: number, units: Units, step?: Exact): string {
  const scale = step === undefined ? (units === 'in' ? TAPE_IN : TAPE_MM) : scaleFor(units, step);
  const size = BigInt(Math.round(Math.abs(um)));
  const marks = (2n * size * scale.parts + scale.unit) / (2n * scale.unit);
  return `${um < 0 && marks > 0n ? '-' : ''}${write(marks, scale)}${scale.suffix}`;
}
