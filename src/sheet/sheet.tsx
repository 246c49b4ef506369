/**
 * The sheet: one file that prints as paper to pin up, and on a tablet is the bench card. It asks nobody for anything: a
 * strict policy allows its own script and style by their digests, and no address but, where a service serves it, its own.
 */
import type { JSX } from 'preact';
import { renderToString } from 'preact-render-to-string';
import type { Plan } from '../documents/plan/types.js';
import type { Recut } from '../documents/recut/types.js';
import type { Batch } from '../terms.js';
import { Costs } from '../words/costs.js';
import { Words } from '../words/words.js';
import { type CardFiles, cardData } from './card/build.js';
import { CARD_STYLE } from './card/style.js';
import { digestSource } from './digest.js';
import { sheetJob } from './job.js';
import { type List, listsOfJob } from './lists/lists.js';
import { Front } from './paper/front.js';
import { Leaf } from './paper/leaf.js';
import { ListTable } from './paper/list-table.js';
import { MouldingLeaf } from './paper/moulding.js';
import { Patterns } from './paper/stick-drawing.js';
import { paperStyle } from './paper/style.js';

export interface SheetOptions {
  /** As it is to be printed; the sheet has no clock of its own. */
  readonly date: string;
  /** The card's script, from `cardScript()`. */
  readonly script: string;
  /** Names of the files for the line to type after a mishap. */
  readonly files?: CardFiles;
  /** Where a service takes what was lost, as a path of its own (`/v1/…`): the card then asks it instead. */
  readonly service?: string;
}

/** JSON that no tag can end. */
function jsonText(value: unknown): string {
  return JSON.stringify(value).replaceAll('<', '\\u003c');
}

/** Run first of all: where scripts run the paper is not laid out for the screen, which for a large plan takes seconds. */
const FIRST = "document.documentElement.classList.add('carded')";
const RUNNING_LENGTH = 60;
const FILES: CardFiles = { batch: 'BATCH.json', plan: 'PLAN.json' };

interface ListsProps {
  readonly lists: readonly List[];
  readonly batch: Batch;
  readonly words: Words;
}

function Lists({ lists, batch, words }: ListsProps): JSX.Element | null {
  const shown = lists.filter(({ rows }) => rows.length > 0);
  if (shown.length === 0) return null;
  const head = (
    <div class="running">
      <b>Lists</b>
      <span>{batch.id}</span>
    </div>
  );
  return (
    <Leaf id="lists" head={head}>
      {shown.map((list) => (
        <section key={list.kind}>
          <h2>{list.title}</h2>
          <ListTable list={list} words={words} />
        </section>
      ))}
    </Leaf>
  );
}

/** UTF-8 text of an HTML page. Pure: the same batch, plan and options give the same page. */
export function sheetHtml(batch: Batch, made: Plan | Recut, options: SheetOptions): string {
  const { date, script, service = null } = options;
  const job = sheetJob(batch, made);
  const words = new Words(batch);
  const lists = listsOfJob(job);
  const style = paperStyle(`${batch.id.slice(0, RUNNING_LENGTH)}  ${date}`) + CARD_STYLE;
  const policy = [
    "default-src 'none'",
    `script-src ${digestSource(FIRST)} ${digestSource(script)}`,
    `style-src ${digestSource(style)}`,
    'img-src data:',
    `connect-src ${service === null ? "'none'" : "'self'"}`,
    "base-uri 'none'",
    "form-action 'none'",
  ].join('; ');
  const head = renderToString(
    <>
      <meta charset="utf-8" />
      <meta http-equiv="Content-Security-Policy" content={policy} />
      <meta name="viewport" content="width=device-width, initial-scale=1" />
      <title>{`${batch.id}: ${made.schema === 'pairstop/recut@1' ? 'recut' : 'cut plan'}`}</title>
      <link rel="icon" href="data:," />
    </>,
  );
  const body = renderToString(
    <>
      <div id="card" />
      <main id="sheet">
        <Patterns />
        <Front job={job} words={words} costs={new Costs(batch, words)} buy={lists.buy} date={date} />
        {job.mouldings.map((part) => (
          <MouldingLeaf key={part.mark} job={job} part={part} words={words} />
        ))}
        <Lists lists={[lists.glass, lists.sizes, lists.joining]} batch={batch} words={words} />
      </main>
    </>,
  );
  const data = jsonText(cardData(job, words, options.files ?? FILES, service));
  return `<!doctype html>
<html lang="en"><head>${head}<script>${FIRST}</script><style>${style}</style></head>
<body>${body}
<script type="application/json" id="card-data">${data}</script>
<script>${script}</script>
</body></html>
`;
}
