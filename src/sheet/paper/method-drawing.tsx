/** The saw from above, for one moulding: fence, stop, blade, and how the stick lies. Not to scale. */
import type { JSX } from 'preact';
import { angleText } from '../../words/method.js';

export interface MethodDrawingProps {
  readonly reversible: boolean;
  readonly angle: number;
  readonly secondStop: boolean;
}

/** Millimetres on paper. */
const [WIDTH, HEIGHT, FENCE, TOP, FACE] = [72, 37, 4, 9, 12];
const [STOP, BLADE] = [8, 38];

export function MethodDrawing({ reversible, angle, secondStop }: MethodDrawingProps): JSX.Element {
  const run = FACE * Math.tan((angle * Math.PI) / 180);
  const bottom = TOP + FACE;
  const title = reversible
    ? 'The saw from above: the rail between stop and blade, the stick rolled over after each cut'
    : 'The saw from above: outside edge at the fence, the rail between stop and blade, the saw swung between its two ends';
  const over = 3;
  const slope = run / FACE;
  return (
    <svg
      class="method"
      width={`${WIDTH}mm`}
      height={`${HEIGHT}mm`}
      viewBox={`0 0 ${WIDTH} ${HEIGHT}`}
      role="img"
      aria-label={title}
    >
      <rect x="0" y={FENCE} width={WIDTH} height={TOP - FENCE - 1} fill="#000" />
      <text x={WIDTH - 1} y={FENCE - 1} text-anchor="end">
        fence
      </text>
      <rect x={STOP - 4} y={TOP} width="4" height="7" fill="#000" />
      <text x="0" y={bottom - 1}>
        stop
      </text>
      {secondStop && (
        <>
          <rect
            x={STOP + 6}
            y={TOP - 0.5}
            width="2.4"
            height="5"
            fill="#fff"
            stroke="#000"
            stroke-width=".4"
            stroke-dasharray="1 .6"
          />
          <text x={STOP + 6} y={TOP + 8}>
            2nd
          </text>
        </>
      )}
      <path
        d={`M${STOP} ${TOP}L${BLADE} ${TOP}L${BLADE - run} ${bottom}L${STOP + run} ${bottom}Z`}
        fill="none"
        stroke="#000"
        stroke-width=".5"
      />
      <text x={(STOP + BLADE) / 2 + (secondStop ? 3 : 0)} y={TOP + FACE / 2 + 1} text-anchor="middle">
        rail
      </text>
      <path
        d={`M${WIDTH} ${TOP}L${BLADE + 1.6} ${TOP}L${BLADE + 1.6 - run} ${bottom}L${WIDTH} ${bottom}`}
        fill="none"
        stroke="#000"
        stroke-width=".3"
      />
      <text x={WIDTH - 2} y={TOP + FACE / 2 + 1} text-anchor="end">
        stick
      </text>
      <path
        d={`M${BLADE + 0.8 + over * slope} ${TOP - over}L${BLADE + 0.8 - run - over * slope} ${bottom + over}`}
        stroke="#000"
        stroke-width="1.1"
      />
      <text x={BLADE - run - over * slope - 1} y={bottom + over + 2.2} text-anchor="end">
        blade, {angleText(angle)}
      </text>
      {reversible ? (
        <>
          <path
            d={`M${WIDTH - 8} ${bottom + 1.5}c5 1.5 5 5 0 6.5m0 0l1.8 -.2m-1.8 .2l.9 -1.6`}
            fill="none"
            stroke="#000"
            stroke-width=".4"
          />
          <text x={WIDTH - 10} y={bottom + 7} text-anchor="end">
            roll over after each cut
          </text>
        </>
      ) : (
        <>
          <path
            d={`M${BLADE + 1.6 + 0.5} ${TOP + 0.4}L${BLADE + 1.6 + 0.5 + run} ${bottom + over}`}
            stroke="#000"
            stroke-width=".5"
            stroke-dasharray="1.4 .9"
          />
          <text x={BLADE + 3.6 + run} y={bottom + over + 2.2}>
            next mitre
          </text>
          <text x={WIDTH - 1} y={bottom - 1.2} text-anchor="end" class="e">
            sight edge
          </text>
        </>
      )}
      <path
        d={`M${STOP} ${bottom + 9}H${BLADE}M${STOP} ${bottom + 7.6}v2.8M${BLADE} ${bottom + 7.6}v2.8`}
        stroke="#000"
        stroke-width=".35"
      />
      <text x={(STOP + BLADE) / 2} y={bottom + 12.4} text-anchor="middle">
        stop setting
      </text>
    </svg>
  );
}
