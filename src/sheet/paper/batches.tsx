/** Whose it is: the batches of a pooled plan, what the wood of each cost, what pooling saved and how sure that is. */
import type { JSX } from 'preact';
import { tagsOf } from '../../rails/tags.js';
import { batchTexts, costText, poolingText, rulesText } from '../../words/pooled.js';
import type { Words } from '../../words/words.js';
import type { SheetJob } from '../job.js';

function Marks({ job, frames }: { readonly job: SheetJob; readonly frames: readonly string[] }): JSX.Element {
  const tags = tagsOf(job.batch);
  const quantities = new Map(job.batch.frames.map(({ id, quantity }) => [id, quantity]));
  const marks = frames.map((frame) => {
    const quantity = quantities.get(frame) ?? 1;
    const first = tags.frame(`${frame}/1`);
    return quantity === 1 ? first : `${first}…${tags.frame(`${frame}/${quantity}`)}`;
  });
  return <b>{marks.join(' ')}</b>;
}

export function Batches({
  job,
  words,
}: {
  readonly job: SheetJob;
  readonly words: Words;
}): JSX.Element | null {
  const { batch, made } = job;
  if (made.schema !== 'pairstop/plan@1' || made.batches === undefined || made.pooling === undefined)
    return null;
  const cost = costText(batch, words);
  return (
    <>
      <h2>Whose it is</h2>
      <table class="list">
        <thead>
          <tr>
            <th scope="col">batch</th>
            <th scope="col">tags</th>
            <th scope="col">frames</th>
            <th scope="col">pooling saved</th>
            <th scope="col" class="n">
              its wood
            </th>
          </tr>
        </thead>
        <tbody>
          {made.batches.map((part) => {
            const texts = batchTexts(part, cost);
            return (
              <tr key={part.batch}>
                <td>{part.batch}</td>
                <td>
                  <Marks job={job} frames={part.lines.map(({ frame }) => frame)} />
                </td>
                <td>
                  {texts.made}
                  {texts.missing === null ? '' : `. ${texts.missing}`}
                </td>
                <td>{texts.saved}</td>
                <td class="n">{texts.wood}</td>
              </tr>
            );
          })}
        </tbody>
      </table>
      <p class="key">
        {poolingText(made.pooling, cost)} {rulesText(made.pooling)}
      </p>
    </>
  );
}
