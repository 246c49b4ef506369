/**
 * A chart of where the money of each scenario goes: bars of rail, waste and offcut. Hatching and figures tell them apart,
 * so it reads in black and white; for a screen reader every bar is also a line of text.
 */
import type { Comparison, MouldingComparison, Scenario } from '../documents/comparison/types.js';
import { escaped } from '../text/escape.js';
import { money } from '../text/page.js';

/** Bars of each moulding: the cheapest. */
const BARS_MOST = 20;
const [WIDTH, LEFT, RIGHT] = [960, 210, 160] as const;
const [TITLE, BAR, GAP, LEGEND] = [44, 22, 12, 40] as const;
/** Width of a figure at 11 px, in px; narrower parts have no figure. */
const DIGIT = 6.4;
const AROUND = 6;
const CHARACTERS_MOST = 26;
/** In smaller letters; a pair takes two lines of them. */
const SMALL_MOST = 32;

const PARTS = [
  { key: 'rail', name: 'rails', fill: '#d9d9d9' },
  { key: 'waste', name: 'waste', fill: 'url(#waste)' },
  { key: 'offcut', name: 'offcuts kept', fill: 'url(#offcut)' },
] as const;

const PATTERNS = `<defs>
<pattern id="waste" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><rect width="6" height="6" fill="#fff"/><rect width="3" height="6" fill="#222"/></pattern>
<pattern id="offcut" width="7" height="7" patternUnits="userSpaceOnUse"><rect width="7" height="7" fill="#fff"/><circle cx="3.5" cy="3.5" r="1.4" fill="#222"/></pattern>
</defs>`;

function short(given: string): string {
  return given.length > SMALL_MOST ? `${given.slice(0, SMALL_MOST - 1)}…` : given;
}

function label({ kind, offers, supplier }: Scenario): string {
  if (kind === 'supplier') return `all from ${supplier}`;
  return kind === 'all' && offers.length > 2 ? `all ${offers.length} together` : offers.join(' + ');
}

function at(x: number): string {
  return Number(x.toFixed(2)).toString();
}

function said(scenario: Scenario): string {
  const { proof, figures } = scenario;
  if (proof === null || figures === null) return `${label(scenario)}: cannot make the order`;
  const { rail, waste, offcut } = figures.split;
  const parts = `rails ${money(rail)}, waste ${money(waste)}, offcuts ${money(offcut)}`;
  return `${label(scenario)}: ${money(proof.value)} (${parts}), ${SURE[proof.status]}`;
}

/** As `said` and beside the bars. */
const SURE: Readonly<Record<NonNullable<Scenario['proof']>['status'], string>> = {
  optimal: 'proven',
  within: 'not proven',
  unproven: 'not proven',
  excluded: 'ruled out',
};

function nameOf(scenario: Scenario, y: number, best: boolean): string {
  const whole = label(scenario);
  const weight = best ? ' font-weight="bold"' : '';
  const [first, second] = scenario.offers;
  const line = (words: string, below: number, size = ''): string =>
    `<text x="${LEFT - 10}" y="${y + below}" text-anchor="end"${size}${weight}>${escaped(words)}</text>`;
  if (whole.length <= CHARACTERS_MOST) return line(whole, 15);
  const small = ' font-size="11"';
  if (scenario.kind !== 'two') return line(short(whole), 15, small);
  return `${line(`${short(first!)} +`, 9, small)}${line(short(second!), 22, small)}`;
}

