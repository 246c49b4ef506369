/**
 * The ids a plan gives to what a batch only counts. An id of the batch may hold slashes; a copy number and a side
 * never do. So these ids are put together and taken apart only here, and always from the right.
 *
 *     order line   frame copy    rail               stick (`ref` is a rack piece or an offer)
 *     A-101        A-101/3       A-101/3/top        ash-10/12
 */

/** `line/3`: one frame of an order line. Copies count from 1. */
export function frameId(line: string, copy: number): string {
  return `${line}/${copy}`;
}

/** `line/3/top`: one rail of a frame. */
export function railId(frame: string, side: string): string {
  return `${frame}/${side}`;
}

/** `ref/12`: one stick of a rack piece or an offer. */
export function stickId(ref: string, copy: number): string {
  return `${ref}/${copy}`;
}

function beforeLast(id: string): string {
  return id.slice(0, Math.max(0, id.lastIndexOf('/')));
}

/** The order line of a frame id; empty where there is no slash. */
export function lineOfFrame(frame: string): string {
  return beforeLast(frame);
}

/** The frame of a rail id; empty where there is no slash. */
export function frameOfRail(rail: string): string {
  return beforeLast(rail);
}

/** The rack piece or offer of a stick id; empty where there is no slash. */
export function refOfStick(stick: string): string {
  return beforeLast(stick);
}

export function sideOfRail(rail: string): string {
  return rail.slice(rail.lastIndexOf('/') + 1);
}

/** Digits of the largest copy number, plus one. */
const COPY_DIGITS = 10;

/**
 * The copy number of a frame or stick id: 1 or more, as `frameId` writes it. 0 for anything else, such as `A/03`, `A/`
 * or `A/top`. Looks at each character once and makes no text: a check asks for millions.
 */
export function copyOf(id: string): number {
  const slash = id.lastIndexOf('/');
  const digits = id.length - slash - 1;
  if (slash < 0 || digits < 1 || digits > COPY_DIGITS) return 0;
  let copy = 0;
  for (let i = slash + 1; i < id.length; i++) {
    const digit = id.charCodeAt(i) - 48;
    if (digit < 0 || digit > 9 || (copy === 0 && digit === 0)) return 0;
    copy = copy * 10 + digit;
  }
  return copy;
}
