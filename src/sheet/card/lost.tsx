/** What is lost, and how to plan it anew: by the service that served this card, or by a line to type and a file. */
import type { JSX } from 'preact';
import { useState } from 'preact/hooks';
import type { CardData } from './data.js';
import { type CardAct, type CardState, cutSoFarText, flawedTags, flawTexts, lostTags } from './state.js';

interface LostProps {
  readonly data: CardData;
  readonly state: CardState;
  readonly act: (one: CardAct) => void;
}

const FILE = 'cut-so-far.json';

/** As a shell takes it. */
function word(text: string): string {
  return /^[\w./-]+$/.test(text) ? text : `'${text.replaceAll("'", `'\\''`)}'`;
}

function commandOf({ files }: CardData, lost: readonly string[], flaws: readonly string[]): string {
  const what = [
    ...(lost.length === 0 ? [] : [`--lost ${lost.join(',')}`]),
    ...flaws.map((flaw) => `--flaw ${word(flaw)}`),
  ].join(' ');
  return `pairstop recut ${word(files.batch)} ${word(files.plan)} ${what} --cut-so-far ${FILE} --out recut.json --sheet recut.html`;
}

function save(text: string): void {
  const link = document.createElement('a');
  link.href = URL.createObjectURL(new Blob([text], { type: 'application/json' }));
  link.download = FILE;
  link.click();
  URL.revokeObjectURL(link.href);
}

function textOf(value: unknown, key: string): string | null {
  const found: unknown = typeof value === 'object' && value !== null ? Reflect.get(value, key) : null;
  return typeof found === 'string' ? found : null;
}

/** The address of the sheet that replaces this one. Throws with what the service said. */
async function askService(service: string, data: CardData, state: CardState): Promise<string> {
  const body = {
    lost: lostTags(data, state),
    flaws: flawTexts(data, state),
    cutSoFar: JSON.parse(cutSoFarText(data, state)) as unknown,
  };
  const answer = await fetch(service, {
    method: 'POST',
    headers: { 'content-type': 'application/json', accept: 'application/json' },
    body: JSON.stringify(body),
  });
  const said: unknown = await answer.json().catch(() => null);
  const sheet = textOf(said, 'sheet');
  if (answer.ok && sheet !== null) return sheet;
  throw new Error(textOf(said, 'detail') ?? textOf(said, 'title') ?? `the service said ${answer.status}`);
}

function Ask({ data, state, service }: Omit<LostProps, 'act'> & { readonly service: string }): JSX.Element {
  const [said, setSaid] = useState('');
  const ask = (): void => {
    setSaid('Planning …');
    askService(service, data, state).then(
      (sheet) => location.assign(sheet),
      (error: unknown) => setSaid(`Not planned: ${error instanceof Error ? error.message : String(error)}`),
    );
  };
  return (
    <>
      <button type="button" class="go" onClick={ask}>
        Plan the lost rails again
      </button>
      <p role="status">{said}</p>
    </>
  );
}

export function Lost({ data, state, act }: LostProps): JSX.Element | null {
  const lost = lostTags(data, state);
  const flawed = flawedTags(data, state);
  if (lost.length + flawed.length === 0) return null;
  const { service } = data;
  return (
    <section class="lost" aria-label="Lost rails">
      <p class="big">
        {lost.length > 0 && (
          <>
            Lost: <b>{lost.join(', ')}</b>.{' '}
          </>
        )}
        {flawed.length > 0 && (
          <>
            Flawed wood under <b>{flawed.join(', ')}</b>: not cut there.{' '}
          </>
        )}
        You may finish the other sticks of this setting first; the rest is planned anew.
      </p>
      {service === null ? (
        <>
          <p>
            <button type="button" onClick={() => save(cutSoFarText(data, state))}>
              Save {FILE}
            </button>{' '}
            and beside it type:
          </p>
          <pre>{commandOf(data, lost, flawTexts(data, state))}</pre>
        </>
      ) : (
        <Ask data={data} state={state} service={service} />
      )}
      <button
        type="button"
        class="quiet"
        onClick={() => act({ act: 'keep', rails: [...state.spoiled, ...state.flawed] })}
      >
        None is lost after all
      </button>
    </section>
  );
}
