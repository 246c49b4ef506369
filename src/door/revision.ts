/** Which of the contents an id has stood for: the newest, or one by its number. */

/** One of the contents an id has stood for. */
export interface RevisionWanted {
  readonly id: string;
  /** Undefined: the newest. */
  readonly revision: number | undefined;
}

/** The number of `?revision=`. */
export function revisionIn({ revision }: { readonly revision?: string | undefined }): number | undefined {
  return revision === undefined ? undefined : Number(revision);
}

export function asRevision({ revision }: Pick<RevisionWanted, 'revision'>) {
  return revision === undefined ? {} : { revision };
}

/** Where recuts of a batch are made; with `recut`, where that one is kept; with `next`, where the next is made of it. */
export function recutsPath({ id, revision }: RevisionWanted, recut?: string, next = false): string {
  const path = `/v1/batches/${encodeURIComponent(id)}/recuts`;
  const kept = recut === undefined ? path : `${path}/${recut}${next ? '/recuts' : ''}`;
  return revision === undefined ? kept : `${kept}?revision=${revision}`;
}
