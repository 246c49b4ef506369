/** The kinds of documents. */

/** Documents that are read or written here: `pairstop/` and one of these, `@` and a number. */
export const KINDS = [
  'batch',
  'plan',
  'comparison',
  'saw',
  'recut',
  'rails',
  'answer',
  'rack',
  'hours',
  'quote',
] as const;
export type DocumentKind = (typeof KINDS)[number];

/** What the document says it is; null where it does not say. */
export function schemaOf(document: unknown): string | null {
  const schema: unknown =
    typeof document === 'object' && document !== null ? Reflect.get(document, 'schema') : undefined;
  return typeof schema === 'string' ? schema : null;
}
