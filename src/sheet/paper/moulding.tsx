/** A moulding on paper: how it is cut, then run by run its settings with boxes to tick, and its sticks to scale. */
import { Fragment, type JSX } from 'preact';
import { plural } from '../../text/page.js';
import { angleText, methodSteps } from '../../words/method.js';
import type { Words } from '../../words/words.js';
import type { SheetJob, SheetMoulding, SheetRun, SheetSetting, SheetStick } from '../job.js';
import { settingText } from '../setting-text.js';
import { timeText } from '../time.js';
import { Cautions, Leaf } from './leaf.js';
import { MethodDrawing } from './method-drawing.js';
import { DRAWN_LENGTH, StickDrawing, unmarked } from './stick-drawing.js';

interface PartProps {
  readonly job: SheetJob;
  readonly part: SheetMoulding;
  readonly words: Words;
}

export function mitresText({ angles }: SheetMoulding): string {
  return angles.map(angleText).join(' and ');
}

function Method({ job, part, words }: PartProps): JSX.Element {
  const settings = part.runs.flatMap((run) => run.settings);
  const secondStop = settings.some(({ second }) => second !== null);
  const facts = {
    batch: job.batch,
    moulding: part.moulding,
    angles: part.angles,
    secondStop,
    flaws: part.sticks.some(({ flaws }) => flaws.length > 0),
    clamps: settings.some(({ clamp }) => clamp),
  };
  return (
    <section class="how" aria-label={`How ${part.moulding.id} is cut`}>
      <MethodDrawing
        reversible={part.moulding.reversible}
        angle={part.angles[0] ?? 45}
        secondStop={secondStop}
      />
      <ol>
        {methodSteps(facts, words).map(({ name, text }) => (
          <li key={name}>
            <b>{name}</b> {text}
          </li>
        ))}
      </ol>
    </section>
  );
}

function Setting({
  setting,
  part,
  words,
}: {
  readonly setting: SheetSetting;
  readonly part: SheetMoulding;
  readonly words: Words;
}): JSX.Element {
  const { visits, gauge, angles, clamp, setBy, finish, second } = setting;
  const rails = visits.reduce((sum, visit) => sum + visit.rails.length, 0);
  const about = [
    plural(rails, 'rail'),
    part.angles.length > 1 ? `saw at ${angles.map(angleText).join(', then ')}` : '',
    gauge === null ? '' : `set by gauge stick ${gauge}`,
    setBy === null ? '' : `set it against ${setBy}`,
    second === null ? '' : 'two stops',
    finish ? 'finish what was begun' : '',
  ].filter((text) => text !== '');
  return (
    <section class="setting">
      <h4>
        <i class="box" /> <span class="figure">{settingText(words, setting)}</span>{' '}
        <span class="about">{about.join(' · ')}</span>
        {clamp && <strong class="clamp"> CLAMP OR JIG, do not hold</strong>}
      </h4>
      <ul class="visits">
        {visits.map(({ stick, rails: cut }) => (
          <li key={cut[0]?.tag}>
            <i class="box" /> <b>{stick.name}</b>
            {cut.map(({ tag, length }, i) => (
              <Fragment key={tag}>
                {i === 0 ? ' ' : ', '}
                <span>{second === null ? tag : `${tag} ${words.length(length)}`}</span>
              </Fragment>
            ))}
          </li>
        ))}
      </ul>
    </section>
  );
}

/** Where each clear part begins, when a flaw parts the stick. */
function partsText(words: Words, { flaws, rails }: SheetStick): string {
  if (flaws.length === 0) return '';
  const starts = [0, ...flaws.map(([, to]) => to)].flatMap((from, i) => {
    const end = flaws[i]?.[0] ?? Number.POSITIVE_INFINITY;
    const first = rails.find(({ start }) => start >= from && start < end);
    return first === undefined ? [] : [words.tape(first.start)];
  });
  const flawed = flaws.map(([from, to]) => `${words.tape(from)} to ${words.tape(to)}`).join(', ');
  return `flaw ${flawed}; first mitres at ${starts.join(' and ')} from the left end`;
}

