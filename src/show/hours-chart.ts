/**
 * A chart of what an hour is worth: wood against sawing time, each plan a numbered dot, and beside it the rates at which
 * each is the cheapest. Black on white; for a screen reader every dot is also a line of text.
 */
import type { HourPoint, HoursComparison } from '../documents/hours/schema.js';
import { escaped } from '../text/escape.js';
import { money } from '../text/page.js';
import { aboutTime, hoursAndMinutes, sawingTimes } from './hours.js';
import { HOW_SURE, ratesOf, sure } from './hours-comparison.js';

const WIDTH = 1130;
const [LEFT, RIGHT, TOP, BOTTOM, HEIGHT] = [90, 570, 70, 420, 518] as const;
/** Space between the axes and the outermost dots. */
const INSET = 30;
/** The list beside the chart: where its columns begin or, of figures, end. */
const LIST = { number: 596, rates: 610, wood: 810, sawing: 930, sure: 950, right: 1110 } as const;
const ROW = 24;
const DOT = 5;
/** Where the number of a dot may stand, from its middle; the first that covers nothing is taken. */
const BESIDE = [
  [16, -9],
  [-16, 13],
  [16, 11],
  [-17, -9],
  [2, -17],
  [-2, 21],
  [26, -20],
  [-28, 24],
  [40, -32],
  [-42, 36],
] as const;
/** Two things nearer than this cover each other. */
const [NEAR_X, NEAR_Y] = [15, 13] as const;
const TICKS_MOST = 6;
/** Minutes between ticks; beyond a day, days. */
const MINUTES = [1, 2, 5, 10, 15, 30, 60, 120, 240, 480] as const;
const DAY = 1_440;
const MINUTE = 60;

type Spot = readonly [x: number, y: number];

interface Axis {
  readonly place: (value: number) => number;
  readonly ticks: readonly number[];
}

/** From the least to the most of the values; `step` for what they span. */
function axisOf(values: readonly number[], from: number, to: number, step: (span: number) => number): Axis {
  const [low, high] = [Math.min(...values), Math.max(...values)];
  const place = (value: number): number =>
    high === low ? (from + to) / 2 : from + ((value - low) / (high - low)) * (to - from);
  if (high === low) return { place, ticks: [low] };
  const each = step(high - low);
  const first = Math.ceil(low / each);
  const count = Math.floor(high / each) - first + 1;
  return { place, ticks: Array.from({ length: Math.max(0, count) }, (_, k) => (first + k) * each) };
}

/** 1, 2 or 5 and noughts. */
function moneyStep(span: number): number {
  const ten = 10 ** Math.floor(Math.log10(span / TICKS_MOST));
  return [1, 2, 5, 10].map((times) => times * ten).find((step) => span / step <= TICKS_MOST) ?? span;
}

function timeStep(span: number): number {
  const minutes = MINUTES.find((each) => span / (each * MINUTE) <= TICKS_MOST);
  return MINUTE * (minutes ?? DAY * Math.ceil(span / (DAY * MINUTE * TICKS_MOST)));
}

function at(value: number): string {
  return Number(value.toFixed(1)).toString();
}

function covers([x, y]: Spot, [otherX, otherY]: Spot): boolean {
  return Math.abs(x - otherX) < NEAR_X && Math.abs(y - otherY) < NEAR_Y;
}

/** The middle of each dot's number. */
function numberSpots(dots: readonly Spot[]): readonly Spot[] {
  const taken: Spot[] = [...dots];
  return dots.map(([x, y]) => {
    const spots = BESIDE.map(([right, down]): Spot => [x + right, y + down]);
    const spot = spots.find((one) => !taken.some((other) => covers(one, other))) ?? spots.at(-1)!;
    taken.push(spot);
    return spot;
  });
}

function dotOf(point: HourPoint, k: number, [cx, cy]: Spot, [x, y]: Spot): string {
  const says = `${k + 1}: ${money(point.cost)}, ${aboutTime(point.seconds)}: ${ratesOf(point)}${point.from === null ? '' : ' an hour'}; ${sure(point)}`;
  const far = Math.hypot(x - cx, y - cy) > 2 * NEAR_X;
  return (
    `<g role="img" aria-label="${escaped(says)}">` +
    (far ? `<path d="M${at(cx)} ${at(cy)}L${at(x)} ${at(y)}" stroke="#888"/>` : '') +
    `<circle cx="${at(cx)}" cy="${at(cy)}" r="${DOT}" fill="${point.from === null ? '#fff' : '#222'}" stroke="#222" stroke-width="1.5"/>` +
    (far ? `<circle cx="${at(x)}" cy="${at(y)}" r="8" fill="#fff"/>` : '') +
    `<text x="${at(x)}" y="${at(y + 4.5)}" text-anchor="middle" font-weight="bold">${k + 1}</text></g>`
  );
}

