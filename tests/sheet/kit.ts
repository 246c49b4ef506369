/** Batches for the sheet: the demo, and one whose every id tries to break out. */
import { readFileSync } from 'node:fs';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import type { Plan } from '../../src/documents/plan/types.js';
import { planned } from '../plan/kit.js';

const demo = new URL('../fixtures/plans/demo.', import.meta.url);

export const DEMO_BATCH = JSON.parse(readFileSync(new URL(`${demo}batch.json`), 'utf8')) as BatchDocument;
/** As it was kept: without tags, so that they must come from the batch. */
export const DEMO_PLAN = JSON.parse(readFileSync(new URL(`${demo}plan.json`), 'utf8')) as Plan;

export const DATE = '26 November 2026';

const ATTEMPTS = [
  '<img src=x onerror=window.hacked=1>',
  '"><script>window.hacked=1</script>',
  '</style><script>window.hacked=1</script>',
  '</script><script>window.hacked=1</script>',
  "' onload='window.hacked=1",
  '" onmouseover="window.hacked=1',
  '</svg><svg onload=window.hacked=1>',
  '&lt;b&gt;&#60;script&#62;',
  'javascript:window.hacked=1',
  '<!--<script>',
  ']]><script>window.hacked=1</script>',
  '=HYPERLINK("http://127.0.0.1:9/")',
  '@import url(http://127.0.0.1:9/x.css)',
  '"; } * { display: none } @page { content: "',
  '<link rel=stylesheet href=http://127.0.0.1:9/x.css>',
  '<iframe srcdoc="<script>parent.hacked=1</script>">',
  '{{constructor.constructor("window.hacked=1")()}}',
  // biome-ignore lint/suspicious/noTemplateCurlyInString: a page may be a template to somebody
  '${window.hacked=1}',
  '\\3c script>',
  '<a href=x>#</a> #',
] as const;

/** Two hundred ids that try: each attempt with a number, since ids are used once. */
export const HOSTILE: readonly string[] = Array.from(
  { length: 200 },
  (_, i) => `${ATTEMPTS[i % ATTEMPTS.length]}${Math.floor(i / ATTEMPTS.length)}`,
);

/** A batch of two mouldings that bears all two hundred. */
export function hostileBatch(): BatchDocument {
  const ids = [...HOSTILE];
  const take = (count: number): string[] => ids.splice(0, count);
  const [batch = '', profiled = '', flat = ''] = take(3);
  const suppliers = take(10);
  const gauges = take(7);
  const offers = take(20);
  const sticks = take(40);
  const mouldingOf = (i: number): string => (i % 2 === 0 ? profiled : flat);
  return {
    schema: 'pairstop/batch@1',
    id: batch,
    units: 'mm',
    mouldings: [
      { id: profiled, face: 30, rabbet: 6 },
      { id: flat, face: 20, rabbet: 0, reversible: true },
    ],
    frames: ids.map((id, i) => ({
      id,
      moulding: mouldingOf(i),
      measuredBy: 'outside',
      width: 150 + 7 * (i % 9),
      height: 210 + 11 * (i % 7),
    })),
    sticks: sticks.map((id, i) => ({
      id,
      moulding: mouldingOf(i),
      length: 900 + i,
      flaws: i % 5 === 0 ? [[300, 320]] : [],
    })),
    offers: offers.map((id, i) => ({
      id,
      moulding: mouldingOf(i),
      length: 2400 + 100 * i,
      price: 10 + i,
      supplier: suppliers[i % suppliers.length]!,
    })),
    gauges: gauges.map((id, i) => ({ id, length: 150 + 7 * i })),
    suppliers: suppliers.map((id) => ({ id })),
    options: { timeLimit: 1 },
  };
}

let hostile: Promise<Plan> | null = null;

/** Planned once a process. */
export function hostilePlan(): Promise<Plan> {
  hostile ??= planned(hostileBatch());
  return hostile;
}
