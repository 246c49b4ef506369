/**
 * Checks a document against a zod schema and keeps what is sound of it. `safeParse` on the whole gives nothing when
 * one field is wrong, and a million issues when a million are; here objects and lists are walked field by field, so
 * cross checks still see every sound field, and the walk ends when nobody would read on.
 */
import { z } from 'zod';
import type { Exact } from '../lengths/exact.js';
import type { Problems } from './problems.js';

type Leaf = Exact | string | number | boolean | null | undefined;

/** What was sound: undefined wherever a field was absent or refused. */
export type Found<T> = T extends Leaf
  ? T
  : T extends readonly [unknown, ...unknown[]]
    ? T
    : T extends readonly (infer E)[]
      ? readonly (Found<E> | undefined)[]
      : { readonly [K in keyof T]: Found<T[K]> | undefined };

/** How many items a list may hold, looked at before any of them. */
export const listBounds = z.registry<{ readonly min: number; readonly max: number }>();

/** A list of `min` to `max` items. */
export function list<S extends z.ZodType>(item: S, min: number, max: number, of: string): z.ZodArray<S> {
  const count = min === 0 ? `at most ${max}` : `${min} to ${max}`;
  return z
    .array(item)
    .min(min)
    .max(max)
    .describe(`a list of ${count} ${of}`)
    .register(listBounds, { min, max });
}

function allowedBy(schema: z.core.$ZodType, fallback: string): string {
  return z.globalRegistry.get(schema)?.description ?? fallback;
}

class Walk {
  readonly #problems: Problems;
  readonly #path: (string | number)[] = [];

  constructor(problems: Problems) {
    this.#problems = problems;
  }

  visit(schema: z.core.$ZodType, value: unknown): unknown {
    if (schema instanceof z.ZodOptional) {
      return value === undefined ? undefined : this.visit(schema.def.innerType, value);
    }
    if (schema instanceof z.ZodPrefault) {
      const { innerType, defaultValue } = schema.def;
      return this.visit(innerType, value === undefined ? defaultValue : value);
    }
    if (schema instanceof z.ZodObject) return this.#object(schema, value);
    if (schema instanceof z.ZodArray) return this.#list(schema, value);
    return this.#leaf(schema, value);
  }

  #step(key: string | number, schema: z.core.$ZodType, value: unknown): unknown {
    this.#path.push(key);
    const found = this.visit(schema, value);
    this.#path.pop();
    return found;
  }

  #object(schema: z.ZodObject, value: unknown): unknown {
    if (typeof value !== 'object' || value === null || Array.isArray(value)) {
      this.#problems.add(this.#path, allowedBy(schema, 'an object'));
      return undefined;
    }
    const shape = schema.shape;
    for (const key of Object.keys(value)) {
      if (Object.hasOwn(shape, key)) continue;
      this.#problems.add([...this.#path, key], `no such key; known here: ${Object.keys(shape).join(', ')}`);
      if (this.#problems.full) return undefined;
    }
    const found: Record<string, unknown> = {};
    for (const [key, field] of Object.entries(shape)) {
      const given: unknown = Object.hasOwn(value, key) ? Reflect.get(value, key) : undefined;
      const kept = this.#step(key, field, given);
      if (kept !== undefined) found[key] = kept;
    }
    return found;
  }

  #list(schema: z.ZodArray, value: unknown): unknown {
    const { min, max } = listBounds.get(schema) ?? { min: 0, max: 0 };
    if (!Array.isArray(value) || value.length < min || value.length > max) {
      this.#problems.add(this.#path, allowedBy(schema, 'a list'));
      return undefined;
    }
    const found: unknown[] = [];
    for (let i = 0; i < value.length && !this.#problems.full; i++) {
      found.push(this.#step(i, schema.element, value[i] as unknown));
    }
    return found;
  }

  #leaf(schema: z.core.$ZodType, value: unknown): unknown {
    const result = z.safeParse(schema, value);
    if (result.success) return result.data;
    this.#problems.add(this.#path, allowedBy(schema, result.error.issues[0]?.message ?? 'something else'));
    return undefined;
  }
}

export interface Walked<T> {
  readonly found: Found<T> | undefined;
  /** The whole document in its checked form; null when the walk met any problem. */
  readonly whole: T | null;
}

/** Adds to `problems` whatever `schema` does not allow in `value`. */
export function walk<S extends z.ZodType>(
  schema: S,
  value: unknown,
  problems: Problems,
): Walked<z.output<S>> {
  const before = problems.total;
  const found = new Walk(problems).visit(schema, value);
  // The walk follows the schema's own shape: with no problem met, what it kept is the schema's output.
  return {
    found: found as Found<z.output<S>> | undefined,
    whole: problems.total === before ? (found as z.output<S>) : null,
  };
}