function listOf(points: readonly HourPoint[]): readonly string[] {
  const times = sawingTimes(points.map(({ seconds }) => seconds)).map((text) => text.replace('about ', ''));
  const row = (y: number, cells: readonly [string, string, string, string, string], style: string): string =>
    `<g aria-hidden="true"${style}><text x="${LIST.number}" y="${y}" text-anchor="end" font-weight="bold">${cells[0]}</text>` +
    `<text x="${LIST.rates}" y="${y}">${escaped(cells[1])}</text>` +
    `<text x="${LIST.wood}" y="${y}" text-anchor="end">${cells[2]}</text>` +
    `<text x="${LIST.sawing}" y="${y}" text-anchor="end">${cells[3]}</text>` +
    `<text x="${LIST.sure}" y="${y}">${cells[4]}</text></g>`;
  return [
    row(TOP, ['', 'where an hour costs', 'wood', 'sawing', 'how sure'], ' font-size="12"'),
    `<path d="M${LIST.number - 10} ${TOP + 7}H${LIST.right}" stroke="#222"/>`,
    ...points.map((point, k) =>
      row(
        TOP + ROW * (k + 1) + 4,
        [String(k + 1), ratesOf(point), money(point.cost), times[k]!, sure(point)],
        '',
      ),
    ),
  ];
}

function legend(points: readonly HourPoint[]): string {
  const filled =
    'is the cheapest of these plans, wood and time together, at the costs of an hour listed for it';
  if (points.every(({ from }) => from !== null)) return `Each dot ${filled}.`;
  return `A black dot ${filled}; a white one at no cost of an hour.`;
}

/** `<svg>` of `pairstop/hours@1`. */
export function hoursSvg({ batch, points }: HoursComparison): string {
  const seconds = points.map((point) => point.seconds);
  const costs = points.map(({ cost }) => cost);
  const x = axisOf(seconds, LEFT + INSET, RIGHT - INSET, timeStep);
  const y = axisOf(costs, BOTTOM - INSET, TOP + INSET, moneyStep);
  const dots = points.map((point): Spot => [x.place(point.seconds), y.place(point.cost)]);
  const numbers = numberSpots(dots);
  const line = dots.filter((_, k) => points[k]!.from !== null);
  const height = Math.max(HEIGHT, TOP + ROW * (points.length + 2) + 58);
  return [
    `<svg xmlns="http://www.w3.org/2000/svg" width="${WIDTH}" height="${height}" viewBox="0 0 ${WIDTH} ${height}" font-family="sans-serif" font-size="13" fill="#000">`,
    `<rect width="${WIDTH}" height="${height}" fill="#fff"/>`,
    `<text x="${LEFT}" y="30" font-size="17">${escaped(`What an hour at the saw is worth: ${batch}`)}</text>`,
    ...y.ticks.map((tick) => {
      const place = at(y.place(tick));
      return `<path d="M${LEFT} ${place}H${RIGHT}" stroke="#ddd"/><text x="${LEFT - 8}" y="${at(y.place(tick) + 4)}" text-anchor="end" font-size="12">${money(tick)}</text>`;
    }),
    ...x.ticks.map((tick) => {
      const place = at(x.place(tick));
      return `<path d="M${place} ${TOP}V${BOTTOM}" stroke="#ddd"/><text x="${place}" y="${BOTTOM + 18}" text-anchor="middle" font-size="12">${hoursAndMinutes(tick)}</text>`;
    }),
    `<path d="M${LEFT} ${TOP}V${BOTTOM}H${RIGHT}" fill="none" stroke="#222"/>`,
    `<text x="${LEFT}" y="${TOP - 10}" font-size="12">wood bought</text>`,
    `<text x="${RIGHT}" y="${BOTTOM + 38}" text-anchor="end" font-size="12">sawing, hours and minutes</text>`,
    `<text x="${LEFT}" y="${height - 32}" font-size="12">${legend(points)}</text>`,
    `<text x="${LEFT}" y="${height - 14}" font-size="12">${points.length > 1 ? HOW_SURE : ''}</text>`,
    `<polyline points="${line.map(([px, py]) => `${at(px)},${at(py)}`).join(' ')}" fill="none" stroke="#888" stroke-dasharray="4 4"/>`,
    ...points.map((point, k) => dotOf(point, k, dots[k]!, numbers[k]!)),
    ...listOf(points),
    '</svg>',
    '',
  ].join('\n');
}
