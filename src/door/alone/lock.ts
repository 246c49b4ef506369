/** One service for one folder: a second would start a second Redis on the same file. */
import { open, readFile, rm } from 'node:fs/promises';
import { PairstopError } from '../../errors.js';

function alive(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return error instanceof Error && Reflect.get(error, 'code') === 'EPERM';
  }
}

/** Call what is returned to let it go. Throws PS_FILE when another holds it. */
export async function lockFolder(path: string): Promise<() => Promise<void>> {
  for (let tries = 0; ; tries++) {
    try {
      const file = await open(path, 'wx');
      await file.writeFile(`${process.pid}\n`);
      await file.close();
      return () => rm(path, { force: true });
    } catch (error) {
      if (!(error instanceof Error) || Reflect.get(error, 'code') !== 'EEXIST' || tries > 0) throw error;
      const pid = Number((await readFile(path, 'utf8').catch(() => '')).trim());
      if (Number.isInteger(pid) && pid > 0 && pid !== process.pid && alive(pid)) {
        throw new PairstopError('PS_FILE', `this folder is in use by process ${pid}`);
      }
      await rm(path, { force: true });
    }
  }
}