function bar(scenario: Scenario, y: number, scale: number, best: boolean): string {
  const { proof, figures } = scenario;
  const name = nameOf(scenario, y, best);
  if (proof === null || figures === null) {
    return `${name}<text x="${LEFT + 4}" y="${y + 15}">cannot make the order</text>`;
  }
  let x: number = LEFT;
  const parts = PARTS.map(({ key, fill }) => {
    const amount = figures.split[key];
    const width = amount * scale;
    const from = x;
    x += width;
    if (width <= 0) return '';
    const box = `<rect x="${at(from)}" y="${y}" width="${at(width)}" height="${BAR}" fill="${fill}" stroke="#000" stroke-width="1"/>`;
    const figure = money(amount);
    const wide = figure.length * DIGIT + AROUND;
    if (width < wide + 2) return box;
    const middle = at(from + width / 2);
    return `${box}<rect x="${at(from + (width - wide) / 2)}" y="${y + 4}" width="${at(wide)}" height="14" fill="#fff"/><text x="${middle}" y="${y + 15}" text-anchor="middle" font-size="11">${figure}</text>`;
  });
  const sure = best ? ' recommended' : proof.status === 'optimal' ? '' : ` ${SURE[proof.status]}`;
  const total = `<text x="${at(x + 8)}" y="${y + 15}"${best ? ' font-weight="bold"' : ''}>${money(proof.value)}${sure}</text>`;
  return `<g role="img"><title>${escaped(said(scenario))}</title>${name}${parts.join('')}${total}</g>`;
}

function cheapest({ scenarios }: MouldingComparison): readonly Scenario[] {
  const cost = (one: Scenario): number => one.proof?.value ?? Number.POSITIVE_INFINITY;
  return [...scenarios]
    .sort((a, b) => (cost(a) === cost(b) ? a.offers.length - b.offers.length : cost(a) < cost(b) ? -1 : 1))
    .slice(0, BARS_MOST);
}

function legend(y: number): string {
  return PARTS.map(({ name, fill }, i) => {
    const x = LEFT + i * 150;
    return `<rect x="${x}" y="${y}" width="18" height="14" fill="${fill}" stroke="#000"/><text x="${x + 24}" y="${y + 12}">${name}</text>`;
  }).join('');
}

/** SVG 1.1, one chart a moulding, one under the other. */
export function comparisonSvg({ batch, recommendation, mouldings, measure, units }: Comparison): string {
  const heading = measure === 'cost' ? 'cost' : `sticks bought, in ${units === 'in' ? 'inches' : units}`;
  const bodies: string[] = [];
  const descriptions: string[] = [];
  let y = 16;
  for (const one of mouldings) {
    const shown = cheapest(one);
    const most = Math.max(...shown.map(({ proof }) => proof?.value ?? 0), 0.01);
    const scale = (WIDTH - LEFT - RIGHT) / most;
    bodies.push(
      `<text x="16" y="${y + 18}" font-size="16" font-weight="bold">${escaped(one.moulding)}: ${heading}</text>`,
    );
    y += TITLE - 10;
    const buy = JSON.stringify(one.recommendation.buy);
    const best = shown.find((scenario) => scenario.proof !== null && JSON.stringify(scenario.buy) === buy);
    shown.forEach((scenario, i) => {
      bodies.push(bar(scenario, y + i * (BAR + GAP), scale, scenario === best));
      descriptions.push(said(scenario));
    });
    y += shown.length * (BAR + GAP);
    bodies.push(
      `<line x1="${LEFT}" y1="${y - shown.length * (BAR + GAP) - 4}" x2="${LEFT}" y2="${y - 6}" stroke="#000"/>`,
    );
    y += 14;
  }
  bodies.push(legend(y));
  const height = y + LEGEND;
  return `<svg xmlns="http://www.w3.org/2000/svg" width="${WIDTH}" height="${height}" viewBox="0 0 ${WIDTH} ${height}" role="img" aria-labelledby="title desc" font-family="sans-serif" font-size="13" fill="#000">
<title id="title">${escaped(`Stick lengths to buy for ${batch}`)}</title>
<desc id="desc">${escaped(`${recommendation} ${descriptions.join('; ')}.`)}</desc>
${PATTERNS}
<rect width="${WIDTH}" height="${height}" fill="#fff"/>
${bodies.join('\n')}
</svg>
`;
}
