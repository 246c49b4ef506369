/** Lines in which somebody tells what has been cut, lost or found at the saw, and where each stands. */
import { PairstopError } from '../errors.js';
import { show } from '../read/problems.js';

/** One line of a cut-so-far file. */
export interface Told {
  /** Where it stands in the file, for messages. */
  readonly path: string;
  readonly text: string;
}

const JSON_FORMS = 'a list of texts, each as a line of the plain form';

/** Texts that stand on a command line or in a request, under the name they have there. */
export function toldAs(path: string, texts: readonly string[]): readonly Told[] {
  return texts.map((text) => ({ path, text: text.trim() }));
}

/** A cut-so-far file: a JSON list of texts, or one text a line; `#` begins a comment. Throws PS_RECUT. */
export function readTold(text: string): readonly Told[] {
  if (text.trimStart().startsWith('[')) {
    let list: unknown;
    try {
      list = JSON.parse(text);
    } catch (error) {
      throw new PairstopError(
        'PS_JSON',
        `cut so far: ${error instanceof Error ? error.message : 'not JSON'}`,
      );
    }
    const all: readonly unknown[] = Array.isArray(list) ? list : [];
    return all.map((one, i) => {
      if (typeof one === 'string') return { path: `[${i}]`, text: one.trim() };
      throw new PairstopError('PS_RECUT', `cut so far: [${i}]: given ${show(one)}; allowed: ${JSON_FORMS}`);
    });
  }
  return text.split(/\r?\n/).flatMap((line, i) => {
    const content = line
      .replace(/^\uFEFF/, '')
      .replace(/(^|\s)#.*$/, '')
      .trim();
    return content === '' ? [] : [{ path: `line ${i + 1}`, text: content }];
  });
}
