/** Exact rational numbers of micrometres, for the few steps between a written size and a whole-micrometre rail. */
export interface Exact {
  readonly num: bigint;
  /** Always positive. */
  readonly den: bigint;
}

function gcd(a: bigint, b: bigint): bigint {
  let x = a < 0n ? -a : a;
  let y = b;
  while (y !== 0n) [x, y] = [y, x % y];
  return x;
}

/** num/den in lowest terms; `den` must not be zero. */
export function exact(num: bigint, den = 1n): Exact {
  if (den === 1n) return { num, den };
  const sign = den < 0n ? -1n : 1n;
  const common = gcd(num, den * sign) || 1n;
  return { num: (num * sign) / common, den: (den * sign) / common };
}

export const ZERO: Exact = { num: 0n, den: 1n };

export function add(a: Exact, b: Exact): Exact {
  return exact(a.num * b.den + b.num * a.den, a.den * b.den);
}

export function times(a: Exact, factor: bigint): Exact {
  return exact(a.num * factor, a.den);
}

export function compare(a: Exact, b: Exact): number {
  const d = a.num * b.den - b.num * a.den;
  return d < 0n ? -1 : d > 0n ? 1 : 0;
}

/** Largest whole number ≤ a/b, for positive b. */
export function floorDivide(a: Exact, b: Exact): bigint {
  const n = a.num * b.den;
  const d = a.den * b.num;
  const q = n / d;
  return n % d !== 0n && n < 0n ? q - 1n : q;
}

/** Smallest whole number ≥ a/b, for positive b. */
export function ceilDivide(a: Exact, b: Exact): bigint {
  return -floorDivide({ num: -a.num, den: a.den }, b);
}

const ONE: Exact = { num: 1n, den: 1n };

/** Whole micrometres, rounded up: for needs. */
export function needUm(a: Exact): number {
  return Number(ceilDivide(a, ONE));
}

/** Whole micrometres, rounded down: for supplies. */
export function supplyUm(a: Exact): number {
  return Number(floorDivide(a, ONE));
}

/** Nearest double, for trigonometry that is irrational anyway. */
export function toNumber(a: Exact): number {
  return Number(a.num) / Number(a.den);
}
