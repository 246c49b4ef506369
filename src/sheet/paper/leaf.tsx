/** A part of the sheet whose head and cautions are printed again on each of its pages. */
import type { ComponentChildren, JSX } from 'preact';
import type { Batch } from '../../terms.js';
import { cautions } from '../../words/cautions.js';

export interface LeafProps {
  readonly id: string;
  readonly head: ComponentChildren;
  /** Printed at the foot of each page. */
  readonly foot?: ComponentChildren;
  readonly children: ComponentChildren;
}

export function Leaf({ id, head, foot, children }: LeafProps): JSX.Element {
  return (
    <table class="leaf" id={id} role="presentation">
      <thead>
        <tr>
          <td>{head}</td>
        </tr>
      </thead>
      {foot !== undefined && (
        <tfoot>
          <tr>
            <td>{foot}</td>
          </tr>
        </tfoot>
      )}
      <tbody>
        <tr>
          <td>{children}</td>
        </tr>
      </tbody>
    </table>
  );
}

export function Cautions({
  batch,
  clamps,
}: {
  readonly batch: Batch;
  readonly clamps: boolean;
}): JSX.Element {
  return (
    <div class="cautions">
      <b>At the saw.</b> {cautions(batch, clamps, false).join(' ')}
    </div>
  );
}
