/** The sheet's first page: what it is of, what is lacking, what to buy, and where each moulding stands. */
import type { JSX } from 'preact';
import type { Plan } from '../../documents/plan/types.js';
import type { Recut } from '../../documents/recut/types.js';
import { aboutTime, LEFT_OUT } from '../../show/hours.js';
import { plural } from '../../text/page.js';
import type { Costs } from '../../words/costs.js';
import { ranges } from '../../words/ranges.js';
import type { Words } from '../../words/words.js';
import type { SheetJob } from '../job.js';
import type { List } from '../lists/lists.js';
import { runSeconds } from '../time.js';
import { Batches } from './batches.js';
import { Leaf } from './leaf.js';
import { ListTable } from './list-table.js';
import { mitresText } from './moulding.js';

export interface FrontProps {
  readonly job: SheetJob;
  readonly words: Words;
  readonly costs: Costs;
  readonly buy: List;
  /** As the caller writes it. */
  readonly date: string;
}

function Shortfall({
  made,
  words,
}: {
  readonly made: Plan | Recut;
  readonly words: Words;
}): JSX.Element | null {
  if (made.shortfall.length === 0) return null;
  return (
    <section class="short" aria-label="What is short">
      {made.shortfall.map(({ moulding, frames, needs }) => (
        <p key={moulding}>
          <strong>SHORT of {moulding}:</strong> {plural(frames.length, 'frame')} not made, {ranges(frames)}.{' '}
          {words.long(Math.round(needs * 1000))} more would complete {frames.length === 1 ? 'it' : 'them'}.
        </p>
      ))}
    </section>
  );
}

function Lost({ made }: { readonly made: Plan | Recut }): JSX.Element | null {
  if (made.schema !== 'pairstop/recut@1') return null;
  return (
    <section aria-label="What was lost">
      <p>
        <strong>Lost:</strong> {made.lost.join(', ')}.{' '}
        {made.cutSoFar === 'told'
          ? 'Taken as cut: what the file says, and the lost rails.'
          : "Taken as cut: everything up to the last lost rail, in the plan's order."}
      </p>
    </section>
  );
}

function Mouldings({ job, words }: { readonly job: SheetJob; readonly words: Words }): JSX.Element {
  return (
    <table class="list">
      <thead>
        <tr>
          <th scope="col">tags</th>
          <th scope="col">moulding</th>
          <th scope="col">mitre</th>
          <th scope="col" class="n">
            sticks
          </th>
          <th scope="col" class="n">
            from the rack
          </th>
          <th scope="col" class="n">
            rails
          </th>
          <th scope="col" class="n">
            settings
          </th>
          <th scope="col" class="n">
            to keep
          </th>
          <th scope="col" class="n">
            at the saw
          </th>
        </tr>
      </thead>
      <tbody>
        {job.mouldings.map((part) => {
          const kept = part.sticks.flatMap(({ left }) => left.filter(({ keep }) => keep));
          const time = part.runs.reduce((sum, run) => sum + runSeconds(job.batch, part.moulding, run), 0);
          return (
            <tr key={part.mark}>
              <td>
                <b>{part.mark}</b>
              </td>
              <td>{part.moulding.id}</td>
              <td>{mitresText(part)}</td>
              <td class="n">{part.sticks.length}</td>
              <td class="n">{part.sticks.filter(({ rack }) => rack).length}</td>
              <td class="n">{part.sticks.reduce((sum, { rails }) => sum + rails.length, 0)}</td>
              <td class="n">{part.runs.reduce((sum, { settings }) => sum + settings.length, 0)}</td>
              <td class="n">
                {kept.length === 0
                  ? ''
                  : `${kept.length}, ${words.long(kept.reduce((sum, { from, to }) => sum + to - from, 0))}`}
              </td>
              <td class="n">{aboutTime(time)}</td>
            </tr>
          );
        })}
      </tbody>
    </table>
  );
}

export function Front({ job, words, costs, buy, date }: FrontProps): JSX.Element {
  const { batch, made } = job;
  const sticks = job.mouldings.flatMap((part) => part.sticks);
  const rails = sticks.reduce((sum, stick) => sum + stick.rails.length, 0);
  const recut = made.schema === 'pairstop/recut@1';
  return (
    <Leaf
      id="front"
      head={
        <div class="running">
          <b>{recut ? 'Recut' : 'Cut plan'}</b>
          <span>{date}</span>
        </div>
      }
    >
      <h1>{batch.id}</h1>
      <p class="lead">
        {plural(rails, 'rail')} from {plural(sticks.length, 'stick')}
        {made.status === 'short' ? ', short of stock' : ''}.
      </p>
      <Shortfall made={made} words={words} />
      <Lost made={made} />
      <h2>To buy</h2>
      {made.buy.length === 0 ? (
        <p>Nothing{made.status === 'short' ? '.' : ', the rack is enough.'}</p>
      ) : (
        <>
          <ListTable list={buy} words={words} />
          <p class="sum">
            In all{' '}
            {plural(
              made.buy.reduce((sum, { count }) => sum + count, 0),
              'stick',
            )}
            , {costs.total(made.buy)}.
          </p>
        </>
      )}
      <Batches job={job} words={words} />
      <h2>To cut</h2>
      <Mouldings job={job} words={words} />
      <p class="key">
        A tag finds its frame: <b>A12T</b> is the top of frame 12 of moulding A; T top, R right, B bottom, L
        left, and in frames of other shapes the number of the side. {LEFT_OUT}
      </p>
      {made.notices.length > 0 && (
        <>
          <h2>To know</h2>
          <ul class="notes">
            {made.notices.map(({ message, path }) => (
              <li key={path + message}>{message}</li>
            ))}
          </ul>
        </>
      )}
    </Leaf>
  );
}
