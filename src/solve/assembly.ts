/**
 * Small WebAssembly modules, put together instruction by instruction (WebAssembly Core Specification 2.0, chapter 5), so
 * that nothing needs building. Each holds one function over a memory of its own.
 */

export type Code = readonly (number | Code)[];

export const PAGE = 65_536;
/** Bytes. */
export const DOUBLE = 8;
/** Bytes of a vector of two doubles. */
export const VECTOR = 16;

export const [I32, I64, F64, V128] = [0x7f, 0x7e, 0x7c, 0x7b];
export const END = 0x0b;
export const I32_ADD = 0x6a;
export const I32_GREATER = 0x4b;
export const I32_AT_LEAST = 0x4f;
export const I32_BELOW = 0x49;
export const I32_EQUAL = 0x46;
export const I32_LESS = 0x6b;
export const I32_TIMES = 0x6c;
export const I32_AND = 0x71;
export const I32_SHIFT = 0x74;
export const I32_OF_I64 = 0xa7;
export const I64_EQUAL = 0x51;
export const I64_GREATER = 0x55;
export const I64_ADD = 0x7c;
export const I64_LESS = 0x7d;
export const I64_AND = 0x83;
export const I64_OR = 0x84;
export const I64_SHIFT = 0x86;
export const I64_SHIFT_BACK = 0x87;
export const I64_OF_F64 = 0xb0;
export const F64_OF_I64 = 0xb9;
/** The first of two values where the third is not 0. */
export const SELECT = 0x1b;
export const F64_ADD = 0xa0;
export const F64_TIMES = 0xa2;
export const F64_MAX = 0xa5;
export const SPLAT: Code = [0xfd, 0x14];
export const V_ADD: Code = [0xfd, 0xf0, 0x01];
export const V_SUBTRACT: Code = [0xfd, 0xf1, 0x01];
export const V_TIMES: Code = [0xfd, 0xf2, 0x01];
/** b where a < b, else a: one instruction of the processor, where NaN does not occur. */
export const V_MAX: Code = [0xfd, 0xf5, 0x01];
/** One of the two doubles of a vector. */
export const lane = (k: number): Code => [0xfd, 0x21, k];

export const get = (local: number): Code => [0x20, local];
export const set = (local: number): Code => [0x21, local];
export const keep = (local: number): Code => [0x22, local];
/** A small constant, below 64. */
export const constant = (value: number): Code => [0x41, value];
/** Any whole constant. */
export const whole = (value: number): Code => [0x41, signed(value)];
export const wide = (value: number): Code => [0x42, signed(value)];
export const when = (body: Code): Code => [0x04, 0x40, body, END];
export const repeat = (body: Code): Code => [0x02, 0x40, 0x03, 0x40, body, 0x0c, 0, END, END];
/** Out of `repeat`. */
export const leaveIf: Code = [0x0d, 1];
export const vector = (offset: number): Code => [0xfd, 0x00, 3, offset];
export const storeVector = (offset: number): Code => [0xfd, 0x0b, 3, offset];
export const double: Code = [0x2b, 3, 0];
export const storeDouble: Code = [0x39, 3, 0];
export const long: Code = [0x29, 3, 0];
export const storeLong: Code = [0x37, 3, 0];

function flat(code: Code): number[] {
  return code.flatMap((part) => (typeof part === 'number' ? [part] : flat(part)));
}

/** Unsigned LEB128. */
function size(value: number): number[] {
  return value < 128 ? [value] : [(value & 127) | 128, ...size(value >>> 7)];
}

/** Signed LEB128. */
function signed(value: number): number[] {
  return -64 <= value && value < 64 ? [value & 127] : [(value & 127) | 128, ...signed(value >> 7)];
}

function counted(body: Code): number[] {
  const bytes = flat(body);
  return [...size(bytes.length), ...bytes];
}

function name(text: string): number[] {
  return counted(Array.from(text, (letter) => letter.charCodeAt(0)));
}

/** A module of one function; null where there is no WebAssembly with vectors. `body` begins with its locals. */
export function assembled(
  takes: readonly number[],
  gives: readonly number[],
  body: Code,
): WebAssembly.Module | null {
  const signature: Code = [1, 0x60, takes.length, takes, gives.length, gives];
  const bytes = flat([
    [0x00, 0x61, 0x73, 0x6d, 1, 0, 0, 0],
    [1, counted(signature)],
    [2, counted([1, name('own'), name('memory'), 2, 0, 0])],
    [3, counted([1, 0])],
    [7, counted([1, name('run'), 0, 0])],
    [10, counted([1, counted(body)])],
  ]);
  try {
    return new WebAssembly.Module(Uint8Array.from(bytes));
  } catch {
    return null;
  }
}

/** The module's function over a memory of so many doubles; null where there is none to be had. */
export function overMemory(
  module: WebAssembly.Module | null,
  length: number,
): { readonly table: Float64Array; readonly run: unknown } | null {
  if (!module) return null;
  try {
    const initial = Math.ceil((length * DOUBLE) / PAGE);
    const memory = new WebAssembly.Memory({ initial, maximum: initial });
    const { exports } = new WebAssembly.Instance(module, { own: { memory } });
    return { table: new Float64Array(memory.buffer, 0, length), run: exports['run'] };
  } catch {
    return null;
  }
}