function leftText(words: Words, { left }: SheetStick): string {
  const of = (keep: boolean): string =>
    left
      .filter((one) => one.keep === keep)
      .map(({ from, to, length }) => words.tape(keep ? length : to - from))
      .filter((text) => Number.parseFloat(text) > 0)
      .join(', ');
  const [kept, waste] = [of(true), of(false)];
  return [kept === '' ? '' : `keep ${kept}`, waste === '' ? '' : `waste ${waste}`]
    .filter((text) => text !== '')
    .join('; ');
}

function StickRow({
  stick,
  part,
  words,
  scale,
}: {
  readonly stick: SheetStick;
  readonly part: SheetMoulding;
  readonly words: Words;
  readonly scale: number;
}): JSX.Element {
  const drawn = { stick, moulding: part.moulding, words, scale };
  const small = unmarked(drawn);
  const notes = [
    small.length === 0 ? '' : `too small to mark, left to right: ${small.map(({ tag }) => tag).join(', ')}`,
    partsText(words, stick),
    leftText(words, stick),
  ].filter((text) => text !== '');
  return (
    <div class="row" data-stick={stick.name}>
      <div class="name">
        <b>{stick.name}</b> {stick.rack ? 'rack' : 'new'} {words.stock(stick.length)}
      </div>
      <div>
        <StickDrawing {...drawn} />
        {notes.length > 0 && <div class="note">{notes.join(' · ')}</div>}
      </div>
    </div>
  );
}

function Run({
  run,
  part,
  words,
  scale,
  job,
}: PartProps & { readonly run: SheetRun; readonly scale: number }): JSX.Element {
  const time = timeText(job.batch, part.moulding, run);
  const count = part.runs.length;
  // With "fewest" in the batch, and in a recut, another order may leave fewer sticks begun.
  const longestFirst = run.settings.every(
    ({ setting }, k) => setting <= (run.settings[k - 1] ?? { setting }).setting,
  );
  return (
    <section class="run">
      <h3>
        {count > 1 && `Run ${run.run} of ${count}: `}
        {plural(run.sticks.length, 'stick')}, {plural(run.settings.length, 'setting')}
        {time !== '' && `, ${time}`}
      </h3>
      <p class="lead">
        Set each stop once, {longestFirst ? 'longest first' : 'in this order'}; at each, take the sticks as
        they are listed and cut these rails.
      </p>
      {run.settings.map((setting) => (
        <Setting key={`${setting.setting} ${setting.second}`} setting={setting} part={part} words={words} />
      ))}
      <h3 class="sticks">Sticks{count > 1 && ` of run ${run.run}`}, left end at the left, fence side up</h3>
      {run.sticks.map((stick) => (
        <StickRow key={stick.name} stick={stick} part={part} words={words} scale={scale} />
      ))}
    </section>
  );
}

export function MouldingLeaf({ job, part, words }: PartProps): JSX.Element {
  const longest = part.sticks.reduce((most, { length }) => Math.max(most, length), 1);
  const clamps = part.runs.some(({ settings }) => settings.some(({ clamp }) => clamp));
  const { batch } = job;
  return (
    <Leaf
      id={`cut-${part.mark}`}
      head={
        <div class="running">
          <b>
            {part.mark} · {part.moulding.id}
          </b>
          <span>{batch.id}</span>
        </div>
      }
      foot={<Cautions batch={batch} clamps={clamps} />}
    >
      <h2>
        {part.moulding.id}
        <small>
          {' '}
          mitre {mitresText(part)}, {part.moulding.reversible ? 'reversible' : 'profiled'}, tags begin with{' '}
          {part.mark}
        </small>
      </h2>
      <Method job={job} part={part} words={words} />
      {part.runs.map((run) => (
        <Run key={run.run} run={run} part={part} words={words} job={job} scale={DRAWN_LENGTH / longest} />
      ))}
    </Leaf>
  );
}
