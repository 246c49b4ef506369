/** A machine's clock that can be stepped. Imported before anything that reads the time. */
const real = Date.now;
let off = 0;

Date.now = () => real() + off;

/** Milliseconds by which it is off from now on. */
export function stepClock(ms: number): void {
  off = ms;
}
