/**
 * The figures of the service, on a real Redis of its own:
 *
 *     npm run bench:service -- [--only overhead,throughput,…] [--full]
 *
 * Each prints one JSON line; exit 1 when an answer is wrong or a promise is not kept. Without --full the long ones are
 * cut short, and say so.
 */
import { door, doorSubmissions } from './service/door.js';
import { doorLarge } from './service/door-large.js';
import { doorFuzz, doorKills } from './service/door-trials.js';
import { fair } from './service/fair.js';
import { hostile } from './service/hostile.js';
import { limits } from './service/limits.js';
import { memory } from './service/memory.js';
import { overhead } from './service/overhead.js';
import type { Figure } from './service/setting.js';
import { soaking } from './service/soaking.js';
import { throughput } from './service/throughput.js';
import { urgent } from './service/urgent.js';

const FIGURES: Readonly<Record<string, (full: boolean) => AsyncGenerator<Figure>>> = {
  overhead,
  throughput,
  urgent,
  fair,
  limits,
  memory,
  hostile,
  door,
  'door-submissions': doorSubmissions,
  'door-large': doorLarge,
  'door-fuzz': doorFuzz,
  'door-kills': doorKills,
  soak: soaking,
};

const args = process.argv.slice(2);
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
