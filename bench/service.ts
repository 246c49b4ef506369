/**
 * The figures of the service, on a real Redis of its own:
 *
 *     npm run bench:service -- [--only overhead,throughput,…] [--full] [--rounds 25 [--first 0]]
 *
 * Each prints one JSON line; exit 1 when an answer is wrong or a promise is not kept. Without --full the long ones are
 * cut short, and say so. `--rounds` and `--first` take a slice of the rounds of door-kills, of the rights, or of the shapes of room; `--first` leaves out nights of week.
 */
import { door, doorSubmissions } from './service/door.js';
import { doorLarge } from './service/door-large.js';
import { doorFuzz, doorKills } from './service/door-trials.js';
import { fair, fairMany, fairStarving } from './service/fair.js';
import { hostile } from './service/hostile.js';
import { limits } from './service/limits.js';
import { memory } from './service/memory.js';
import { overhead } from './service/overhead.js';
import { rights } from './service/rights.js';
import { room } from './service/room.js';
import type { Figure } from './service/setting.js';
import { soaking } from './service/soaking.js';
import { stops } from './service/stops.js';
import { throughput } from './service/throughput.js';
import { urgent } from './service/urgent.js';
import { week } from './service/week.js';

const args = process.argv.slice(2);

/** A whole number after an option; null where it is not given. */
function numberAfter(option: string): number | null {
  if (!args.includes(option)) return null;
  const given = args[args.indexOf(option) + 1] ?? '';
  if (/^\d{1,4}$/.test(given)) return Number(given);
  console.error(`${option}: given ${given}; allowed: a whole number up to 9999`);
  process.exit(2);
}

const ALL = 9999;
const [rounds, first] = [numberAfter('--rounds'), numberAfter('--first') ?? 0];

const FIGURES: Readonly<Record<string, (full: boolean) => AsyncGenerator<Figure>>> = {
  overhead,
  throughput,
  urgent,
  fair,
  'fair-many': fairMany,
  'fair-starving': fairStarving,
  limits,
  room: (all) => room(all, first, rounds ?? ALL),
  rights: () => rights(first, rounds ?? ALL),
  memory,
  hostile,
  door,
  'door-submissions': doorSubmissions,
  'door-large': doorLarge,
  'door-fuzz': doorFuzz,
  'door-kills': (all) => doorKills(all, rounds === null ? undefined : { first, rounds }),
  stops,
  week: () => week(first),
  soak: soaking,
};

const full = args.includes('--full');
const only = args.includes('--only') ? (args[args.indexOf('--only') + 1] ?? '').split(',') : null;
const unknown = (only ?? []).filter((name) => !Object.hasOwn(FIGURES, name));
if (unknown.length > 0) {
  console.error(`--only: given ${unknown.join(', ')}; allowed: ${Object.keys(FIGURES).join(', ')}`);
  process.exit(2);
}

let kept = true;
for (const [name, measure] of Object.entries(FIGURES)) {
  if (only !== null && !only.includes(name)) continue;
  for await (const figure of measure(full)) {
    kept &&= figure.kept;
    console.log(JSON.stringify({ figure: name, ...figure }));
  }
}
process.exit(kept ? 0 : 1);
