/** A chart of what an hour is worth: wood against sawing time, each plan a dot with the rates at which it is cheapest. */
import type { HoursComparison } from '../documents/hours/schema.js';
import { escaped } from '../text/escape.js';
import { money } from '../text/page.js';
import { aboutTime } from './hours.js';
import { ratesOf } from './hours-comparison.js';

const [WIDTH, HEIGHT] = [960, 520] as const;
const [LEFT, RIGHT, TOP, BOTTOM] = [90, 250, 60, 70] as const;
/** Space between the axes and the outermost dots. */
const INSET = 30;

function scale(values: readonly number[], from: number, to: number): (value: number) => number {
  const [low, high] = [Math.min(...values), Math.max(...values)];
  return (value) => (high === low ? (from + to) / 2 : from + ((value - low) / (high - low)) * (to - from));
}

function at(value: number): string {
  return Number(value.toFixed(1)).toString();
}

/** `<svg>` of `pairstop/hours@1`. */
export function hoursSvg({ batch, points }: HoursComparison): string {
  const x = scale(
    points.map(({ seconds }) => seconds),
    LEFT + INSET,
    WIDTH - RIGHT - INSET,
  );
  const y = scale(
    points.map(({ cost }) => cost),
    HEIGHT - BOTTOM - INSET,
    TOP + INSET,
  );
  const places = points.map((point) => ({ point, x: x(point.seconds), y: y(point.cost) }));
  const line = places.map((place) => `${at(place.x)},${at(place.y)}`).join(' ');
  const dots = places.map(({ point, x: cx, y: cy }) => {
    const says = `${money(point.cost)}, ${aboutTime(point.seconds)}: ${ratesOf(point)} an hour`;
    return (
      `<g role="img" aria-label="${escaped(says)}"><circle cx="${at(cx)}" cy="${at(cy)}" r="5" fill="#222"/>` +
      `<text x="${at(cx + 12)}" y="${at(cy - 4)}">${escaped(ratesOf(point))}</text>` +
      `<text x="${at(cx + 12)}" y="${at(cy + 10)}" font-size="11">${escaped(`${money(point.cost)}, ${aboutTime(point.seconds)}`)}</text></g>`
    );
  });
  const [bottom, right] = [HEIGHT - BOTTOM, WIDTH - RIGHT];
  return [
    `<svg xmlns="http://www.w3.org/2000/svg" width="${WIDTH}" height="${HEIGHT}" viewBox="0 0 ${WIDTH} ${HEIGHT}" font-family="sans-serif" font-size="13">`,
    `<rect width="${WIDTH}" height="${HEIGHT}" fill="#fff"/>`,
    `<text x="${LEFT}" y="30" font-size="17">${escaped(`What an hour at the saw is worth: ${batch}`)}</text>`,
    `<path d="M${LEFT} ${TOP}V${bottom}H${right}" fill="none" stroke="#222"/>`,
    `<text x="${LEFT}" y="${TOP - 8}">wood</text>`,
    `<text x="${right}" y="${bottom + 24}" text-anchor="end">sawing time</text>`,
    `<text x="${LEFT}" y="${HEIGHT - 16}" font-size="11">Each dot is the plan that costs least, wood and time together, at the cost of an hour beside it.</text>`,
    `<polyline points="${line}" fill="none" stroke="#888" stroke-dasharray="4 4"/>`,
    ...dots,
    '</svg>',
    '',
  ].join('\n');
}
