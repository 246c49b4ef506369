/** Tags tell rails apart: no two rails have the same one, and if one rail has a tag, all do. Older plans have none. */
import type { Context } from './context.js';

export function checkTags({ plan, findings }: Context): void {
  const seen = new Map<string, string>();
  let bare: string | null = null;
  plan.mouldings.forEach(({ sticks }, m) => {
    sticks.forEach(({ rails }, s) => {
      rails.forEach(({ tag, rail }, r) => {
        const path = `mouldings[${m}].sticks[${s}].rails[${r}].tag`;
        if (tag === undefined) {
          bare ??= path;
          return;
        }
        const first = seen.get(tag);
        if (first === undefined) seen.set(tag, rail);
        else findings.add('CHECK_TAG', path, `"${tag}"`, `a tag of its own; "${first}" has this one`);
      });
    });
  });
  if (bare !== null && seen.size > 0) findings.add('CHECK_TAG', bare, 'none', 'a tag, as other rails have');
}
