/** The bench card: one setting at a time, its sticks to tick off, and what to do when a cut goes wrong. */
import type { JSX } from 'preact';
import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import type { CardData } from './data.js';
import { keep, kept } from './keep.js';
import { Lost } from './lost.js';
import { type Dialog, Mishap } from './mishap.js';
import { SettingView } from './setting.js';
import { type CardAct, type CardState, isDone, progressOf, stateOf } from './state.js';
import { plural, timeLeft } from './words.js';

/** The first setting from `from` on with anything to cut; one past the last where there is none. */
function nextOpen(data: CardData, state: CardState, from: number): number {
  for (let s = from; s < data.settings.length; s++) {
    if (data.settings[s]!.visits.some((visit, v) => !isDone(state, s, v, visit))) return s;
  }
  return data.settings.length;
}

function Progress({ data, state }: { readonly data: CardData; readonly state: CardState }): JSX.Element {
  const { cut, total, seconds } = progressOf(data, state);
  return (
    <p class="progress">
      <progress max={total} value={cut} aria-label="Rails cut" /> <b>{cut}</b> of {total} rails
      {seconds > 0 && <span> · about {timeLeft(seconds)} left</span>}
    </p>
  );
}

/** What happened, for a screen reader. */
function saidOf(data: CardData, acts: readonly CardAct[]): string {
  const last = acts.at(-1);
  if (last === undefined) return '';
  switch (last.act) {
    case 'set':
      return 'Stop is set.';
    case 'tick':
    case 'untick': {
      const visit = data.settings[last.setting]?.visits[last.visit];
      const name = visit === undefined ? '' : data.sticks[visit.stick]!.name;
      return `${name} ${last.act === 'tick' ? 'ticked off' : 'not ticked any more'}.`;
    }
    case 'go':
      return `Setting ${last.setting + 1} of ${data.settings.length}.`;
    case 'spoil':
      return `${plural(last.rails.length, 'rail')} marked as lost.`;
    case 'flaw':
      return `${plural(last.rails.length, 'rail')} marked as flawed.`;
    case 'keep':
      return `${plural(last.rails.length, 'rail')} no longer marked.`;
  }
}

function Done({ data, state }: { readonly data: CardData; readonly state: CardState }): JSX.Element {
  const open = nextOpen(data, state, 0) < data.settings.length;
  return (
    <section class="now">
      <h2>{open ? 'The last setting is done' : 'All is cut'}</h2>
      <p class="big">
        {open
          ? 'Some sticks are not ticked off: go back to find them.'
          : `${data.rails.length} rails. Join them by the joining list on the paper sheet.`}
      </p>
    </section>
  );
}

export function Card({ data }: { readonly data: CardData }): JSX.Element {
  const [acts, setActs] = useState<readonly CardAct[]>(() => kept(data.key));
  const [keeps, setKeeps] = useState(true);
  const [dialog, setDialog] = useState<Dialog>(null);
  const [paper, setPaper] = useState(false);
  const state = useMemo(() => stateOf(acts), [acts]);
  const next = useRef<HTMLButtonElement>(null);

  const save = (all: readonly CardAct[]): void => {
    setActs(all);
    setKeeps(keep(data.key, all));
  };
  const act = (one: CardAct): void => save([...acts, one]);

  const { at } = state;
  const setting = data.settings[at];
  const ready = setting?.visits.every((visit, v) => isDone(state, at, v, visit)) ?? false;

  useEffect(() => {
    document.documentElement.classList.toggle('paper', paper);
  }, [paper]);
  useEffect(() => {
    if (ready) next.current?.focus();
  }, [ready]);

  const following = data.settings[at + 1];
  return (
    <>
      <header>
        <h1>{data.batch}</h1>
        <Progress data={data} state={state} />
        <button type="button" class="quiet" aria-pressed={paper} onClick={() => setPaper(!paper)}>
          {paper ? 'Bench card' : 'Paper sheet'}
        </button>
      </header>
      {!paper && (
        <main>
          {!keeps && (
            <p class="warn" role="alert">
              This browser keeps nothing: a reload loses what you ticked.
            </p>
          )}
          <Lost data={data} state={state} act={act} />
          {setting === undefined ? (
            <Done data={data} state={state} />
          ) : (
            <SettingView data={data} state={state} setting={setting} act={act} />
          )}
          <p class="sr" role="status">
            {saidOf(data, acts)}
          </p>
          <nav class="bar" aria-label="Settings">
            <button type="button" disabled={acts.length === 0} onClick={() => save(acts.slice(0, -1))}>
              Undo
            </button>
            <button type="button" disabled={at === 0} onClick={() => act({ act: 'go', setting: at - 1 })}>
              Back
            </button>
            <button type="button" disabled={setting === undefined} onClick={() => setDialog('spoiled')}>
              Rail spoiled
            </button>
            <button type="button" disabled={setting === undefined} onClick={() => setDialog('flawed')}>
              Stick flawed
            </button>
            <button
              type="button"
              ref={next}
              class={ready ? 'go' : undefined}
              disabled={setting === undefined}
              onClick={() => act({ act: 'go', setting: at + 1 })}
            >
              {following === undefined ? 'Finish' : `Next: ${following.figures.join(' and ')}`}
            </button>
          </nav>
          <section class="at" aria-label="At the saw">
            <b>At the saw.</b> {data.cautions.join(' ')}
          </section>
        </main>
      )}
      {dialog !== null && (
        <Mishap data={data} state={state} dialog={dialog} act={act} close={() => setDialog(null)} />
      )}
    </>
  );
}
