/** One setting: first the stop, then its sticks in order. */
import type { JSX } from 'preact';
import { useEffect, useRef } from 'preact/hooks';
import type { CardData, CardSetting, CardVisit } from './data.js';
import { type CardAct, type CardState, isDone, visitKey } from './state.js';
import { plural } from './words.js';

interface SettingProps {
  readonly data: CardData;
  readonly state: CardState;
  readonly setting: CardSetting;
  readonly act: (one: CardAct) => void;
}

interface VisitProps extends SettingProps {
  readonly visit: CardVisit;
  readonly at: number;
  /** The first that is not done. */
  readonly now: boolean;
}

function Visit({ data, state, setting, act, visit, at, now }: VisitProps): JSX.Element {
  const { stick, rails, begin } = visit;
  const own = state.done.has(visitKey(state.at, at));
  const done = isDone(state, state.at, at, visit);
  const two = setting.figures.length > 1;
  const { name, about } = data.sticks[stick]!;
  return (
    <li>
      <button
        type="button"
        class={done ? 'visit done' : now ? 'visit here' : 'visit'}
        aria-pressed={own}
        disabled={done && !own}
        onClick={() => act({ act: own ? 'untick' : 'tick', setting: state.at, visit: at })}
      >
        <span class="mark" aria-hidden="true">
          {done ? '✓' : ''}
        </span>
        <span class="what">
          <b>{name}</b> <small>{about}</small>
          {begin !== '' && !done && <em>{begin}</em>}
        </span>
        <span class="rails">
          {rails.map((rail) => {
            const [tag, length] = data.rails[rail]!;
            const why = state.spoiled.has(rail) ? 'spoiled' : state.flawed.has(rail) ? 'flawed' : null;
            return why !== null ? (
              <s key={rail}>
                {tag} {why}
              </s>
            ) : (
              <span key={rail}>
                {tag}
                {two && ` ${length}`}
              </span>
            );
          })}
        </span>
        <span class="count">{plural(rails.length, 'rail')}</span>
      </button>
    </li>
  );
}

function aboutSetting(data: CardData, setting: CardSetting): string {
  const { moulding, run, gauge, setBy, finish } = setting;
  const { id, mark, runs } = data.mouldings[moulding]!;
  return [
    `${mark} · ${id}`,
    runs > 1 ? `run ${run} of ${runs}` : '',
    finish ? 'finish what was begun' : '',
    gauge === null ? '' : `gauge stick ${gauge}`,
    setBy === null ? '' : `set it against ${setBy}`,
  ]
    .filter((text) => text !== '')
    .join(' · ');
}

export function SettingView(props: SettingProps): JSX.Element {
  const { data, state, setting, act } = props;
  const { figures, angle, clamp, visits, moulding } = setting;
  const isSet = state.set.has(state.at);
  const first = visits.findIndex((visit, v) => !isDone(state, state.at, v, visit));
  const { method, id } = data.mouldings[moulding]!;
  const list = useRef<HTMLUListElement>(null);
  useEffect(() => {
    list.current?.querySelector('.here')?.scrollIntoView({ block: 'nearest' });
  }, [first, isSet]);
  const opens = data.settings.findIndex((one) => one.moulding === moulding) === state.at;
  return (
    <section class="now">
      <p class="about">
        Setting {state.at + 1} of {data.settings.length} · {aboutSetting(data, setting)}
      </p>
      <h2 class={figures.length > 1 ? 'figure two' : 'figure'}>
        <span>{figures[0]}</span>
        {figures[1] !== undefined && (
          <>
            {' '}
            <span>and {figures[1]}</span>
          </>
        )}
        {angle !== '' && (
          <>
            {' '}
            <small>saw at {angle}</small>
          </>
        )}
      </h2>
      {clamp && <p class="clamp">CLAMP OR JIG, do not hold</p>}
      <details open={opens && !isSet}>
        <summary>How {id} is cut</summary>
        <ol>
          {method.map(({ name, text }) => (
            <li key={name}>
              <b>{name}</b> {text}
            </li>
          ))}
        </ol>
      </details>
      <ul class="steps" ref={list}>
        <li>
          <button
            type="button"
            class={isSet ? 'visit done' : 'visit here'}
            aria-pressed={isSet}
            disabled={isSet}
            onClick={() => act({ act: 'set', setting: state.at })}
          >
            <span class="mark" aria-hidden="true">
              {isSet ? '✓' : ''}
            </span>
            <span class="what">
              <b>{figures.length > 1 ? 'Both stops are set' : 'The stop is set'}</b>
            </span>
          </button>
        </li>
        {visits.map((visit, v) => (
          <Visit key={visit.rails[0]} {...props} visit={visit} at={v} now={isSet && v === first} />
        ))}
      </ul>
    </section>
  );
}
