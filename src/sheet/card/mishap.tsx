/** What went wrong: which rail is spoiled, or which stick is flawed and which of its rails the flaw touches. */
import type { JSX } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import type { CardData } from './data.js';
import { type CardAct, type CardState, cutRails } from './state.js';

export type Dialog = 'spoiled' | 'flawed' | null;

interface MishapProps {
  readonly data: CardData;
  readonly state: CardState;
  readonly dialog: Exclude<Dialog, null>;
  readonly act: (one: CardAct) => void;
  readonly close: () => void;
}

type ChoiceProps = Omit<MishapProps, 'dialog'>;

function ChooseRail({ data, state, act, close }: ChoiceProps): JSX.Element {
  const visits = data.settings[state.at]?.visits ?? [];
  return (
    <>
      <h2 id="mishap">Which rail is spoiled?</h2>
      <p>Of this setting. For one cut before, go back to its setting first.</p>
      <ul class="choices">
        {visits.flatMap(({ rails, stick }) =>
          rails.map((rail) => (
            <li key={rail}>
              <button
                type="button"
                aria-pressed={state.spoiled.has(rail)}
                onClick={() => {
                  act({ act: state.spoiled.has(rail) ? 'keep' : 'spoil', rails: [rail] });
                  close();
                }}
              >
                <b>{data.rails[rail]![0]}</b> <small>{data.sticks[stick]!.name}</small>
              </button>
            </li>
          )),
        )}
      </ul>
    </>
  );
}

/** Sticks of this run with rails still to be cut, the present setting's first. */
function openSticks(data: CardData, state: CardState, cut: ReadonlySet<number>): readonly number[] {
  const here = data.settings[state.at];
  const settings = data.settings.filter(
    ({ moulding, run }) => moulding === here?.moulding && run === here.run,
  );
  const all = [here, ...settings].flatMap((one) => one?.visits.map(({ stick }) => stick) ?? []);
  return [...new Set(all)].filter((stick) =>
    data.sticks[stick]!.parts.some((part) => part.some((rail) => !cut.has(rail))),
  );
}

function ChooseFlaw({ data, state, act, close }: ChoiceProps): JSX.Element {
  const [stick, setStick] = useState<number | null>(null);
  const [touched, setTouched] = useState<ReadonlySet<number>>(new Set());
  const cut = cutRails(data, state);
  if (stick === null) {
    return (
      <>
        <h2 id="mishap">Which stick is flawed?</h2>
        <ul class="choices">
          {openSticks(data, state, cut).map((one) => (
            <li key={one}>
              <button type="button" onClick={() => setStick(one)}>
                <b>{data.sticks[one]!.name}</b> <small>{data.sticks[one]!.about}</small>
              </button>
            </li>
          ))}
        </ul>
      </>
    );
  }
  const { name, parts } = data.sticks[stick]!;
  return (
    <>
      <h2 id="mishap">Which rails of {name} does the flaw touch?</h2>
      <p>
        In order from its left end, those not cut yet. Their places are given up; the others stay. A flaw in a
        rail already cut: that rail is spoiled.
      </p>
      <ul class="choices">
        {parts.flat().map((rail) => (
          <li key={rail}>
            <button
              type="button"
              disabled={cut.has(rail)}
              aria-pressed={touched.has(rail)}
              onClick={() => {
                const now = new Set(touched);
                if (!now.delete(rail)) now.add(rail);
                setTouched(now);
              }}
            >
              <b>{data.rails[rail]![0]}</b> <small>{data.rails[rail]![1]}</small>
            </button>
          </li>
        ))}
      </ul>
      <button
        type="button"
        class="go"
        disabled={touched.size === 0}
        onClick={() => {
          act({ act: 'flaw', rails: parts.flat().filter((rail) => touched.has(rail)) });
          close();
        }}
      >
        {touched.size === 0
          ? 'Choose the rails'
          : `Not cut here: ${[...touched].map((rail) => data.rails[rail]![0]).join(', ')}`}
      </button>
    </>
  );
}

export function Mishap({ dialog, ...props }: MishapProps): JSX.Element {
  const box = useRef<HTMLDialogElement>(null);
  useEffect(() => {
    if (box.current?.open === false) box.current.showModal();
  }, []);
  return (
    <dialog ref={box} aria-labelledby="mishap" onClose={props.close}>
      {dialog === 'spoiled' ? <ChooseRail {...props} /> : <ChooseFlaw {...props} />}
      <button type="button" onClick={props.close}>
        Nothing, go back
      </button>
    </dialog>
  );
}
