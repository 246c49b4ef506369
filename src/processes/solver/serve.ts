/** The child's side of a solver process: takes one task after the other and answers on the pipe. */
import { PairstopError } from '../../errors.js';
import { sendFrame } from './frames.js';
import type { Improved, SolverReply, Task, TaskAnswer } from './tasks.js';
import { watchParent } from './watch.js';

export interface TaskNews {
  readonly improved: (improved: Improved) => void;
  /** The batch has been read, and so many rails of it are the task's: from here on its time counts. */
  readonly read: (rails: number) => void;
}

export type Perform = (task: Task, news: TaskNews) => TaskAnswer<Task>;

function send(reply: SolverReply): void {
  sendFrame(reply);
}

function failure(error: unknown): SolverReply {
  const rss = process.memoryUsage.rss();
  if (error instanceof PairstopError) {
    return { kind: 'failed', code: error.code, message: error.message, problems: error.problems, rss };
  }
  const message = error instanceof Error ? `${error.name}: ${error.message}` : 'a fault of an unknown kind';
  return { kind: 'failed', code: 'PS_INTERNAL', message: message.slice(0, 2_000), problems: [], rss };
}

/** The arguments of a solver process: its parent's id, and the most memory it may take in bytes. */
function settings(): { parent: number; rss: number } {
  const [parent, rss] = process.argv.slice(2, 4).map(Number);
  if (parent === undefined || rss === undefined || !(parent > 0) || !(rss > 0)) {
    throw new PairstopError('PS_USAGE', 'a solver process is started by pairstop itself');
  }
  return { parent, rss };
}

/** The process ends with its parent, or when its parent hangs up. */
export function serve(prepare: () => Perform): void {
  const { parent, rss } = settings();
  watchParent(parent, rss);
  // A key press or a service manager stops the whole group; the parent alone decides when its solvers end.
  for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) process.on(signal, () => {});
  process.on('disconnect', () => process.exit(0));
  const perform = prepare();
  const news: TaskNews = {
    improved: (improved) => send({ kind: 'improved', improved }),
    read: (rails) => send({ kind: 'read', rails }),
  };
  process.on('message', (task: Task) => {
    send({ kind: 'taken' });
    try {
      const answer = perform(task, news);
      send({ kind: 'done', answer, rss: process.memoryUsage.rss() });
    } catch (error) {
      send(failure(error));
    }
  });
  send({ kind: 'ready' });
}
