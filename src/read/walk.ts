/**
 * Checks a document against a zod schema and keeps what is sound of it. `safeParse` on the whole gives nothing when
 * one field is wrong, and a million issues when a million are. Here objects and lists are walked field by field, so
 * cross checks still see every sound field, and the walk ends once enough problems are listed.
 */
import * as z from 'zod';
import type { Exact } from '../lengths/exact.js';
import { isLengthField, lengthHint, quickReaderOf } from './fields.js';
import { InputProblems } from './problems.js';

type SoundLeaf = Exact | string | number | boolean | null | undefined;

/** The sound part: undefined wherever a field was absent or refused. */
export type Sound<T> = T extends SoundLeaf
  ? T
  : T extends readonly [unknown, ...unknown[]]
    ? T
    : T extends readonly (infer E)[]
      ? readonly (Sound<E> | undefined)[]
      : { readonly [K in keyof T]: Sound<T[K]> | undefined };

/** How many items a list may hold; checked before any item is. */
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

/** A schema taken apart once, not again for each of a million values. */
type SchemaNode = {
  readonly allowed: string;
  /** The default for an absent value. */
  readonly fallback: unknown;
  /** What the default is read as, once that is known: most of a batch is what nobody wrote. */
  standard: { readonly value: unknown } | null;
  readonly optional: boolean;
} & (
  | { readonly kind: 'object'; readonly fields: ReadonlyMap<string, SchemaNode> }
  | { readonly kind: 'list'; readonly item: SchemaNode; readonly min: number; readonly max: number }
  | {
      readonly kind: 'leaf';
      readonly schema: z.core.$ZodType;
      /** Undefined for what only the schema can judge. */
      readonly quick: (given: unknown) => unknown;
    }
);

function takeApart(schema: z.core.$ZodType): SchemaNode {
  if (schema instanceof z.ZodOptional) return { ...takeApart(schema.def.innerType), optional: true };
  if (schema instanceof z.ZodPrefault) {
    return { ...takeApart(schema.def.innerType), fallback: schema.def.defaultValue };
  }
  const allowed = z.globalRegistry.get(schema)?.description ?? 'something else';
  const common = { allowed, fallback: undefined, standard: null, optional: false };
  if (schema instanceof z.ZodObject) {
    const fields = Object.entries(schema.shape).map(([key, field]): [string, SchemaNode] => [
      key,
      takeApart(field),
    ]);
    return { ...common, kind: 'object', fields: new Map(fields) };
  }
  if (schema instanceof z.ZodArray) {
    const { min, max } = listBounds.get(schema) ?? { min: 0, max: 0 };
    return { ...common, kind: 'list', item: takeApart(schema.element), min, max };
  }
  return { ...common, kind: 'leaf', schema, quick: quickReaderOf(schema) };
}

const parts = new WeakMap<z.core.$ZodType, SchemaNode>();

function nodeOf(schema: z.core.$ZodType): SchemaNode {
  const known = parts.get(schema);
  if (known !== undefined) return known;
  const node = takeApart(schema);
  parts.set(schema, node);
  return node;
}

/** Whatever is read of a default is shared by all documents. */
function frozen(value: unknown): unknown {
  if (typeof value !== 'object' || value === null || Object.isFrozen(value)) return value;
  for (const part of Object.values(value)) frozen(part);
  return Object.freeze(value);
}

/** Null: the default is none that the schema allows. */
function standardOf(node: SchemaNode): SchemaNode['standard'] {
  const problems = new InputProblems(node.fallback);
  const value = new Walk(problems).visit(node, node.fallback);
  return problems.total === 0 ? { value: frozen(value) } : null;
}

class Walk {
  readonly #problems: InputProblems;
  readonly #path: (string | number)[] = [];

  constructor(problems: InputProblems) {
    this.#problems = problems;
  }

  visit(node: SchemaNode, given: unknown): unknown {
    let value = given;
    if (value === undefined) {
      if (node.fallback === undefined) {
        if (node.optional) return undefined;
      } else {
        node.standard ??= standardOf(node);
        if (node.standard !== null) return node.standard.value;
        value = node.fallback;
      }
    }
    switch (node.kind) {
      case 'object':
        return this.#object(node.fields, node.allowed, value);
      case 'list':
        return this.#list(node, value);
      case 'leaf': {
        const quick = node.quick(value);
        if (quick !== undefined) return quick;
        const result = z.safeParse(node.schema, value);
        if (result.success) return result.data;
        return this.#refuse(isLengthField(node.schema) ? node.allowed + lengthHint(value) : node.allowed);
      }
      default:
        return node satisfies never;
    }
  }

  #refuse(allowed: string): undefined {
    this.#problems.add(this.#path, allowed);
  }

  #step(key: string | number, node: SchemaNode, value: unknown): unknown {
    this.#path.push(key);
    const found = this.visit(node, value);
    this.#path.pop();
    return found;
  }

  #object(fields: ReadonlyMap<string, SchemaNode>, allowed: string, value: unknown): unknown {
    if (typeof value !== 'object' || value === null || Array.isArray(value)) return this.#refuse(allowed);
    for (const key of Object.keys(value)) {
      if (fields.has(key)) continue;
      this.#problems.add([...this.#path, key], `no such key; known here: ${[...fields.keys()].join(', ')}`);
      if (this.#problems.full) return undefined;
    }
    const found: Record<string, unknown> = {};
    for (const [key, field] of fields) {
      const given: unknown = Object.hasOwn(value, key) ? Reflect.get(value, key) : undefined;
      const kept = this.#step(key, field, given);
      if (kept !== undefined) found[key] = kept;
    }
    return found;
  }

  #list(node: SchemaNode & { kind: 'list' }, value: unknown): unknown {
    if (!Array.isArray(value) || value.length < node.min || value.length > node.max)
      return this.#refuse(node.allowed);
    const found: unknown[] = [];
    for (let i = 0; i < value.length && !this.#problems.full; i++) {
      found.push(this.#step(i, node.item, value[i] as unknown));
    }
    return found;
  }
}

export interface Walked<T> {
  readonly found: Sound<T> | undefined;
  /** The whole document in its checked form; null when the walk met any problem. */
  readonly whole: T | null;
}

/** Adds to `problems` whatever `schema` does not allow in `value`. */
export function walk<S extends z.ZodType>(
  schema: S,
  value: unknown,
  problems: InputProblems,
): Walked<z.output<S>> {
  const before = problems.total;
  const found = new Walk(problems).visit(nodeOf(schema), value);
  // The walk follows the schema's own shape: with no problem met, what it kept is the schema's output.
  return {
    found: found as Sound<z.output<S>> | undefined,
    whole: problems.total === before ? (found as z.output<S>) : null,
  };
}
